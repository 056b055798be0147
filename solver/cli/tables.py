"""What a maker reads on the terminal: tables of answers and stored solutions, drawn with rich."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TextIO

import pandas as pd
from rich import box
from rich.console import Console, RenderableType
from rich.table import Table
from rich.text import Text

from solver.design.design import Design
from solver.design.exact import parse_exact
from solver.design.links import KIND_BY_NAME
from solver.design.sets_data import BodySet
from solver.search.answer import Answer, LinkAnswer, RingAnswer, SolutionAnswer, Status

PIPE_WIDTH = 120  # columns where the output is no terminal


def _table(title: str, columns: Iterable[str], left: Iterable[str] = (), caption: str | None = None) -> Table:
    """A plain table; columns are right-aligned unless named in `left`."""
    table = Table(title=title, title_justify="left", box=box.SIMPLE_HEAD, caption=caption, caption_justify="left")
    table.collapse_padding, table.pad_edge = True, False
    for name in columns:
        table.add_column(name, justify="left" if name in left else "right", overflow="fold")
    return table


class Paper:
    """Where tables go: a terminal, or a pipe or file, where they are kept whole and lines end with their text."""

    def __init__(self, stream: TextIO) -> None:
        self.stream = stream
        terminal = stream.isatty()
        width = None if terminal else PIPE_WIDTH
        self.console = Console(file=stream, width=width, highlight=False, markup=False, emoji=False)
        self.terminal = terminal

    def print(self, what: RenderableType) -> None:
        """Print a table or a text."""
        if self.terminal:
            self.console.print(what)
            return
        with self.console.capture() as captured:
            self.console.print(what)
        lines = [line.rstrip() for line in captured.get().rstrip("\n").split("\n")]
        self.stream.write("\n".join(lines) + "\n")


def percent(value: float | None, signed: bool = False) -> str:
    """A percentage with four significant decimals, "" for none."""
    if value is None:
        return ""
    text = f"{value:+.4f}" if signed else f"{value:.4f}"
    return text if value == 0 or abs(value) >= 0.001 else f"{value:+.2e}" if signed else f"{value:.2e}"


def _seven(value: float) -> str:
    """Seven significant digits."""
    return f"{value:#.7g}".rstrip(".")


def _wanted(target: str | None) -> str:
    if target is None:
        return ""
    return " to ".join(_seven(float(parse_exact(part))) for part in target.split(".."))


def _link(link: LinkAnswer | None, gap: str = " ") -> str:
    """wheel/pinion, then w or p with the teeth of a third gear at the wheel or at the pinion."""
    if link is None:
        return ""
    kind = KIND_BY_NAME[link.kind]
    sides = "w" * kind.wheel_thirds + "p" * kind.pinion_thirds
    thirds = (f"{side}{teeth}" for side, teeth in zip(sides, link.thirds, strict=True))
    return gap.join((f"{link.wheel}/{link.pinion}", *thirds))


def gearing_table(design: Design, solution: SolutionAnswer) -> Table:
    """One gearing, ring by ring: teeth, the link to the next ring, ratio, what was wanted, error and sense."""
    columns = ("ring", "body", "teeth", "wheel/pinion", "ratio", "wanted", "slow/fast %", "sense")
    table = _table(f"Gearing {solution.rank}", columns, left=("body", "wheel/pinion", "sense"))
    rows: list[tuple[RingAnswer, LinkAnswer | None]] = list(zip(solution.rings, [*solution.links, None], strict=True))
    for index, (ring, link) in enumerate(rows):
        num, den = ring.ratio
        table.add_row(
            str(index),
            ring.name,
            str(ring.teeth),
            _link(link),
            _seven(num / den),
            _wanted(ring.target),
            percent(ring.period_error_pct, signed=True),
            ring.sense,
        )
    return table


def ranking_table(solutions: Sequence[SolutionAnswer]) -> Table:
    """The ranked list, one gearing a row; rings and blanks are shown where gearings differ in them."""
    rings = {tuple(ring.teeth for ring in solution.rings) for solution in solutions}
    blanks = any(ring.blank for solution in solutions for ring in solution.rings)
    extra = [name for name, shown in (("blank rings", blanks), ("ring teeth", len(rings) > 1)) if shown]
    columns = (
        "rank",
        "error %",
        "parts",
        "jigs",
        "teeth",
        "largest",
        "envelope mm",
        *extra,
        "wheel/pinion of each link",
    )
    table = _table("Ranked gearings", columns, left=("blank rings", "ring teeth", "wheel/pinion of each link"))
    for solution in solutions:
        words = {
            "blank rings": " ".join(str(index) for index, ring in enumerate(solution.rings) if ring.blank),
            "ring teeth": " ".join(str(ring.teeth) for ring in solution.rings),
        }
        table.add_row(
            str(solution.rank),
            percent(solution.worst_error_pct),
            str(solution.parts),
            str(solution.jigs),
            str(solution.teeth),
            str(solution.largest),
            "" if solution.envelope_mm is None else f"{solution.envelope_mm:.1f}",
            *(words[name] for name in extra),
            _links_in_short(solution),
        )
    return table


def _links_in_short(solution: SolutionAnswer) -> str:
    return " ".join(_link(link, gap="") for link in solution.links)


def summary(answer: Answer) -> str:
    """The line that says what is known, and no more."""
    best = answer.solutions[0] if answer.solutions else None
    bound = answer.bound_worst_error_pct
    match answer.status:
        case Status.OPTIMAL:
            assert best is not None
            count = len(answer.solutions)
            listed = "the only gearing" if count == 1 else f"these are the first {count} gearings in order"
            error = percent(best.worst_error_pct)
            return f"proven best: worst error {error} %, {best.parts} parts, {best.jigs} jigs; {listed}"
        case Status.FEASIBLE:
            assert best is not None and bound is not None
            return (
                f"not proven ({_why(answer)}): best found has worst error {percent(best.worst_error_pct)} %; "
                f"no gearing is below {percent(bound)} %"
            )
        case Status.INFEASIBLE:
            return "proven: no gearing meets these limits"
        case Status.UNKNOWN:
            return f"nothing known yet ({_why(answer)}): no gearing found, none ruled out"


def _why(answer: Answer) -> str:
    reasons = {
        "time": "the time limit struck",
        "interrupt": "interrupted",
        "crowded": "too many gearings share the best error to order them",
    }
    reason = str(answer.report["termination"])
    return reasons.get(reason, reason)


def print_answer(paper: Paper, design: Design, answer: Answer) -> None:
    """The best gearing in full, the ranked list, and the summary line."""
    paper.print(Text(answer.title, style="bold"))
    if answer.solutions:
        paper.print(gearing_table(design, answer.solutions[0]))
        if len(answer.solutions) > 1:
            paper.print(ranking_table(answer.solutions))
            if any(link.kind != "plain" for solution in answer.solutions for link in solution.links):
                paper.print("w5, p5: with a third gear of 5 teeth at the wheel, at the pinion")
        if any(ring.sense == "reverse" for ring in answer.solutions[0].rings):
            paper.print("reverse: this ring turns against ring 0")
    paper.print(summary(answer))


def sets_table(sets: Iterable[BodySet]) -> Table:
    """All body sets in short."""
    table = _table("Body sets", ("set", "bodies", "what", "source"), left=("set", "what", "source"))
    for entry in sets:
        table.add_row(entry.name, str(len(entry.periods)), entry.title, entry.source)
    return table


def set_table(entry: BodySet) -> Table:
    """One body set with its periods."""
    columns = ("body", f"period ({entry.unit})", "ratio to the first")
    table = _table(f"{entry.title} (set {entry.name})", columns, left=("body",), caption=f"source: {entry.source}")
    first = entry.periods[0][1]
    for (name, period), text in zip(entry.periods, entry.printed, strict=True):
        table.add_row(name, text, f"{float(period / first):.6f}")
    return table


def stored_table(frame: pd.DataFrame) -> Table:
    """Stored solutions, a row each; the runs are lettered and named below."""
    runs = list(dict.fromkeys(frame["run"]))
    marks = {run: _letters(index) for index, run in enumerate(runs)}
    columns = (
        "run",
        "rank",
        "status",
        "error %",
        "parts",
        "jigs",
        "teeth",
        "largest",
        "envelope mm",
        "wheel/pinion of each link",
    )
    legend = "\n".join(f"{mark}: {run}" for run, mark in marks.items())
    table = _table("Stored gearings", columns, left=("run", "status", columns[-1]), caption=legend)
    for row in frame.to_dict("records"):
        table.add_row(
            marks[row["run"]],
            str(row["rank"]),
            row["status"],
            percent(row["worst_error_pct"]),
            *(str(row[name]) for name in ("parts", "jigs", "teeth", "largest")),
            "" if pd.isna(row["envelope_mm"]) else f"{row['envelope_mm']:.1f}",
            " ".join(f"{a}/{b}" for a, b in zip(row["link_wheel"], row["link_pinion"], strict=True)),
        )
    return table


def _letters(index: int) -> str:
    """A, B, ... Z, AA, AB, ..."""
    word = ""
    index += 1
    while index:
        index, rest = divmod(index - 1, 26)
        word = chr(ord("A") + rest) + word
    return word
