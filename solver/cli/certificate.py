"""The commands `prove --certificate` and `check`: a certificate is written, and a certificate is checked."""

from __future__ import annotations

import json
import math
import os
import shutil
import sys
from collections.abc import Callable, Sequence
from fractions import Fraction
from pathlib import Path

from solver.answer.certificate.claims import best_of, claim_of, worded
from solver.answer.certificate.solving import NoProvingSolver, TooLong
from solver.answer.certificate.writing import NotCovered, WrittenCertificate, write_certificate
from solver.batch.store.certificates import certificate_folder
from solver.batch.store.files import whole_folder
from solver.batch.store.output import refuse_in_stored, refuse_no_folder, refuse_unwritable
from solver.check.certificate.check import CLAIM, CheckedCertificate, check_certificate
from solver.check.certificate.claim import DoesNotHold, Unreadable
from solver.cli import line, signals
from solver.cli.exits import EXIT_FAULT, EXIT_INPUT, EXIT_LIMIT, EXIT_OK, Usage
from solver.cli.line import words_line
from solver.cli.source import Source, one_source
from solver.design.errors import so_many
from solver.files.load import parse_design
from solver.files.text import read_text
from solver.words.shown import pasted

NOT_COMPARED = ("claim", "rests_on", "exceptions", "better", "best", "best_is_worse", "square", "strict", "scale")
_INTERRUPTED = "interrupted: no certificate was written"


def run_certificate(
    source: Path, point: Sequence[str], folder: Path | None, keep: bool, seconds: float, as_json: bool = False
) -> int:
    """Write the certificate of an answer into a folder that is not there yet; the exit code. keep: with the stored run
    or point, in place of one that is there. Raises Usage, StoreError, DesignError and OSError."""
    if keep and folder is not None:
        raise Usage("--certify, --certificate: choose one")
    if keep and not source.is_dir():
        raise Usage(f"--certify: keeps it with a stored run, and {source} is none; use --certificate FOLDER")
    if folder is not None:
        _refuse_folder(folder)
    answer = one_source(source, point, "--certificate")
    place = certificate_folder(source, answer.point) if folder is None else folder
    try:
        written, told = _kept(answer, place, seconds, keep)
    except (NoProvingSolver, NotCovered) as fault:
        raise Usage(f"--certificate: {fault}") from None
    except TooLong as fault:
        print(f"--certificate: {fault}", file=sys.stderr)
        return EXIT_LIMIT
    if as_json:
        document = _document(answer, written, told, place)
        sys.stdout.write(json.dumps(document, indent=1, ensure_ascii=False) + "\n")
        return EXIT_OK
    print(written.claim["claim"])
    size = math.ceil(written.size / 1000)
    print(
        f"certificate: {so_many(written.cases, 'choice')} of rings, {so_many(told.lines, 'step')} of proof, {size} kB"
    )
    print(f"checked: it holds. To check it again: ringwright check {pasted(place)}")
    return EXIT_OK


def _refuse_folder(folder: Path) -> None:
    told = f"--certificate {folder}"
    refuse_no_folder(told, folder)
    if folder.exists() and any(folder.iterdir()):
        raise Usage(f"{told}: is there already; name a new folder")
    refuse_in_stored(told, folder)
    refuse_unwritable(told, Path(os.path.realpath(folder)).parent)


def _kept(answer: Source, folder: Path, seconds: float, replace: bool) -> tuple[WrittenCertificate, CheckedCertificate]:
    """A certificate, which has its place once it is whole and was checked. replace: the place of one before it."""
    place = folder if replace else Path(os.path.realpath(folder))  # what a link leads to is nothing to be removed
    with whole_folder(place.parent, {}) as temporary:
        with signals.ending(_INTERRUPTED):
            written, told = _written(answer, temporary, seconds), _told(temporary)
        if replace and place.exists():
            shutil.rmtree(place)
        temporary.rename(place)  # onto an empty folder too
    return written, told


