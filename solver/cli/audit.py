"""The command `audit`: judges a train, looks for places or something better where asked, and prints what it found."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterable
from contextlib import nullcontext
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import product
from pathlib import Path
from typing import Any

from rich.table import Table
from rich.text import Text

from solver.check.audit import Claim, Finding, MeshAudit, RingAudit, Stuck, audit_meshes, audit_rings
from solver.cli.run import EXIT_INFEASIBLE, EXIT_LIMIT, EXIT_OK, interruptible, progress_line
from solver.cli.tables import (
    Paper,
    _length,
    _seven,
    _table,
    _target,
    limits_text,
    link_text,
    percent,
    print_legend,
    rate_text,
    solution_table,
    summary,
)
from solver.design.audit_file import MeshTrain, RingTrain, load_train, rival_of
from solver.design.design import MM_PER_INCH, Design
from solver.design.errors import show, single
from solver.design.geometry import gap_teeth
from solver.design.train import Placement
from solver.search.answer import Answer, SolutionAnswer, solution_answer, solve
from solver.search.places import arbor_radii
from solver.search.placing import Fitter
from solver.search.stop import Deadline, FirstOf, Interrupt, Stopped, StopRule

SCHEMA = "ringwright.audit/1"
MOST_DIGITS = 24  # of exact ratios that stand in the table; longer ones stand below it


@dataclass(frozen=True)
class Places:
    """What looking for places came to: some, none, or not settled (`stopped` says why)."""

    found: Placement | None
    stopped: str | None = None


@dataclass(frozen=True)
class RingReport:
    """A judged ring train; places: where looked for; rival and best: the design that it competes in and its answer,
    where asked for."""

    given: RingTrain
    audit: RingAudit
    places: Places | None = None
    rival: Design | None = None
    best: Answer | None = None


def run_audit(file: Path, as_json: bool, place: bool, best: bool) -> int:
    """Audit the file's train and print it; the exit code. Raises DesignError and OSError."""
    given = load_train(file)
    signum = None
    if isinstance(given, MeshTrain):
        if place or best:
            raise single("train.meshes", None, "--place and --best are for trains of rings and links", given.name)
        report = _mesh_audit(given)
        document, sound, settled = mesh_document(given, report), report.sound, True
    else:
        ring_train = given
        with progress_line() if place or best else nullcontext() as progress:
            rings, signum = interruptible(lambda interrupt: ring_report(ring_train, place, best, interrupt, progress))
        document, sound = ring_document(rings), rings.audit.sound
        settled = not (rings.places and rings.places.stopped) and (rings.best is None or rings.best.proven)
    if as_json:
        sys.stdout.write(json.dumps(document, indent=1, ensure_ascii=False) + "\n")
    elif isinstance(given, MeshTrain):
        print_meshes(Paper(sys.stdout), given, report)
    else:
        print_rings(Paper(sys.stdout), rings)
    sys.stdout.flush()
    if signum is not None:
        return 128 + signum
    if not sound:
        return EXIT_INFEASIBLE
    return EXIT_OK if settled else EXIT_LIMIT


def _mesh_audit(given: MeshTrain) -> MeshAudit:
    try:
        return audit_meshes(given)
    except Stuck as stuck:
        raise single(stuck.field, None, str(stuck), given.name) from None


# -- more than judging ------------------------------------------------------------------------------------------------


def ring_report(
    given: RingTrain, place: bool = False, best: bool = False, interrupt: StopRule | None = None, progress: Any = None
) -> RingReport:
    """Judge a ring train. place: look for places that keep every rule; where the file gives none, they are judged with
    the rest. best: solve the design that the train competes in. Each has the file's time limit. Raises DesignError."""
    rival = _rival(given) if best else None
    audit, places = audit_rings(given), None
    if place:
        audit, places = _with_places(given, audit, interrupt or Interrupt())
    answer = solve(rival, interrupt, progress) if rival is not None else None
    return RingReport(given, audit, places, rival, answer)


def _rival(given: RingTrain) -> Design:
    if not given.compared:
        raise single("bodies", None, "is missing: --best needs bodies, whose periods say what is better", given.name)
    return rival_of(given)


