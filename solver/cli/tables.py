"""What a maker reads on the terminal: tables of answers and body sets, drawn with rich."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction
from typing import TextIO

from rich.console import RenderableType
from rich.table import Table
from rich.text import Text

from solver.answer.document import Answer, DriveAnswer, LinkAnswer, PlaceAnswer, RingAnswer, SolutionAnswer, Status
from solver.answer.remarks import unused_thirds, wished_rpm
from solver.answer.standing import not_judged, orders_text, orders_told
from solver.cli.numbers import (
    exact_length_text,
    key_names,
    length_text,
    link_text,
    percent,
    rpm_text,
    seven_digits,
    target_text,
)
from solver.cli.screen import HEAD, Lines, Screen
from solver.cli.summary import limits_text, proof_text, summary
from solver.design.design import Design
from solver.design.errors import so_many
from solver.design.links import KIND_BY_NAME

PIPE_WIDTH = 120  # columns where the output is no terminal
AXES = "degrees from the right, counterclockwise; x to the right of the main axis, y above it"
ROOM_FOR_LINKS = 100  # on narrower terminals the links stand on a line of their own


class Paper:
    """Where tables go: a terminal, or a pipe or file, where they are kept whole and lines end with their text."""

    def __init__(self, stream: TextIO) -> None:
        self.stream = stream
        self.terminal = stream.isatty()
        self.console = Screen(stream, None if self.terminal else PIPE_WIDTH)

    @property
    def narrow(self) -> bool:
        return self.console.width < ROOM_FOR_LINKS

    def print(self, what: RenderableType) -> None:
        """Print a table or a text."""
        if self.terminal:
            self.console.print(what)
            return
        with self.console.capture() as captured:
            self.console.print(what)
        lines = [line.rstrip() for line in captured.get().rstrip("\n").split("\n")]
        self.stream.write("\n".join(lines) + "\n")

    def line(self, words: str) -> None:
        """Print a line of text, left to the terminal to break."""
        self.console.print(words, soft_wrap=True)

    def heading(self, words: str) -> None:
        """Print a title."""
        self.print(Text(self.console.render_str(words).plain, style="bold"))


def plain_table(title: str, columns: Iterable[str], left: Iterable[str] = (), caption: str | None = None) -> Table:
    """A plain table; columns are right-aligned and never broken unless named in `left`."""
    table = Table(title=title or None, title_justify="left", box=HEAD, caption=caption, caption_justify="left")
    table.collapse_padding, table.pad_edge = True, False
    for name in columns:
        table.add_column(name, justify="left" if name in left else "right", overflow="fold", no_wrap=name not in left)
    return table


# -- an answer -------------------------------------------------------------------------------------------------------


RING_COLUMNS = ("ring", "body", "teeth", "link", "ratio", "target", "slow %", "error %", "sense")


def solution_table(solution: SolutionAnswer) -> Table:
    """One solution, ring by ring."""
    made = {None: "", "pins": "; third gears with pins", "teeth": "; third gears with short teeth"}
    return ring_table(f"Solution {solution.rank}{made[solution.third_toothing]}", solution, RING_COLUMNS)


def ring_table(title: str, solution: SolutionAnswer, columns: Sequence[str]) -> Table:
    """A train ring by ring, with these columns: RING_COLUMNS or some of them, and "exact ratio".

    link: to the next ring; slow %: by how much the period is too long, negative where the body is too fast. A star
    marks the worst error.
    """
    table = plain_table(title, columns, left=("body", "link", "exact ratio", "sense"))
    worst = max(ring.error_pct or 0.0 for ring in solution.rings)
    rows: list[tuple[RingAnswer, LinkAnswer | None]] = list(zip(solution.rings, [*solution.links, None], strict=True))
    for index, (ring, link) in enumerate(rows):
        ratio = Fraction(*ring.ratio)
        star = "*" if ring.error_pct and ring.error_pct >= worst * (1 - 1e-12) else " "
        words = {
            "ring": str(index),
            "body": ring.name,
            "teeth": str(ring.teeth),
            "link": link_text(link),
            "exact ratio": str(ratio),
            "ratio": seven_digits(float(ratio)),
            "target": target_text(ring.target),
            "slow %": percent(ring.period_error_pct, signed=True),
            "error %": percent(ring.error_pct) + star if ring.error_pct is not None else "",
            "sense": ring.sense,
        }
        table.add_row(*(words[name] for name in columns))
    return table


def places_table(title: str, solution: SolutionAnswer, units: str) -> Table:
    """Where everything stands, ring by ring: the link to the next ring as direction and spot, third gears, rollers."""
    links = solution.links
    thirds = any(link.third_at for link in links)
    rollers = any(ring.rollers for ring in solution.rings)
    shown = {"ring": True, "link": True, "at °": True, f"x {units}": True, f"y {units}": True}
    shown |= {f"third gear at x, y {units}": thirds, "rollers at °": rollers}
    columns = [name for name, wanted in shown.items() if wanted]
    table = plain_table(title, columns, left=("link", f"third gear at x, y {units}", "rollers at °"))
    for index, (ring, link) in enumerate(zip(solution.rings, [*links, None], strict=True)):
        at = link.arbor if link else None
        words = {
            "ring": str(index),
            "link": link_text(link),
            "at °": _degrees(at),
            f"x {units}": exact_length_text(at.x_mm if at else None, units),
            f"y {units}": exact_length_text(at.y_mm if at else None, units),
            f"third gear at x, y {units}": "; ".join(_spot(third, units) for third in (link.third_at if link else ())),
            "rollers at °": " ".join(_degrees(roller) for roller in ring.rollers),
        }
        table.add_row(*(words[name] for name in columns))
    return table


def _degrees(place: PlaceAnswer | None) -> str:
    return "" if place is None or place.direction_deg is None else f"{place.direction_deg:.4g}"


def _spot(place: PlaceAnswer, units: str) -> str:
    return f"{exact_length_text(place.x_mm, units)}, {exact_length_text(place.y_mm, units)}"


def drive_text(design: Design, solution: SolutionAnswer, drive: DriveAnswer) -> str:
    """The motor of a solution, or the crank in its place, in one sentence."""
    units = design.units
    where = f"at {_degrees(drive.motor)}°, {_spot(drive.motor, units)} {units}"
    third = "".join(
        f" through a third gear of {teeth} teeth at {_spot(at, units)} {units}"
        for teeth, at in zip(drive.thirds, drive.third_at, strict=True)
    )
    what = "hand crank at" if design.cranked else "motor of"
    text = (
        f"drive: a {what} {float(Fraction(drive.motor_rpm)):g} rev/min, {where}, turns ring {drive.ring} with a "
        f"pinion of {drive.pinion} teeth{third}"
    )
    if drive.body is not None and drive.seconds is not None and design.drive is not None and design.drive.turn:
        wished = float(design.drive.turn[1])
        text += f"; {drive.body} takes {drive.seconds:.2f} s for a turn, {wished:g} s are wished"
        if (exact := wished_rpm(design, solution)) is not None:
            text += f", which {rpm_text(exact)} would give"
    return text + ("" if design.cranked else "; whether the motor is strong enough is not computed")


def ranking_table(solutions: Sequence[SolutionAnswer], units: str, narrow: bool) -> Table:
    """The ranked list, one solution a row; rings and blanks are shown where solutions have or differ in them."""
    rows = [(str(one.rank), "", one) for one in solutions]
    return ranked_table(rows, "Ranked solutions", [units] * len(rows), narrow)


def ranked_table(
    rows: Sequence[tuple[str, str, SolutionAnswer]],
    title: str,
    units: Sequence[str],
    narrow: bool,
    caption: str | None = None,
) -> Table:
    """Rows of (rank, run, solution); the column for runs is left out where none is named. units: of each row's
    lengths; where these differ, each length stands with its own."""
    solutions = [solution for _, _, solution in rows]
    runs = any(run for _, run, _ in rows)
    several = len({tuple(ring.teeth for ring in solution.rings) for solution in solutions}) > 1
    blanks = any(ring.blank for solution in solutions for ring in solution.rings)
    places = any(solution.envelope_mm is not None for solution in solutions)
    one_unit = len(set(units)) < 2
    radius = f"radius {units[0]}" if one_unit and units else "radius"
    shown = {
        "run": runs,
        "rank": True,
        "error %": True,
        "parts": True,
        "jigs": True,
        "teeth": True,
        "largest": True,
        radius: places,
        "orders": bool(orders_told(solutions)),
        "new gears": any(solution.new_gears is not None for solution in solutions),
        "blank rings": blanks,
        "ring teeth": several and not narrow,
        "wheel/pinion of each link": not narrow,
    }
    columns = [name for name, wanted in shown.items() if wanted]
    table = plain_table(
        title, columns, left=("run", "blank rings", "ring teeth", "wheel/pinion of each link"), caption=caption
    )
    for (rank, run, solution), unit in zip(rows, units, strict=True):
        words = {
            "run": run,
            "rank": rank,
            "error %": percent(solution.worst_error_pct),
            "parts": str(solution.parts),
            "jigs": str(solution.jigs),
            "teeth": str(solution.teeth),
            "largest": str(solution.largest),
            radius: length_text(solution.envelope_mm, unit)
            + ("" if one_unit or solution.envelope_mm is None else f" {unit}"),
            "orders": orders_text(solution.orders, solution.orders_settled),
            "new gears": "" if solution.new_gears is None else str(solution.new_gears),
            "blank rings": " ".join(str(index) for index, ring in enumerate(solution.rings) if ring.blank),
            "ring teeth": " ".join(str(ring.teeth) for ring in solution.rings),
            "wheel/pinion of each link": links_text(solution),
        }
        table.add_row(*(words[name] for name in columns))
    return table


def front_table(design: Design, answer: Answer, narrow: bool = False) -> Table:
    """The Pareto front: for each point its solution, how many solutions have the same values, and its gears where there
    is room."""
    assert answer.front is not None and answer.front_ties is not None
    names = {"error": "error %", "envelope": f"radius {design.units}", "new_gears": "new gears"}
    gears = () if narrow else ("wheel/pinion of each link",)
    columns = ("rank", *(names.get(key, key) for key in design.front), "solutions alike", *gears)
    table = plain_table("", columns, left=gears)
    for rank, ties in zip(answer.front, answer.front_ties, strict=True):
        solution = answer.solutions[rank - 1]
        values = {
            "error": percent(solution.worst_error_pct),
            "envelope": length_text(solution.envelope_mm, design.units),
            **{key: str(getattr(solution, key)) for key in ("parts", "jigs", "teeth", "largest", "new_gears")},
        }
        links = [] if narrow else [links_text(solution)]
        alike = "many" if ties is None else str(ties)
        table.add_row(str(rank), *(values[key] for key in design.front), alike, *links)
    return table


def links_text(solution: SolutionAnswer) -> str:
    """All links of a solution from the inside out."""
    return " ".join(link_text(link) for link in solution.links)


def link_lines(rows: Iterable[tuple[str, SolutionAnswer]], rings: bool) -> Lines:
    """For narrow terminals: the links of each solution on lines of their own."""
    lines = []
    for mark, solution in rows:
        teeth = " ".join(str(ring.teeth) for ring in solution.rings)
        lines.append(f"{mark}: {links_text(solution)}" + (f" between rings {teeth}" if rings else ""))
    return Lines("Wheel/pinion of each link:", *lines)


def rate_text(design: Design, solution: SolutionAnswer) -> str | None:
    """With a free common rate: how long ring 0 takes for a turn beside the first body's period."""
    first = design.bodies[0]
    slow = solution.rings[0].period_error_pct
    if design.reference != "best" or slow is None:
        return None
    if first.low != first.high:
        return f"common rate: ring 0, which carries {first.name}, turns {percent(slow, signed=True)} % off its range"
    return (
        f"common rate: ring 0 takes {seven_digits(1 + slow / 100)} times {first.name}'s period for a turn; "
        "ratios are relative to ring 0"
    )