def _document(answer: Source, written: WrittenCertificate, told: CheckedCertificate, folder: Path) -> dict[str, object]:
    claim = written.claim
    proof = {"by": "certificate", "claim": claim["claim"], "rests_on": claim["rests_on"], "square": claim["square"],
             "best": told.best, "choices_of_rings": written.cases, "steps": told.lines, "bytes": written.size,
             "folder": str(folder), "outcome": "confirmed"}  # fmt: skip
    return {"title": answer.design.title, **({"point": answer.point} if answer.point else {}), "proofs": [proof]}


def _written(answer: Source, folder: Path, seconds: float) -> WrittenCertificate:
    best = best_of(answer.design, list(answer.solutions))
    if best is None and answer.status != "infeasible":
        raise Usage(f"--certificate: {answer.name} has no solution, and it is not proven that there is none")
    with words_line("writing the certificate"):
        return write_certificate(folder, answer.design, best, seconds, _telling("written"))


def _told(folder: Path) -> CheckedCertificate:
    with words_line("checking the certificate"):
        return check_certificate(folder, _telling("checked"))


def _telling(what: str) -> Callable[[int, int], None]:
    """A callback that tells on the line how many choices of rings are done."""
    return lambda done, cases: line.tell(f"{done} of {so_many(cases, 'choice')} of rings {what}")


def run_check(folder: Path, design: Path | None) -> int:
    """Check a certificate, and that it is of a design file, and say of each thing whether it holds; the exit code.
    Raises DesignError and OSError."""
    if not (folder / CLAIM).exists():
        there = "there is no such folder" if not folder.exists() else f"no certificate (it has no {CLAIM})"
        print(f"{folder}: {there}; ringwright prove FILE --certificate FOLDER writes one", file=sys.stderr)
        return EXIT_INPUT
    try:
        checked = _told(folder)
        _read_aloud(checked)
        if design is not None:
            _compare(checked, design)
    except DoesNotHold as fault:
        print(f"does not hold: {fault}", file=sys.stderr)
        return EXIT_FAULT
    except Unreadable as fault:
        print(f"cannot be read: {fault}", file=sys.stderr)
        return EXIT_INPUT
    print(checked.claim["claim"])
    for rest in checked.claim["rests_on"]:
        print(f"- {rest}")
    print(f"1 holds: the model follows from the claim, for {so_many(checked.cases, 'choice')} of rings")
    print(f"2 holds: the proof follows from the model, {so_many(checked.lines, 'step')}")
    print(f"3 holds: {checked.best}: {checked.said}")
    if design is not None:
        print(f"and the claim is of the design {design}")
    return EXIT_OK


def _read_aloud(checked: CheckedCertificate) -> None:
    """Compare the words of a claim with its numbers. Raises DoesNotHold, and Unreadable where it has no such words: the
    checker asks for what it reckons with alone, and names are not part of that."""
    told = dict(checked.claim)
    try:
        worded(told, checked.cases)
    except (LookupError, TypeError, ValueError, ArithmeticError, AttributeError) as fault:
        what = f"{type(fault).__name__}: {str(fault)[:200]}"
        raise Unreadable(f"{CLAIM}: its words cannot be made of its numbers: {what}") from None
    if any(told[name] != checked.claim.get(name) for name in ("claim", "rests_on")):
        raise DoesNotHold(f"{CLAIM}: its words are not those of its numbers")


def _compare(checked: CheckedCertificate, file: Path) -> None:
    """Compare a claim with the design that it names. Raises DoesNotHold."""
    design = parse_design(read_text(file), str(file))
    expected = claim_of(design, None, Fraction(1), True, 1)
    for name in expected:
        if name not in NOT_COMPARED and checked.claim.get(name) != expected[name]:
            raise DoesNotHold(f"{CLAIM}: {name} is not that of {file}")