def _with_places(given: RingTrain, audit: RingAudit, interrupt: StopRule) -> tuple[RingAudit, Places | None]:
    """Look for places; where the file gives none, what is found, or that there are none, belongs to the audit."""
    design = given.design
    if design.fit.directions is None:
        why = "fit.directions" if design.arbors.reverted else "arbors.reverted"
        raise single(why, None, "--place needs directions to look in, and arbors.reverted = true", given.name)
    if any(one.rule in ("reverted", "third") and one.where.startswith("link") for one in audit.findings):
        return replace(audit, notes=(*audit.notes, "no places were looked for: a link above has none of its own")), None
    places = find_places(given, FirstOf(interrupt, Deadline(design.time_limit_s)))
    if given.stands is not None or places.stopped:
        return audit, places
    if places.found is not None:
        return audit_rings(given, places.found), places
    text = f"no choice among {len(design.fit.directions)} directions gives everything a place"
    none = Finding("direction", "train", text, hint="allow more directions, or loosen what [fit] asks for")
    return replace(audit, findings=(*audit.findings, none)), places


def find_places(given: RingTrain, stop: StopRule) -> Places:
    """The first places of a train's gears, rollers and drive in the directions of its file that keep every rule of fit;
    arbors that may stand nearer or farther are tried at every distance."""
    design, train = given.design, given.train

    def tick() -> None:
        if reason := stop():
            raise Stopped(reason)

    gap = gap_teeth(design.rings.pitch, design.rings.addendum, design.fit.clearance)
    fitter = Fitter(design, gap, tick)
    radii = [
        arbor_radii(train.rings[index], train.rings[index + 1], link, gap) for index, link in enumerate(train.links)
    ]
    try:
        for chosen in product(*radii):
            tick()
            found = fitter.placement(train, chosen)
            if found is not None:
                return Places(found)
    except Stopped as stopped:
        return Places(None, stopped.reason)
    return Places(None)


# -- the document -----------------------------------------------------------------------------------------------------


def _solution(report: RingReport) -> SolutionAnswer:
    """The train as it would stand in an answer, with the names that the file gives."""
    given, audit = report.given, report.audit
    solution = solution_answer(audit.design, audit.train, audit.verdict, 1)
    rings = [
        ring.model_copy(update={"name": name or (ring.name if given.compared else "")})
        for ring, name in zip(solution.rings, given.names, strict=True)
    ]
    if not given.compared:
        nothing = {"target": None, "error_pct": None, "period_error_pct": None}
        rings = [ring.model_copy(update={**nothing, "blank": not ring.name}) for ring in rings]
    return solution.model_copy(update={"rings": rings})


def _plain(findings: Iterable[Finding], claims: Iterable[Claim], notes: Iterable[str]) -> dict[str, Any]:
    return {
        "violations": [dict(vars(one)) for one in findings],
        "stated": [
            {
                "where": one.where,
                "stated": one.stated,
                "value": [one.value.numerator, one.value.denominator],
                "verdict": one.verdict,
                "due": one.due,
            }
            for one in claims
        ],
        "notes": list(notes),
    }


def ring_document(report: RingReport) -> dict[str, Any]:
    """As plain JSON data; `train` as a solution of an answer, lengths in millimetres. places: null where none were
    looked for; best: null where it was not asked for."""
    audit, places, best = report.audit, report.places, report.best
    train = _solution(report).model_dump(mode="json", exclude={"rank"})
    if not report.given.compared:
        train["worst_error_pct"] = None
    found = None
    if places is not None:
        placed = None
        if places.found is not None:
            at = audit_rings(report.given, places.found)
            solution = solution_answer(at.design, at.train, at.verdict, 1).model_dump(mode="json")
            placed = {
                "links": [{key: link[key] for key in ("arbor", "third_at")} for link in solution["links"]],
                "rollers": [ring["rollers"] for ring in solution["rings"]],
                "drive": solution["drive"],
            }
        found = {"stopped": places.stopped, "found": placed}
    return {
        "schema": SCHEMA,
        "title": audit.design.title,
        "sound": audit.sound,
        "train": train,
        **_plain(audit.findings, audit.claims, audit.notes),
        "places": found,
        "best": None
        if best is None
        else {
            "status": best.status.value,
            "termination": best.termination,
            "proven": best.proven,
            "bound_worst_error_pct": best.bound_worst_error_pct,
            "solution": best.solutions[0].model_dump(mode="json", exclude={"rank"}) if best.solutions else None,
        },
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
                "target": None if one.target is None else _range(*map(str, one.target)),
                "error_pct": None if one.error is None else one.error * 100,
                "period_error_pct": None if one.slow is None else one.slow * 100,
            }
            for one in audit.arbors
        ],
        **{key: getattr(audit, key) for key in ("gears", "jigs", "teeth", "largest")},
        **_plain(audit.findings, audit.claims, audit.notes),
    }