def print_answer(paper: Paper, design: Design, answer: Answer, show: Sequence[int] = (1,)) -> None:
    """The solutions asked for in full, the ranked list, and the summary line."""
    paper.heading(answer.title)
    solutions = answer.solutions
    for rank in show:
        if rank <= len(solutions):
            paper.print(solution_table(solutions[rank - 1]))
            if (rate := rate_text(design, solutions[rank - 1])) is not None:
                paper.print(rate)
            if design.fit.directions is not None:
                title = f"Where solution {rank} stands, seen from the front"
                paper.print(places_table(title, solutions[rank - 1], design.units))
                paper.print(AXES)
            if (drive := solutions[rank - 1].drive) is not None:
                paper.print(drive_text(design, solutions[rank - 1], drive))
    if len(solutions) > 1:
        paper.print(ranking_table(solutions, design.units, paper.narrow))
        if paper.narrow:
            several = len({tuple(ring.teeth for ring in one.rings) for one in solutions}) > 1
            paper.print(link_lines(((str(one.rank), one) for one in solutions), several))
    if answer.front is not None and solutions:
        keys = " and ".join(key_names(design.front))
        paper.print(f"Front of {keys}: no other solution is better in one without being worse in another")
        paper.print(front_table(design, answer, paper.narrow))
        if answer.front_open:
            paper.print(f"each of these is on the front; more may be, in {so_many(answer.front_open, 'part')} of it")
        if any(rank > design.keep for rank in answer.front):
            paper.print(f"ranks beyond {design.keep} stand on the front alone, behind the ranked list")
    print_legend(paper, solutions)
    if told := unused_thirds(design, answer):
        paper.print(told)
    if solutions and not design.arbors.reverted:
        paper.print("ratios only: no places were computed")
    if solutions and (told := not_judged(design)):
        paper.print(told)
    paper.print(summary(design, answer))
    for proof in answer.proofs or ():
        paper.print(proof_text(proof))
    if not solutions:
        paper.print(limits_text(design))
    if answer.status is Status.INFEASIBLE:
        paper.print("`ringwright explain FILE` says which of them conflict, and the least loosening that is enough")


def print_legend(paper: Paper, solutions: Sequence[SolutionAnswer]) -> None:
    """What third gears and senses in the tables of these solutions mean."""
    kinds = [KIND_BY_NAME[link.kind] for solution in solutions for link in solution.links]
    if any(kind.thirds for kind in kinds):
        paper.print("15/8p5: wheel 15, pinion 8, a third gear of 5 teeth at the pinion; w5: at the wheel")
    for line in orders_told(solutions) if len(solutions) > 1 else ():
        paper.print(line)
    if any(ring.sense == "reverse" for solution in solutions for ring in solution.rings):
        paper.print("reverse: the ring turns against ring 0")
