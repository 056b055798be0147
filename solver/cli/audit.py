"""The command `audit`: judges a train, with a search where one is asked for, and prints tables or one document."""

from __future__ import annotations

import json
import sys
from contextlib import nullcontext
from dataclasses import asdict
from pathlib import Path
from typing import Any

from solver.answer.audit import Auditing, RingReport
from solver.answer.document import Answer, range_text
from solver.check.audit_meshes import MeshAudit, Stuck, audit_meshes
from solver.check.findings import Audit
from solver.cli.audit_tables import print_meshes, print_rings
from solver.cli.exits import EXIT_INFEASIBLE, EXIT_LIMIT, EXIT_OK
from solver.cli.line import tell
from solver.cli.run import interruptible, progress_line
from solver.cli.tables import Paper
from solver.design.errors import single
from solver.design.exact import float_above
from solver.design.train_data import MeshTrain, RingTrain
from solver.files.train_file import load_train
from solver.search.stop import Termination

SCHEMA = "ringwright.audit/1"


def run_audit(file: Path, as_json: bool, place: bool, best: bool) -> int:
    """Audit the file's train and print it; the exit code. Raises DesignError and OSError."""
    given = load_train(file)
    if isinstance(given, RingTrain):
        return _run_rings(given, as_json, place, best)
    if place or best:
        raise single("train.meshes", None, "--place and --best are for trains of rings and links", given.name)
    return _run_meshes(given, as_json)


def _run_rings(given: RingTrain, as_json: bool, place: bool, best: bool) -> int:
    with progress_line(given.design.units) if place or best else nullcontext() as progress:
        auditing = Auditing(given, place, best, progress, tell)
        report, signum = interruptible(auditing.run, lambda: auditing.so_far(Termination.INTERRUPT))
    if as_json:
        _print_json(ring_document(report))
    else:
        print_rings(Paper(sys.stdout), report)
    sys.stdout.flush()
    if signum is not None:
        return 128 + signum
    if not report.audit.sound:
        return EXIT_INFEASIBLE
    settled = not (report.places and report.places.stopped) and (report.best is None or report.best.proven)
    return EXIT_OK if settled else EXIT_LIMIT


def _run_meshes(given: MeshTrain, as_json: bool) -> int:
    try:
        audit = audit_meshes(given)
    except Stuck as stuck:
        raise single(stuck.field, None, str(stuck), given.name) from None
    if as_json:
        _print_json(mesh_document(given, audit))
    else:
        print_meshes(Paper(sys.stdout), given, audit)
    return EXIT_OK if audit.sound else EXIT_INFEASIBLE


def _print_json(document: dict[str, Any]) -> None:
    sys.stdout.write(json.dumps(document, indent=1, ensure_ascii=False) + "\n")


# -- the document -----------------------------------------------------------------------------------------------------


def ring_document(report: RingReport) -> dict[str, Any]:
    """As plain JSON data; `train` as a solution of an answer, lengths in millimetres. meshes: how each runs, null where
    that is not judged; uneven is a share of a tooth pitch. places: null where none were looked for; best: null where it
    was not asked for."""
    audit = report.audit
    train = report.solution().model_dump(mode="json", exclude={"rank"})
    if not report.given.compared:
        train["worst_error_pct"] = None
    return {
        "schema": SCHEMA,
        "title": audit.design.title,
        "sound": audit.sound,
        "train": train,
        **_plain(audit),
        "meshes": None if audit.meshes is None else [asdict(one) for one in audit.meshes],
        "places": _plain_places(report),
        "best": None if report.best is None else _plain_best(report.best),
    }


def mesh_document(given: MeshTrain, audit: MeshAudit) -> dict[str, Any]:
    """Likewise for a train of meshes: the turns of every arbor for one of the reference arbor."""
    return {
        "schema": SCHEMA,
        "title": given.title,
        "sound": audit.sound,
        "reference": given.reference,
        "arbors": [
            {
                "name": one.name,
                "turns": [abs(one.turns).numerator, one.turns.denominator],
                "sense": "reverse" if one.turns < 0 else "same",
                "target": None if one.target is None else range_text(*one.target),
                "error_pct": None if one.error is None else float_above(100 * one.error),
                "period_error_pct": None if one.slow is None else float(one.slow) * 100,
            }
            for one in audit.arbors
        ],
        **{key: getattr(audit, key) for key in ("gears", "jigs", "teeth", "largest")},
        **_plain(audit),
    }


def _plain(audit: Audit) -> dict[str, Any]:
    return {
        "violations": [asdict(one) for one in audit.findings],
        "stated": [{**asdict(one), "value": [one.value.numerator, one.value.denominator]} for one in audit.claims],
        "notes": list(audit.notes),
    }


def _plain_places(report: RingReport) -> dict[str, Any] | None:
    if report.places is None:
        return None
    found = None
    if (solution := report.solution_found()) is not None:
        plain = solution.model_dump(mode="json")
        found = {
            "links": [{key: link[key] for key in ("arbor", "third_at")} for link in plain["links"]],
            "rollers": [ring["rollers"] for ring in plain["rings"]],
            "drive": plain["drive"],
        }
    missing = [asdict(one) for one in report.places.missing]
    return {"stopped": report.places.stopped, "found": found, **({"missing": missing} if missing else {})}


def _plain_best(best: Answer) -> dict[str, Any]:
    solutions = [one.model_dump(mode="json", exclude={"rank"}) for one in best.solutions[:1]]
    plain = {key: getattr(best, key) for key in ("status", "termination", "proven", "bound_worst_error_pct")}
    return {**plain, "solution": next(iter(solutions), None)}
