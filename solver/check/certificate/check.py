"""Reads a certificate and says of each of three things whether it holds.

1. The model follows from the claim: each constraint in `model.json.gz` is one that this program works out itself.
2. The proof follows from the model: each step of `proof.json.gz`, for every choice of rings.
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

from .claim import DoesNotHold, TeethClaim, Unreadable
from .model import CaseModel, Constraint
from .proof import Proof

MOST_CLAIM, MOST_LINE = 1 << 24, 1 << 18
CLAIM, MODEL, PROOF = "claim.json", "model.json.gz", "proof.json.gz"
# What reading what was written by anybody can come to; none of it says that a certificate holds.
FAULTS = (
    OSError,
    EOFError,
    zlib.error,
    ArithmeticError,
    AttributeError,
    LookupError,
    RecursionError,
    TypeError,
    ValueError,
)


class CheckedCertificate(NamedTuple):
    """What was checked. claim: its plain data; said: what is proven, from its numbers; cases: choices of rings; lines:
    of the proofs; best: what the best train comes to."""

    claim: dict[str, Any]
    said: str
    cases: int
    lines: int
    best: str


def check_certificate(folder: Path, tell: Callable[[int, int], None] = lambda done, cases: None) -> CheckedCertificate:
    """Check a certificate. tell: called with the cases done and all of them. Raises DoesNotHold and Unreadable, both of
    which tell the line and the step."""
    where = [CLAIM]
    try:
        return _checked(folder, tell, where)
    except (DoesNotHold, Unreadable) as fault:
        raise type(fault)(f"{where[0]}: {fault}") from None
    except FAULTS as fault:
        raise Unreadable(f"{where[0]}: {type(fault).__name__}: {str(fault)[:200]}") from None


def _checked(folder: Path, tell: Callable[[int, int], None], where: list[str]) -> CheckedCertificate:
    with (folder / CLAIM).open("rb") as file:
        text = file.read(MOST_CLAIM + 1)
    if len(text) > MOST_CLAIM:
        raise Unreadable(f"longer than {MOST_CLAIM} bytes")
    data = json.loads(text)
    claim = TeethClaim(data)
    cases, best, count = claim.cases(), _best(claim), 0
    models, proofs = _lines(folder, MODEL, where), _lines(folder, PROOF, where)
    if any(number >= len(cases) for name in claim.told for number, _ in claim.told[name]):
        raise DoesNotHold("an exception of a choice of rings that there is not")
    for number, case in enumerate(cases):
        tell(number, len(cases))
        where[0] = f"{CLAIM}, choice of rings {number}"
        model = CaseModel(claim, case)
        for name in claim.told:
            for trains in (trains for at, trains in claim.told[name] if at == number):
                model.forbid(trains, name == "better")
        proof, ended = Proof(model.bounds, _stated(model, _section(models, number))), False
        for line in _section(proofs, number):
            if ended:
                raise DoesNotHold("goes on after its end")
            ended, count = proof.step(line), count + 1
        if not ended:
            raise DoesNotHold("the proof is not brought to its end")
    if next(models, None) or next(proofs, None):
        raise DoesNotHold("goes on after the last choice of rings")
    # The greatest whole number of billionths of a percent that E is not below.
    error = isqrt(10**22 * claim.square.numerator // claim.square.denominator) - 10**11
    said = f"{'below' if claim.strict else 'of at most'} E = {error // 10**9}.{error % 10**9:09} %"
    better = f", but for {len(claim.told['better'])} that the claim lists" if claim.told["better"] else ""
    return CheckedCertificate(data, f"no train has a worst error {said}{better}", len(cases), count, best)


def _lines(folder: Path, name: str, where: list[str]) -> Iterator[str]:
    """The lines of a packed file; where: set to the line that is being read."""
    where[0] = name
    with gzip.open(folder / name, "rt", encoding="ascii", newline="\n") as file:
        number = 0
        while line := file.readline(MOST_LINE):
            number += 1
            where[0] = f"{name}, line {number}"
            if len(line) >= MOST_LINE:
                raise Unreadable(f"longer than {MOST_LINE} characters")
            yield line
    where[0] = f"{name}, after line {number}"


def _section(lines: Iterator[str], number: int) -> Iterator[str]:
    """The lines of a case: after `case NUMBER`, until a line `end`."""
    if next(lines, "").split() != ["case", str(number)]:
        raise DoesNotHold(f"case {number} is missing")
    for line in lines:
        if line.strip() == "end":
            return
        yield line
    raise DoesNotHold(f"ends within case {number}")


def _stated(model: CaseModel, lines: Iterator[str]) -> dict[int, Constraint]:
    """The constraints that the proof rests on, by tag, each of which has to be one of the model's."""
    justified, found = {json.dumps(one) for one in model.constraints}, dict[int, Constraint]()
    for line in lines:
        tag, kind, terms, total = json.loads(line)
        if type(tag) is not int or tag <= 0 or tag in found:
            raise DoesNotHold(f"tag {str(tag)[:20]} is none, or there twice")
        if json.dumps([kind, terms, total]) not in justified:
            raise DoesNotHold(f"does not follow from the claim: {line.strip()[:200]}")
        found[tag] = kind, terms, total
    return found


def _best(claim: TeethClaim) -> str:
    """What is told of the claim's best train. Raises DoesNotHold."""
    if claim.best is None:
        return "the claim names no train"
    rings, trains = claim.best
    case = next((case for case in claim.all_cases() if case.rings == rings), None)
    if case is None:
        raise DoesNotHold("the best train is none of those that the claim is about")
    claim.check_train(case, trains)
    ratios = [ratio for ratio, _ in trains.links]
    if claim.within(case, trains.seats, ratios, True):
        raise DoesNotHold("the best train is better than the claim says")
    if claim.within(case, trains.seats, ratios, False):
        return "the best train has exactly the error E"
    if claim.narrowed:
        return "the best train has a larger error: of what lies between, teeth alone do not decide"
    raise DoesNotHold("the best train has a larger error than the claim excludes")
