"""Writes the certificate of an answer: the claim, the model that follows from it, and the proof of each case."""

from __future__ import annotations

import gzip
import json
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from fractions import Fraction
from io import TextIOWrapper
from itertools import accumulate, chain
from operator import mul
from pathlib import Path
from typing import Any, TextIO

from solver.answer.certificate.claims import SCALE, claim_of, readme, trains_told, worded
from solver.answer.certificate.files import FILES, README
from solver.answer.certificate.solving import Posted, solving
from solver.answer.certificate.trimming import Trimmed
from solver.check.certificate.check import CLAIM, MODEL, PROOF
from solver.check.certificate.claim import Case, TeethClaim, Trains, Unreadable
from solver.check.certificate.model import CaseModel
from solver.design.design import Design
from solver.design.kinematics import error_square, pairs
from solver.design.train import Train

MOST_BETTER, MOST_EXCEPTIONS = 50, 5000
MOST_BOUND = 1 << 30  # the solver's numbers have 32 bits


class NotCovered(ValueError):
    """There is no certificate of such a design or answer; the message says why."""


@dataclass(frozen=True)
class WrittenCertificate:
    """A certificate. text: its claim; cases: choices of rings; size: of all its files [bytes]."""

    claim: dict[str, Any]
    cases: int
    size: int


class _Better(Exception):
    """So many trains are better by their teeth that the claim has to be a smaller one. square: of the best of them."""

    def __init__(self, square: Fraction) -> None:
        super().__init__()
        self.square = square


def write_certificate(
    folder: Path,
    design: Design,
    best: tuple[Train, Fraction] | None,
    seconds: float,
    tell: Callable[[int, int], None] = lambda done, cases: None,
    scale: int = SCALE,
) -> WrittenCertificate:
    """Write the certificate that no train is better than the best one, or that there is none, into a new folder.

    best: the train and its (1 + error)**2. seconds: how long the solver may take for each choice of rings. tell: called
    with the choices done and all of them. Raises NoProvingSolver, NotCovered, TooLong and OSError.
    """
    solving()
    if design.reference == "first" and design.bodies[0].low < design.bodies[0].high:
        raise NotCovered("no certificate: the reference body has a range of periods")
    folder.mkdir(parents=True, exist_ok=True)
    train, square, strict = (*best, True) if best else (None, (1 + design.limits.max_error) ** 2, False)
    while True:
        data = claim_of(design, train, square, strict, scale)
        data["best_is_worse"] = square < (best[1] if best else (1 + design.limits.max_error) ** 2)
        try:
            return _Writer(folder, design, data, seconds, tell).write()
        except _Better as better:
            square, strict = better.square, True


class _Writer:
    """Writes the files of one claim. better, exceptions: trains found so far that the solver cannot exclude."""

    def __init__(
        self, folder: Path, design: Design, data: dict[str, Any], seconds: float, tell: Callable[[int, int], None]
    ) -> None:
        self.folder, self.data, self.seconds, self.tell = folder, data, seconds, tell
        self.claim, self.pairs = TeethClaim(data), pairs(design)
        self.squares: list[Fraction] = []

    def write(self) -> WrittenCertificate:
        try:
            # There is nothing to prove where E is 0: no error is below it.
            cases = self.claim.cases() if self.claim.square > 1 or not self.claim.strict else []
        except Unreadable as fault:
            raise NotCovered(f"no certificate: {fault}") from None
        with (
            _written(self.folder / MODEL) as model_file,
            _written(self.folder / PROOF) as proof_file,
            tempfile.TemporaryDirectory() as scratch,
        ):
            for number, case in enumerate(cases):
                self.tell(number, len(cases))
                constraints, steps = self._case(number, case, Path(scratch) / "proof.drcp")
                for file, lines in ((model_file, constraints), (proof_file, steps)):
                    file.write("".join(f"{line}\n" for line in [f"case {number}", *lines, "end"]))
        worded(self.data, len(cases))
        (self.folder / CLAIM).write_text(json.dumps(self.data, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
        (self.folder / README).write_text(readme(self.data), encoding="utf-8")
        size = sum((self.folder / name).stat().st_size for name in FILES)
        return WrittenCertificate(self.data, len(cases), size)

    def _case(self, number: int, case: Case, path: Path) -> tuple[list[str], list[str]]:
        """The lines of a case's model and proof, once all trains are told that keep the model."""
        model = CaseModel(self.claim, case)
        if max(map(abs, chain(*model.bounds.values()))) >= MOST_BOUND:
            raise NotCovered("no certificate: logarithms do not fit into the solver's numbers")
        posted = Posted(model, path)
        while (found := posted.solve(self.seconds)) is not None:
            model.forbid(found, self._except(number, found, case))
            posted = Posted(model, path)
        proof = Trimmed(path, model.bounds, posted.tags)
        stated = [json.dumps([tag, *posted.tags[tag]]) for tag in sorted(proof.tags)]
        return stated, proof.lines

    def _except(self, number: int, one: Trains, case: Case) -> bool:
        """Tell trains in the claim; whether they are better. Raises _Better and NotCovered."""
        ratios = [ratio for ratio, _ in one.links]
        better = self.claim.within(case, one.seats, ratios, self.claim.strict)
        self.data["better" if better else "exceptions"].append(trains_told(number, one))
        if better:
            gears = accumulate([Fraction(1), *ratios], mul)
            periods = tuple(gear * z / case.rings[0] for gear, z in zip(gears, case.rings, strict=True))
            square = error_square(self.pairs, periods, one.seats)
            assert square is not None
            self.squares.append(square)
        if len(self.squares) > MOST_BETTER:
            raise _Better(min(self.squares))
        if len(self.data["exceptions"]) > MOST_EXCEPTIONS:
            raise NotCovered(f"no certificate: more than {MOST_EXCEPTIONS} trains lie within the rounding")
        return better


@contextmanager
def _written(path: Path) -> Iterator[TextIO]:
    """A packed text file whose bytes do not tell when it was written."""
    with (
        path.open("wb") as raw,
        gzip.GzipFile("", "wb", fileobj=raw, mtime=0) as packed,
        TextIOWrapper(packed, encoding="ascii", newline="\n") as file,
    ):
        yield file
