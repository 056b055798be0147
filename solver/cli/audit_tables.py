"""What a maker reads of an audit: the train, what is broken, what is stated wrongly, and what was looked for."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from solver.answer.audit import RingReport
from solver.answer.document import SolutionAnswer, range_text
from solver.check.audit_meshes import MeshAudit
from solver.check.findings import Audit
from solver.check.running import MeshFigures
from solver.cli.numbers import exact_length_text, key_names, length_text, percent, seven_digits, target_text
from solver.cli.summary import limits_text, reason_text, summary
from solver.cli.tables import (
    AXES,
    RING_COLUMNS,
    Paper,
    drive_text,
    places_table,
    plain_table,
    print_legend,
    rate_text,
    ring_table,
)
from solver.design.train_data import MeshTrain

MOST_DIGITS = 24  # of exact ratios that stand in the table; longer ones stand below it


def print_rings(paper: Paper, report: RingReport) -> None:
    """The train ring by ring, what is broken, what is stated wrongly, and what was looked for."""
    audit, design = report.audit, report.audit.design
    solution = report.solution()
    paper.heading(design.title)
    exact = [str(Fraction(*ring.ratio)) for ring in solution.rings]
    apart = paper.narrow or max(map(len, exact)) > MOST_DIGITS
    columns = ["ring", "body", "teeth", "link", *([] if apart else ["exact ratio"]), "ratio"]
    columns += ["target", "slow %", "error %"] if report.given.compared else []
    paper.print(ring_table("The train as it is", solution, [*columns, "sense"]))
    if apart:
        paper.print("exact ratios: " + ", ".join(f"ring {index} {ratio}" for index, ratio in enumerate(exact)))
    print_legend(paper, [solution])
    counts = (
        f"{solution.parts} parts, {solution.jigs} jigs, {solution.teeth} teeth, largest small gear {solution.largest}"
    )
    if solution.envelope_mm is not None:
        counts += f", radius {length_text(solution.envelope_mm, design.units)} {design.units}"
    if report.given.compared:
        counts = f"worst error {percent(solution.worst_error_pct)} %; {counts}"
        if (rate := rate_text(design, solution)) is not None:
            paper.print(rate)
    paper.print(counts)
    if audit.meshes is not None:
        _print_running(paper, audit.meshes, design.units)
    _print_wrong(paper, audit, design.units)
    if report.places is not None:
        _print_places(paper, report)
    if report.best is not None:
        _print_best(paper, report, solution)
    _print_end(paper, audit)
    if report.given.stands is None and not report.sought and design.arbors.reverted:
        paper.print("give every link a direction to have its places judged, or let --place look for places")


def _print_running(paper: Paper, meshes: Sequence[MeshFigures], units: str) -> None:
    columns = ("mesh", f"play {units}", "hunts % of a pitch", "runs")
    table = plain_table("How the meshes run, made of this wire", columns, left=("mesh", "runs"))
    for one in meshes:
        hunts = "" if one.uneven is None else f"{100 * one.uneven:.1f}"
        table.add_row(one.where, exact_length_text(one.play_mm, units), hunts, "no" if one.fault else "yes")
    paper.print(table)


def _print_wrong(paper: Paper, audit: Audit, units: str) -> None:
    if audit.findings:
        missing = f"missing {units}"
        table = plain_table("Broken rules", ("rule", "where", "what", missing), left=("rule", "where", "what"))
        for one in audit.findings:
            short = exact_length_text(one.short_mm, units) if one.short_deg is None else f"{one.short_deg:.3g}°"
            table.add_row(one.rule, one.where, one.text, short)
        paper.print(table)
        for rule, hint in dict.fromkeys((one.rule, one.hint) for one in audit.findings if one.hint):
            paper.print(f"{rule}: {hint}")
    if audit.wrong_claims:
        columns = ("where", "stated", "the teeth give", "exactly", "should be", "")
        table = plain_table("Stated, but not what the teeth give", columns, left=("where", "exactly", ""))
        for claim in audit.wrong_claims:
            value, remark = claim.value, _REMARKS[claim.verdict]
            table.add_row(claim.where, claim.stated, seven_digits(float(value)), str(value), claim.due, remark)
        paper.print(table)


_REMARKS = {"wrong": "", "truncated": "cut off where it should be rounded", "inverse": "stated the other way round"}


def _print_places(paper: Paper, report: RingReport) -> None:
    places, design = report.places, report.given.design
    assert places is not None
    if places.stopped:
        paper.print(f"whether there are places is not settled: {reason_text(places.stopped)}")
    elif (solution := report.solution_found()) is not None:
        paper.print(places_table("Places where everything fits", solution, design.units))
        paper.print(f"seen from the front; {AXES}")
        if solution.drive is not None:
            paper.print(drive_text(design, solution, solution.drive))
    elif report.given.stands is not None:  # else it is a finding
        paper.print("nowhere in these directions does everything fit")
        for one in places.missing:
            short = exact_length_text(one.short_mm, design.units)
            paper.print(f"{one.where}: {one.rule}: {one.text}; {short} {design.units} missing")


def _print_best(paper: Paper, report: RingReport, solution: SolutionAnswer) -> None:
    answer, rival = report.best, report.rival
    assert answer is not None and rival is not None
    if answer.solutions:
        paper.print(ring_table("The best in the same frame", answer.solutions[0], RING_COLUMNS))
        print_legend(paper, answer.solutions)
        rules = list(dict.fromkeys(one.rule for one in report.audit.findings))
        broken = f", which breaks {'the rule' if len(rules) == 1 else 'the rules'} {', '.join(rules)}" if rules else ""
        for what, one in ((f"as it is{broken}", solution), ("the best", answer.solutions[0])):
            error = percent(one.worst_error_pct)
            paper.print(f"{what}: worst error {error} %, {one.parts} parts, {one.jigs} jigs, {one.teeth} teeth")
    paper.print(f"searched by {', then '.join(key_names(rival.rank))}: {summary(rival, answer)}")
    paper.print(limits_text(rival))


def print_meshes(paper: Paper, given: MeshTrain, audit: MeshAudit) -> None:
    """The turns of every arbor, what is broken and what is stated wrongly."""
    paper.heading(given.title)
    compared = any(one.target is not None for one in audit.arbors)
    columns = ["arbor", "exact turns", "turns"] + (["target", "slow %", "error %"] if compared else [])
    title = f'Turns for one of "{given.reference}"'
    table = plain_table(title, [*columns, "sense"], left=("arbor", "exact turns", "sense"))
    for one in audit.arbors:
        turns = abs(one.turns)
        words = [one.name, str(turns), seven_digits(float(turns))]
        if compared:
            target = None if one.target is None else range_text(*one.target)
            slow, error = (None if value is None else float(value) * 100 for value in (one.slow, one.error))
            words += [target_text(target), percent(slow, signed=True), percent(error)]
        table.add_row(*words, "reverse" if one.turns < 0 else "same")
    paper.print(table)
    if any(one.turns < 0 for one in audit.arbors):
        paper.print(f'reverse: the arbor turns against "{given.reference}"')
    paper.print(f"{audit.gears} gears, {audit.jigs} jigs, {audit.teeth} teeth, largest gear {audit.largest}")
    _print_wrong(paper, audit, "mm")
    _print_end(paper, audit)


def _print_end(paper: Paper, audit: Audit) -> None:
    for note in audit.notes:
        paper.print(f"note: {note}")
    broken, many, wrong = len(audit.findings), len(audit.claims), len(audit.wrong_claims)
    rules = f"broken rules: {broken}" if broken else "no rule that was judged is broken"
    if not many:
        stated = "no number is stated"
    elif wrong:
        stated = f"stated numbers that the teeth do not give: {wrong} of {many}"
    else:
        stated = f"all stated numbers are right ({many})"
    paper.print(f"{rules}; {stated}")
