"""Reads a certificate and says of each of three things whether it holds.

1. The model follows from the claim: each constraint in `model.json.gz` is one that this program works out itself.
2. The proof follows from the model: each step of `proof.drcp.gz`, for every choice of rings.
3. The best train that the claim names has exactly the error that the claim excludes from below, so that nothing is left
   between them; unless the claim says that places or other rules decide there.
"""

from __future__ import annotations

import gzip
import json
import zlib
from collections.abc import Callable, Iterator
from math import isqrt
from pathlib import Path
from typing import Any, NamedTuple

from .claim import Claim, Unreadable, Unsound
from .model import Constraint, Model
from .proof import Proof

MOST_CLAIM, MOST_LINE = 1 << 24, 1 << 18
CLAIM, MODEL, PROOF = "claim.json", "model.json.gz", "proof.drcp.gz"

Lines = Iterator[tuple[int, str]]


class Checked(NamedTuple):
    """What was checked. claim: its plain data; said: what is proven, from its numbers; cases: choices of rings; lines:
    of the proofs; best: what the best train comes to."""

    claim: dict[str, Any]
    said: str
    cases: int
    lines: int
    best: str


def check_certificate(folder: Path, tell: Callable[[int, int], None] = lambda done, cases: None) -> Checked:
    """Check a certificate. tell: called with the cases done and all of them. Raises Unsound, which names the step and
    the line, and Unreadable."""
    data = read_claim(folder)
    claim = Claim(data)
    cases, models, proofs, steps = claim.cases(), _lines(folder, MODEL), _lines(folder, PROOF), 0
    if any(number >= len(cases) for name in claim.told for number, _ in claim.told[name]):
        raise Unsound(f"{CLAIM}: an exception of a choice of rings that there is not")
    for number, case in enumerate(cases):
        tell(number, len(cases))
        model = Model(claim, case)
        for name in claim.told:
            for trains in (trains for at, trains in claim.told[name] if at == number):
                model.forbid(trains, name == "better")
        proof = Proof(model.bounds, _stated(model, _section(models, MODEL, number)))
        steps += _proven(proof, _section(proofs, PROOF, number))
    for name, lines in ((MODEL, models), (PROOF, proofs)):
        for at, _ in lines:
            raise Unsound(f"{name}, line {at}: goes on after the last choice of rings")
    # The greatest whole number of billionths of a percent that E is not below.
    error = isqrt(10**22 * claim.square.numerator // claim.square.denominator) - 10**11
    said = f"{'below' if claim.strict else 'of at most'} E = {error // 10**9}.{error % 10**9:09} %"
    better = f", but for {len(claim.told['better'])} that the claim lists" if claim.told["better"] else ""
    return Checked(data, f"no train has a worst error {said}{better}", len(cases), steps, _best(claim))


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


def _lines(folder: Path, name: str) -> Lines:
    """The lines of a packed file with their numbers. Raises Unreadable."""
    number = 0
    try:
        with gzip.open(folder / name, "rt", encoding="ascii", newline="\n") as file:
            while line := file.readline(MOST_LINE):
                number += 1
                if len(line) >= MOST_LINE:
                    raise Unreadable(f"{name}, line {number}: longer than {MOST_LINE} characters")
                yield number, line
    except (OSError, EOFError, zlib.error, UnicodeDecodeError) as fault:
        raise Unreadable(f"{folder / name}, after line {number}: {str(fault)[:200]}") from None


def _section(lines: Lines, name: str, number: int) -> Lines:
    """The lines of a case: after `case NUMBER`, until a line `end`."""
    at, line = next(lines, (0, ""))
    if line.split() != ["case", str(number)]:
        raise Unsound(f"{name}, line {at}: case {number} is missing")
    for at, line in lines:
        if line.strip() == "end":
            return
        yield at, line
    raise Unsound(f"{name}, line {at}: ends within case {number}")


def _stated(model: Model, lines: Lines) -> dict[int, Constraint]:
    """The constraints that the proof rests on, by tag, each of which has to be one of the model's."""
    justified, found = {json.dumps(one) for one in model.constraints}, dict[int, Constraint]()
    for at, line in lines:
        try:
            tag, kind, terms, total = json.loads(line)
        except (ValueError, RecursionError, TypeError):
            raise Unreadable(f"{MODEL}, line {at}: no constraint") from None
        if type(tag) is not int or tag <= 0 or tag in found:
            raise Unsound(f"{MODEL}, line {at}: tag {str(tag)[:20]} is none, or there twice")
        if json.dumps([kind, terms, total]) not in justified:
            raise Unsound(f"{MODEL}, line {at}: does not follow from the claim: {line.strip()[:200]}")
        found[tag] = kind, terms, total
    return found


def _proven(proof: Proof, lines: Lines) -> int:
    """Check the proof of a case; how many lines it has."""
    count, ended, at = 0, False, 0
    for at, line in lines:
        try:
            ended = proof.step(line) if not ended else proof.fail("goes on after its end")
        except (Unsound, Unreadable) as fault:
            raise type(fault)(f"{PROOF}, line {at}: {fault}") from None
        count += 1
    if not ended:
        raise Unsound(f"{PROOF}, line {at}: is not brought to its end")
    return count


def _best(claim: Claim) -> str:
    """What is told of the claim's best train. Raises Unsound."""
    if claim.best is None:
        return "the claim names no train"
    rings, trains = claim.best
    case = next((case for case in claim.all_cases() if case.rings == rings), None)
    if case is None:
        raise Unsound(f"{CLAIM}: the best train is none of those that the claim is about")
    claim.check_train(case, trains)
    ratios = [ratio for ratio, _ in trains.links]
    if claim.within(case, trains.seats, ratios, True):
        raise Unsound(f"{CLAIM}: the best train is better than the claim says")
    if claim.within(case, trains.seats, ratios, False):
        return "the best train has exactly the error E"
    if claim.narrowed:
        return "the best train has a larger error: of what lies between, teeth alone do not decide"
    raise Unsound(f"{CLAIM}: the best train has a larger error than the claim excludes")