def _range(low: str, high: str) -> str:
    return low if low == high else f"{low}..{high}"


# -- what a maker reads -----------------------------------------------------------------------------------------------


def print_rings(paper: Paper, report: RingReport) -> None:
    """The train ring by ring, what is broken, what is stated wrongly, and what was looked for."""
    audit, design = report.audit, report.audit.design
    solution = _solution(report)
    paper.print(Text(design.title, style="bold"))
    exact = [str(Fraction(*ring.ratio)) for ring in solution.rings]
    apart = paper.narrow or max(map(len, exact)) > MOST_DIGITS
    paper.print(_ring_table(solution, report.given.compared, None if apart else exact))
    if apart:
        paper.print("exact ratios: " + ", ".join(f"ring {index} {ratio}" for index, ratio in enumerate(exact)))
    print_legend(paper, [solution])
    counts = (
        f"{solution.parts} parts, {solution.jigs} jigs, {solution.teeth} teeth, largest small gear {solution.largest}"
    )
    if solution.envelope_mm is not None:
        counts += f", radius {_length(solution.envelope_mm, design.units)} {design.units}"
    if report.given.compared:
        counts = f"worst error {percent(solution.worst_error_pct)} %; {counts}"
        if (rate := rate_text(design, solution)) is not None:
            paper.print(rate)
    paper.print(counts)
    _print_wrong(paper, audit.findings, audit.claims, design.units)
    if report.places is not None:
        _print_places(paper, report)
    if report.best is not None and report.rival is not None:
        _print_best(paper, report, solution)
    _print_end(paper, audit.findings, audit.claims, audit.notes)
    if report.given.stands is None and report.places is None and design.arbors.reverted:
        paper.print("give every link a direction to have its places judged, or let --place look for places")


def _ring_table(solution: SolutionAnswer, compared: bool, exact: list[str] | None) -> Table:
    """The train ring by ring; without the columns that compare or the exact ratios where there are none."""
    columns = ["ring", "body", "teeth", "link", *(["exact ratio"] if exact else []), "ratio"]
    columns += ["target", "slow %", "error %"] if compared else []
    table = _table("The train as it is", [*columns, "sense"], left=("body", "link", "exact ratio", "sense"))
    worst = max(ring.error_pct or 0.0 for ring in solution.rings)
    for index, (ring, link) in enumerate(zip(solution.rings, [*solution.links, None], strict=True)):
        num, den = ring.ratio
        words = [str(index), ring.name, str(ring.teeth), link_text(link), *([exact[index]] if exact else [])]
        words.append(_seven(num / den))
        if compared:
            star = "*" if ring.error_pct and ring.error_pct >= worst * (1 - 1e-12) else " "
            slow, error = percent(ring.period_error_pct, signed=True), percent(ring.error_pct)
            words += [_target(ring.target), slow, error + star if error else ""]
        table.add_row(*words, ring.sense)
    return table


def _print_wrong(paper: Paper, findings: Iterable[Finding], claims: Iterable[Claim], units: str) -> None:
    findings = list(findings)
    if findings:
        missing = f"missing {units}"
        table = _table("Broken rules", ("rule", "where", "what", missing), left=("rule", "where", "what"))
        for one in findings:
            short = "" if one.short_mm is None else _short(one.short_mm, units)
            short = short if one.short_deg is None else f"{one.short_deg:.3g}°"
            table.add_row(one.rule, one.where, one.text, short)
        paper.print(table)
        for rule, hint in dict.fromkeys((one.rule, one.hint) for one in findings if one.hint):
            paper.print(f"{rule}: {hint}")
    off = [claim for claim in claims if claim.verdict != "right"]
    if off:
        columns = ("where", "stated", "the teeth give", "exactly", "should be", "")
        table = _table("Stated, but not what the teeth give", columns, left=("where", "exactly", ""))
        for claim in off:
            table.add_row(
                claim.where,
                claim.stated,
                _seven(float(claim.value)),
                str(claim.value),
                claim.due,
                _REMARKS[claim.verdict],
            )
        paper.print(table)


_REMARKS = {"wrong": "", "truncated": "cut off where it should be rounded", "inverse": "stated the other way round"}


def _short(millimetres: float, units: str) -> str:
    return f"{millimetres:.3f}" if units == "mm" else f"{millimetres / float(MM_PER_INCH):.4f}"


