"""Reads a certificate and says of each of three things whether it holds.

1. The model follows from the claim: each constraint in `model.json` is one that this program works out itself.
2. The proof follows from the model: each step of `proof.drcp.gz`, for every choice of rings.
3. The best train that the claim names has exactly the error that the claim excludes from below, so that nothing is left
   between them.
"""

from __future__ import annotations

import gzip
import json
import zlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from io import TextIOWrapper
from pathlib import Path
from typing import Any, TextIO

from .claim import Case, Claim, Trains, Unreadable, Unsound
from .model import Constraint, Model
from .proof import Proof

MOST_CLAIM, MOST_LINE = 1 << 24, 1 << 18
CLAIM, MODEL, PROOF = "claim.json", "model.json.gz", "proof.drcp.gz"


@dataclass(frozen=True)
class Checked:
    """What was checked. cases: choices of rings; steps: of the proofs; told: what the best train comes to."""

    claim: dict[str, Any]
    cases: int
    steps: int
    told: str


def check_certificate(folder: Path, tell: Callable[[int, int], None] = lambda done, cases: None) -> Checked:
    """Check a certificate. tell: called with the cases done and all of them. Raises Unsound, which names the step and
    the line, and Unreadable."""
    data = read_claim(folder)
    claim = Claim(data)
    cases = list(claim.cases()) if claim.square > 1 or not claim.strict else []  # no error is below zero
    exceptions: dict[int, list[Trains]] = {}
    for one in [*claim.exceptions, *claim.better]:
        if one.case >= len(cases):
            raise Unsound(f"claim.json: an exception of case {one.case}, and there are {len(cases)}")
        exceptions.setdefault(one.case, []).append(one)
    steps = 0
    try:
        with _opened(folder / MODEL) as model_file, _opened(folder / PROOF) as proof_file:
            model_lines, proof_lines = _Lines(model_file, MODEL), _Lines(proof_file, PROOF)
            for number, case in enumerate(cases):
                tell(number, len(cases))
                try:
                    model = Model(claim, case, exceptions.get(number, []))
                except Unsound as fault:
                    raise Unsound(f"{CLAIM}: {fault}") from None
                proof = Proof(model.bounds, _stated(model, number, model_lines))
                steps += _proven(proof, number, proof_lines)
            for rest in (model_lines, proof_lines):
                if rest.next() is not None:
                    raise Unsound(f"{rest.what}, line {rest.number}: goes on after the last case")
    except (OSError, EOFError, zlib.error, UnicodeDecodeError) as fault:
        raise Unreadable(f"{folder}: {str(fault)[:200]}") from None
    return Checked(data, len(cases), steps, _best(claim, cases))


def read_claim(folder: Path) -> dict[str, Any]:
    """The claim as plain data. Raises Unreadable."""
    try:
        with (folder / CLAIM).open("rb") as file:
            text = file.read(MOST_CLAIM + 1)
        data = json.loads(text) if len(text) <= MOST_CLAIM else None
    except (OSError, ValueError, RecursionError) as fault:
        raise Unreadable(f"{folder / CLAIM}: {str(fault)[:200]}") from None
    if not isinstance(data, dict):
        raise Unreadable(f"{folder / CLAIM}: no claim, or longer than {MOST_CLAIM} bytes")
    return data


def _opened(path: Path) -> TextIO:
    return TextIOWrapper(gzip.open(path), encoding="ascii", newline="\n")


class _Lines:
    """The lines of a file, one after the other; what: its name."""

    def __init__(self, file: TextIO, what: str) -> None:
        self.file, self.what, self.number = file, what, 0

    def next(self) -> str | None:
        line = self.file.readline(MOST_LINE)
        self.number += 1
        if len(line) >= MOST_LINE:
            raise Unreadable(f"{self.what}, line {self.number}: longer than {MOST_LINE} characters")
        return line or None

    def of_case(self, number: int) -> Iterator[str]:
        """The lines of a case: after `case NUMBER`, until a line `end`."""
        if self.next_word() != ["case", str(number)]:
            raise Unsound(f"{self.what}, line {self.number}: case {number} is missing")
        while (line := self.next()) is not None and line.strip() != "end":
            yield line
        if line is None:
            raise Unsound(f"{self.what}, line {self.number}: ends within case {number}")

    def next_word(self) -> list[str]:
        return (self.next() or "").split()


def _stated(model: Model, number: int, lines: _Lines) -> dict[int, Constraint]:
    """The constraints that the proof rests on, by tag, each of which has to be one of the model's."""
    justified = {json.dumps(one) for one in model.constraints}
    found: dict[int, Constraint] = {}
    for line in lines.of_case(number):
        try:
            tag, *constraint = json.loads(line)
            kind, terms, total = constraint
        except (ValueError, RecursionError, TypeError):
            raise Unreadable(f"{MODEL}, line {lines.number}: no constraint") from None
        if type(tag) is not int or tag <= 0 or tag in found:
            raise Unsound(f"{MODEL}, line {lines.number}: tag {str(tag)[:20]} is none, or there twice")
        if json.dumps(constraint) not in justified:
            raise Unsound(f"{MODEL}, line {lines.number}: does not follow from the claim: {line.strip()[:200]}")
        found[tag] = kind, terms, total
    return found


def _proven(proof: Proof, number: int, lines: _Lines) -> int:
    """Check the proof of a case; how many steps it has."""
    steps, ended = 0, False
    for line in lines.of_case(number):
        try:
            if ended:
                raise Unsound("goes on after its end")
            ended = proof.step(line)
        except (Unsound, Unreadable) as fault:
            raise type(fault)(f"{PROOF}, line {lines.number}: {fault}") from None
        steps += 1
    if not ended:
        raise Unsound(f"{PROOF}, line {lines.number}: case {number} is not brought to its end")
    return steps


def _best(claim: Claim, cases: list[Case]) -> str:
    """What is told of the claim's best train. Raises Unsound."""
    if claim.best is None:
        return "the claim names no train"
    rings, seats, ratios, turned, thirds = *claim.best[:2], list[Fraction](), [0], 0
    try:
        for wheel, pinion, on_link in claim.best[2]:
            ratios.append(Fraction(wheel, pinion))
            thirds += on_link
            turned.append(turned[-1] ^ (on_link & 1))
    except (TypeError, ValueError, ZeroDivisionError):
        raise Unreadable(f"{CLAIM}: the best train cannot be read") from None
    case = next((case for case in claim.cases() if case.rings == rings and thirds <= case.thirds), None)
    if case is None or seats not in claim.seats(len(rings)) or len(ratios) != len(rings) - 1:
        raise Unsound(f"{CLAIM}: the best train is none of those that the claim is about")
    for i, (ratio, (_, _, on_link)) in enumerate(zip(ratios, claim.best[2], strict=True)):
        options = claim.options(rings[i + 1] - rings[i], case.thirds)
        if on_link >= len(options) or ratio not in options[on_link]:
            raise Unsound(f"{CLAIM}: link {i} of the best train is none that there may be")
    for seat, sense in zip(seats, claim.senses, strict=True):
        if sense != "either" and (sense == "reverse") != bool(turned[seat]):
            raise Unsound(f"{CLAIM}: a body of the best train turns the wrong way")
    if claim.within(rings, seats, ratios, True):
        raise Unsound(f"{CLAIM}: the best train is better than the claim says")
    if claim.within(rings, seats, ratios, False):
        return "the best train has exactly the error of the claim"
    if claim.best_is_worse:
        return "the best train has a larger error than the claim excludes: places or other rules decide between them"
    raise Unsound(f"{CLAIM}: the best train has a larger error than the claim excludes")
