"""Reads a certificate and says of each of three things whether it holds.

1. The model follows from the claim: each constraint in `model.json.gz` is one that this program works out itself.
2. The proof follows from the model: each step of `proof.json.gz`, for every choice of rings.
3. The best train that the claim names has exactly the error that the claim excludes from below, so that nothing is left
   between them; unless the claim says that places or other rules decide there.
"""

from __future__ import annotations

import gzip
import json
from collections.abc import Callable, Iterator
from itertools import count
from math import isqrt
from pathlib import Path
from typing import Any, NamedTuple

from .claim import Case, DoesNotHold, TeethClaim, Unreadable, need
from .model import CaseModel, Constraint
from .proof import Proof

MOST_CLAIM, MOST_LINE = 1 << 24, 1 << 18
CLAIM, MODEL, PROOF = "claim.json", "model.json.gz", "proof.json.gz"


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
    except Exception as fault:  # noqa: BLE001 - whatever goes wrong in reading what anybody wrote: it does not hold
        raise Unreadable(f"{where[0]}: {type(fault).__name__}: {str(fault)[:200]}") from None


def _checked(folder: Path, tell: Callable[[int, int], None], where: list[str]) -> CheckedCertificate:
    with (folder / CLAIM).open("rb") as file:
        text = file.read(MOST_CLAIM + 1)
    need(len(text) <= MOST_CLAIM, f"longer than {MOST_CLAIM} bytes", Unreadable)
    data = json.loads(text)
    claim = TeethClaim(data)
    choices = claim.cases()
    best, steps = _best(claim, choices), 0
    cases = choices if claim.square > 1 or not claim.strict else []  # there is nothing to prove: no error is below 0
    models, proofs = _lines(folder, MODEL, where), _lines(folder, PROOF, where)
    need(all(number < len(cases) for number, _, _ in claim.told), "an exception of a choice of rings that there is not")
    for number, case in enumerate(cases):
        tell(number, len(cases))
        where[0] = f"{CLAIM}, choice of rings {number}"
        model = CaseModel(claim, case)
        for _, trains, better in (one for one in claim.told if one[0] == number):
            model.forbid(trains, better)
        proof, ended = Proof(model.bounds, _stated(model, _section(models, number))), False
        for line in _section(proofs, number):
            need(not ended, "goes on after its end")
            ended, steps = proof.step(line), steps + 1
        need(ended, "the proof is not brought to its end")
    need(not next(models, None) and not next(proofs, None), "goes on after the last choice of rings")
    # The greatest whole number of billionths of a percent that E is not below.
    error = isqrt(10**22 * claim.square.numerator // claim.square.denominator) - 10**11
    said = f"{'below' if claim.strict else 'of at most'} E = {error // 10**9}.{error % 10**9:09} %"
    but = f", but for {len(data['better'])} that the claim lists" if data["better"] else ""
    return CheckedCertificate(data, f"no train has a worst error {said}{but}", len(cases), steps, best)


def _lines(folder: Path, name: str, where: list[str]) -> Iterator[str]:
    """The lines of a packed file; where: set to the line that is being read."""
    where[0] = name
    with gzip.open(folder / name, "rt", encoding="ascii", newline="\n") as file:
        for number in count(1):
            where[0] = f"{name}, line {number}"
            line = file.readline(MOST_LINE)
            need(len(line) < MOST_LINE, f"longer than {MOST_LINE} characters", Unreadable)
            if not line:
                return
            yield line


def _section(lines: Iterator[str], number: int) -> Iterator[str]:
    """The lines of a case: after `case NUMBER`, until a line `end`."""
    need(next(lines, "").split() == ["case", str(number)], f"case {number} is missing")
    for line in lines:
        if line.strip() == "end":
            return
        yield line
    raise DoesNotHold(f"ends within case {number}")


def _stated(model: CaseModel, lines: Iterator[str]) -> dict[int, Constraint]:
    """The constraints that the proof rests on, by tag, each of which has to be one of the model's."""
    justified, found = {json.dumps(one) for one in model.constraints}, dict[int, Constraint]()
    for line in lines:
        tag, *constraint = json.loads(line)
        need(type(tag) is int and tag not in found, f"tag {str(tag)[:20]} is none, or there twice")
        need(json.dumps(constraint) in justified, f"does not follow from the claim: {line.strip()[:200]}")
        found[tag] = constraint[0], constraint[1], constraint[2]
    return found


def _best(claim: TeethClaim, choices: list[Case]) -> str:
    """What is told of the claim's best train. Raises DoesNotHold."""
    if not claim.best:
        return "the claim names no train"
    rings, trains = claim.best
    found = {case.rings: case for case in choices}
    need(rings in found, "the best train is none of those that the claim is about")
    case = found[rings]
    claim.check_train(case, trains)
    ratios = [ratio for ratio, _ in trains.links]
    need(not claim.within(case, trains.seats, ratios, True), "the best train is better than the claim says")
    if claim.within(case, trains.seats, ratios, False):
        return "the best train has exactly the error E"
    need(claim.narrowed, "the best train has a larger error than the claim excludes")
    return "the best train has a larger error: of what lies between, teeth alone do not decide"