def _print_places(paper: Paper, report: RingReport) -> None:
    places, units = report.places, report.given.design.units
    assert places is not None
    if places.stopped:
        paper.print(f"whether there are places is not settled: {_STOPS.get(places.stopped, places.stopped)}")
    elif places.found is None and report.given.stands is not None:
        paper.print("nowhere in these directions does everything fit")
    elif places.found is not None:
        table = _table(
            "Places where everything fits", ("what", "direction °", f"from the axis {units}"), left=("what",)
        )
        at = audit_rings(report.given, places.found)
        solution = solution_answer(at.design, at.train, at.verdict, 1)
        for index, link in enumerate(solution.links):
            for what, spot in [("arbor", link.arbor), *(("third gear", third) for third in link.third_at)]:
                if spot is not None:
                    table.add_row(f"link {index}: {what}", f"{spot.direction_deg:g}", _length(spot.radius_mm, units))
        if solution.drive is not None:
            drive = solution.drive
            named = [(f"motor, pinion {drive.pinion} at ring {drive.ring}", drive.motor)]
            named += [("drive: third gear", third) for third in drive.third_at]
            for what, spot in named:
                table.add_row(what, f"{spot.direction_deg:g}", _length(spot.radius_mm, units))
        for index, ring in enumerate(solution.rings):
            if ring.rollers:
                turns = ", ".join(f"{roller.direction_deg:g}" for roller in ring.rollers)
                table.add_row(f"ring {index}: rollers", turns, _length(ring.rollers[0].radius_mm, units))
        paper.print(table)


_STOPS = {"time": "the time limit search.time_limit_s struck", "interrupt": "interrupted"}


def _print_best(paper: Paper, report: RingReport, solution: SolutionAnswer) -> None:
    answer, rival = report.best, report.rival
    assert answer is not None and rival is not None
    if answer.solutions:
        table = solution_table(rival, answer.solutions[0])
        table.title = "The best in the same frame"
        paper.print(table)
        print_legend(paper, answer.solutions)
        for what, one in (("as it is", solution), ("the best", answer.solutions[0])):
            error = percent(one.worst_error_pct)
            paper.print(f"{what}: worst error {error} %, {one.parts} parts, {one.jigs} jigs, {one.teeth} teeth")
    paper.print(f"searched by {', then '.join(rival.rank)}: {summary(rival, answer)}")
    paper.print(limits_text(rival))


def print_meshes(paper: Paper, given: MeshTrain, audit: MeshAudit) -> None:
    """The turns of every arbor, what is broken and what is stated wrongly."""
    paper.print(Text(given.title, style="bold"))
    compared = any(one.target is not None for one in audit.arbors)
    columns = ["arbor", "exact turns", "turns"] + (["target", "slow %", "error %"] if compared else [])
    title = f"Turns for one of {show(given.reference)}"
    table = _table(title, [*columns, "sense"], left=("arbor", "exact turns", "sense"))
    for one in audit.arbors:
        turns = abs(one.turns)
        words = [one.name, str(turns), _seven(float(turns))]
        if compared:
            target = "" if one.target is None else _target(_range(*map(str, one.target)))
            slow, error = (None if value is None else value * 100 for value in (one.slow, one.error))
            words += [target, percent(slow, signed=True), percent(error)]
        table.add_row(*words, "reverse" if one.turns < 0 else "same")
    paper.print(table)
    if any(one.turns < 0 for one in audit.arbors):
        paper.print(f"reverse: the arbor turns against {show(given.reference)}")
    paper.print(f"{audit.gears} gears, {audit.jigs} jigs, {audit.teeth} teeth, largest gear {audit.largest}")
    _print_wrong(paper, audit.findings, audit.claims, "mm")
    _print_end(paper, audit.findings, audit.claims, audit.notes)


def _print_end(paper: Paper, findings: Iterable[Finding], claims: Iterable[Claim], notes: Iterable[str]) -> None:
    for note in notes:
        paper.print(f"note: {note}")
    broken, claims = len(list(findings)), list(claims)
    off = sum(claim.verdict != "right" for claim in claims)
    rules = "no rule that was judged is broken" if not broken else f"broken rules: {broken}"
    stated = (
        "no number is stated" if not claims else f"stated numbers that the teeth do not give: {off} of {len(claims)}"
    )
    if claims and not off:
        stated = f"all stated numbers are right ({len(claims)})"
    paper.print(f"{rules}; {stated}")
