"""The results as one Markdown file and two pictures."""

from __future__ import annotations

import datetime
import math
import os
import platform
import re
import shutil
import subprocess
from collections.abc import Sequence
from dataclasses import dataclass
from importlib import metadata
from pathlib import Path
from typing import TYPE_CHECKING

from benchmarks.cases import BY_NAME as CASES
from benchmarks.cases import goal_of
from benchmarks.ways import WAYS, Outcome, rounding

if TYPE_CHECKING:
    from benchmarks.growth import Growth

PACKAGES = ("ortools", "highspy", "pychoco", "pumpkin-solver", "didppy", "scipy", "numpy", "matplotlib")
OURS, HAND = "ours", "by hand"
SHARED = (
    "The machine had other work: the limit is of wall time, and of that a way had what the column CPU says. What is "
    "not proven here may be proven in the same wall time on a machine of one's own."
)


@dataclass(frozen=True)
class Row:
    """One way on one case. outcome None: `note` says why; import_seconds: what the process spent before the solve;
    cpu_seconds: of the solve, those of all its threads and of processes that it began."""

    case: str
    way: str
    outcome: Outcome | None
    note: str
    runs: int = 0
    import_seconds: float = 0.0
    cpu_seconds: float = 0.0


def told(row: Row) -> str:
    """A row in one line."""
    if row.outcome is None:
        return row.note
    proof = "proven" if row.outcome.proven else "not proven"
    return f"{row.outcome.seconds:10.3f} s {row.cpu_seconds:10.3f} s CPU  {answer(row)}  {proof}  {row.note}"


def answer(row: Row) -> str:
    """What a way found: the error in percent, for jigs both figures, for a front the number of points and its ends."""
    assert row.outcome is not None
    points, goal = row.outcome.points, _goal(row)
    if not points:
        return "none"
    if goal == "jigs":
        return f"{points[0].jigs} jigs, {100 * points[0].error:.4f} %"
    if goal == "front":
        ends = (points[0], points[-1])
        return f"{len(points)} points, " + " to ".join(f"{100 * p.error:.4f} % / {p.largest}" for p in ends)
    return f"{100 * points[0].error:.4f} %"


def _goal(row: Row, smoke: bool = False) -> str:
    return goal_of(CASES[row.case].design(smoke))


def same(goal: str, links: int, one: Outcome, other: Outcome) -> bool:
    """Whether two outcomes tell the same answer, to the rounding of the logarithms."""
    if len(one.points) != len(other.points):
        return False
    return all(
        abs(math.log1p(a.error) - math.log1p(b.error)) <= rounding(links)
        and (goal != "jigs" or a.jigs == b.jigs)
        and (goal != "front" or a.largest == b.largest)
        for a, b in zip(one.points, other.points, strict=True)
    )


def disagreements(rows: Sequence[Row], smoke: bool) -> list[str]:
    """Where two proven answers to one case differ by more than rounding, or a heuristic beats a proof."""
    found = []
    for case in dict.fromkeys(row.case for row in rows):
        design = CASES[case].design(smoke)
        goal, links = goal_of(design), len(design.structures()[-1].rings) - 1
        here = [row for row in rows if row.case == case and row.outcome is not None]
        proven = [row for row in here if row.outcome.proven]
        for row in here:
            for other in proven[:1]:
                if row.outcome.proven and not same(goal, links, row.outcome, other.outcome):
                    found.append(f"{case}: {row.way} proved {answer(row)}, {other.way} {answer(other)}")
                better = goal == "error" and row.outcome.points and other.outcome.points
                if better and row.outcome.points[0].error < other.outcome.points[0].error - rounding(links):
                    found.append(f"{case}: {row.way} found {answer(row)}, {other.way} had proved {answer(other)}")
    return found


def write(
    rows: Sequence[Row],
    grown: Sequence[Growth],
    limit: float,
    repeats: int,
    smoke: bool,
    into: Path,
    name: str = "RESULTS",
    by_cpu: bool = False,
    again: str = "make bench",
) -> Path:
    """Write {name}.md and, where matplotlib is there, its pictures. Returns the file. by_cpu: what ratios are of;
    again: the words that repeat it."""
    into.mkdir(parents=True, exist_ok=True)
    pictures = _pictures(rows, grown, limit, into, name.lower())
    text = into / f"{name}.md"
    lines = [
        "# Benchmarks",
        "",
        *_preface(rows, limit, repeats, smoke, again, by_cpu),
        *([f"![Time of every way on every case]({pictures[0].name})", ""] if pictures else []),
        *_hand(rows),
        *(line for case in dict.fromkeys(row.case for row in rows) for line in _case(case, rows, limit, by_cpu)),
        *_growth(grown, pictures),
        *_machine(),
    ]
    text.write_text("\n".join(lines), encoding="utf-8")
    return text


def _preface(rows: Sequence[Row], limit: float, repeats: int, smoke: bool, again: str, by_cpu: bool) -> list[str]:
    here = [way for way in WAYS if any(row.way == way.name for row in rows)]
    left = [case for case in CASES if not any(row.case == case for row in rows)]
    return [
        *(["**Tiny designs, to see that everything runs: not a measurement.**", ""] if smoke else []),
        f"Made {datetime.date.today().isoformat()} in one run: every way a fresh process for every case, at most "
        f"{limit:g} s each. *Time* is wall time of the solve alone, its model included, imports not; the median of "
        f"{repeats} where one takes less than 5 s, and one run above. *CPU* is that of all threads in this time. "
        f"*Ratio* is the {'CPU' if by_cpu else 'wall'} time beside ours. *Answer* is the least worst "
        "error as exact arithmetic judges the train that was found; *proven* is to the rounding of the "
        "way's own logarithms.",
        "",
        *([SHARED, ""] if by_cpu else []),
        "All ways start from the design and the same rule of what a link may be; listing that is part of every time. "
        "The peers prove the first rank key (for jigs the error behind it too) and return one train, any of those that "
        "tie. Ours settles ties by all keys, asked for one solution as for ten, and judges what it returns. A front is "
        "found by the peers one point after the other, each with a smaller largest gear allowed than the last; ours "
        "gives each point the first of its ties by all keys, and counts them.",
        "",
        "| way | what it is |",
        "|---|---|",
        *(f"| {way.name} | {way.what} |" for way in here),
        "",
        f"To repeat: `{again}` (or `python -m benchmarks.run --help`). `--smoke` runs tiny designs.",
        "",
        *([f"Left out: {', '.join(left)}.", ""] if left else []),
    ]


def _hand(rows: Sequence[Row]) -> list[str]:
    cases = list(dict.fromkeys(row.case for row in rows))
    found = []
    for case in cases:
        here = {row.way: row for row in rows if row.case == case and row.outcome is not None}
        best = next((row for row in here.values() if row.outcome.proven), None)
        if HAND in here:
            found.append(f"| {case} | {answer(here[HAND])} | {answer(best) if best else 'not proven by any'} |")
    if not found:
        return []
    return ["## By hand and proven best", "", "| case | by hand | proven best |", "|---|---|---|", *found, ""]


def _case(case: str, rows: Sequence[Row], limit: float, by_cpu: bool) -> list[str]:
    here = [row for row in rows if row.case == case]
    ours = next((row for row in here if row.way == OURS and row.outcome), None)
    lines = [f"## {case}", "", CASES[case].what[0].upper() + CASES[case].what[1:] + ".", ""]
    lines += ["| way | time s | CPU s | ratio | answer | proven | note |", "|---|--:|--:|--:|---|---|---|"]
    for row in here:
        if row.outcome is None:
            lines.append(f"| {row.way} | | | | | | {row.note} |")
            continue
        out = row.outcome
        seconds = f"{out.seconds:.3f}" + (" (limit)" if _at_limit(row, limit) else "")
        ratio = _ratio(row, ours, limit, by_cpu)
        note = f"{row.note}; imports {row.import_seconds:.2f} s".lstrip("; ")
        proven = "yes" if out.proven else "no"
        lines.append(f"| {row.way} | {seconds} | {row.cpu_seconds:.3f} | {ratio} | {answer(row)} | {proven} | {note} |")
    return [*lines, ""]


def _at_limit(row: Row, limit: float) -> bool:
    assert row.outcome is not None
    return not row.outcome.proven and row.outcome.seconds >= 0.95 * limit


def _ratio(row: Row, ours: Row | None, limit: float, by_cpu: bool) -> str:
    """Time beside ours; a bound where one of the two was stopped by the limit, nothing where both were."""
    if ours is None:
        return ""
    at_limit, ours_stopped = _at_limit(row, limit), _at_limit(ours, limit)
    if row is ours or (at_limit and ours_stopped):
        return "1.00" if row is ours else ""
    assert row.outcome is not None and ours.outcome is not None
    one, other = (row.cpu_seconds, ours.cpu_seconds) if by_cpu else (row.outcome.seconds, ours.outcome.seconds)
    return ("> " if at_limit else "< " if ours_stopped else "") + f"{one / other:.2f}"


def _growth(grown: Sequence[Growth], pictures: list[Path]) -> list[str]:
    if not grown:
        return []
    return [
        "## How ours grows",
        "",
        "Links: a body on every ring, invented periods, one structure. Structures: Saturn's seven large moons on "
        "ranges of rings. Memory is the peak of the whole process, imports included.",
        "",
        *([f"![Time and memory of ours]({pictures[1].name})", ""] if len(pictures) > 1 else []),
        "| what | size | time s | peak MB | status |",
        "|---|--:|--:|--:|---|",
        *(f"| {g.what} | {g.size:,} | {g.seconds:.3f} | {g.megabytes:.0f} | {g.status} |" for g in grown),
        "",
    ]


def _machine() -> list[str]:
    lines = ["## Versions", "", f"- Python {platform.python_version()}, {platform.system()} {platform.machine()}"]
    lines.append(f"- {os.cpu_count()} processors, {_processor()}")
    for name in PACKAGES:
        try:
            lines.append(f"- {name} {metadata.version(name)}")
        except metadata.PackageNotFoundError:
            lines.append(f"- {name}: not installed")
    if shutil.which("minizinc"):
        told_version = subprocess.run(["minizinc", "--version"], capture_output=True, text=True, check=False).stdout
        told_solvers = subprocess.run(["minizinc", "--solvers"], capture_output=True, text=True, check=False).stdout
        version = re.search(r"version (\d[\d.]*)", told_version)
        gecode = re.search(r"Gecode (\d\S*)", told_solvers)
        lines.append(f"- MiniZinc {version[1] if version else '?'} with Gecode {gecode[1] if gecode else '?'}")
    else:
        lines.append("- MiniZinc: not installed")
    return [*lines, ""]


def _processor() -> str:
    try:
        text = Path("/proc/cpuinfo").read_text(encoding="utf-8")
    except OSError:
        return platform.processor() or "unknown"
    found = re.search(r"model name\s*: (.*)", text)
    return found[1] if found else platform.machine()


def _pictures(rows: Sequence[Row], grown: Sequence[Growth], limit: float, into: Path, name: str) -> list[Path]:
    try:
        import matplotlib
    except ImportError:
        return []
    matplotlib.use("Agg")
    pictures = [_times(rows, limit, into / f"{name}.png")]
    if grown:
        pictures.append(_curves(grown, into / "growth.png"))
    return pictures


def _times(rows: Sequence[Row], limit: float, file: Path) -> Path:
    """One line of the picture for each case, one mark for each way: filled where proven, hollow where not."""
    from matplotlib import pyplot as plt

    cases = list(dict.fromkeys(row.case for row in rows))[::-1]
    ways = [way.name for way in WAYS if any(row.way == way.name for row in rows)]
    marks, colours = "oXDs^v<>Pph*d", plt.get_cmap("tab20").colors
    figure, axes = plt.subplots(figsize=(10, 0.55 * len(cases) + 2), layout="constrained")
    for number, way in enumerate(ways):
        here = [row for row in rows if row.way == way and row.outcome is not None]
        # Ways of one case are set a little apart so that no mark hides another.
        heights = [cases.index(row.case) + 0.3 - 0.6 * number / max(1, len(ways) - 1) for row in here]
        for row, height in zip(here, heights, strict=True):
            axes.plot(
                max(row.outcome.seconds, 1e-3),
                height,
                marks[number % len(marks)],
                color=colours[number % len(colours)],
                markersize=9 if way == OURS else 7,
                markerfacecolor=None if row.outcome.proven else "white",
            )
        axes.plot([], [], marks[number % len(marks)], color=colours[number % len(colours)], label=way)
    axes.plot([], [], "o", color="grey", markerfacecolor="white", label="hollow: not proven")
    axes.axvline(limit, color="grey", linestyle="--", linewidth=1)
    axes.annotate(f"limit {limit:g} s", (limit, -0.5), ha="right", va="bottom", fontsize=8, color="grey", rotation=90)
    for height in range(len(cases) - 1):
        axes.axhline(height + 0.5, color="lightgrey", linewidth=0.6)
    axes.set_xscale("log")
    axes.set_yticks(range(len(cases)), cases)
    axes.set_ylim(-0.6, len(cases) - 0.4)
    axes.grid(axis="x", which="major", color="lightgrey", linewidth=0.6)
    axes.set_xlabel("seconds to the proof or to the end (log scale; further left is faster)")
    figure.legend(loc="outside upper center", ncols=5, fontsize=9, frameon=False)
    figure.savefig(file, dpi=150)
    plt.close(figure)
    return file


def _curves(grown: Sequence[Growth], file: Path) -> Path:
    from matplotlib import pyplot as plt

    figure, panels = plt.subplots(1, 2, figsize=(10, 4), layout="constrained")
    for axes, what in zip(panels, ("links", "structures"), strict=True):
        here = [point for point in grown if point.what == what]
        sizes = [point.size for point in here]
        axes.loglog(sizes, [point.seconds for point in here], "o-", color="tab:blue", label="time [s]")
        stopped = [point for point in here if point.status not in ("optimal", "infeasible")]
        marks = {"markersize": 9, "markerfacecolor": "white", "markeredgecolor": "tab:blue", "zorder": 3}
        axes.plot([point.size for point in stopped], [point.seconds for point in stopped], "o", **marks)
        axes.set_xlabel(what)
        axes.set_ylabel("time [s]", color="tab:blue")
        axes.set_xticks(sizes, [f"{size:,}" for size in sizes])
        axes.minorticks_off()
        axes.grid(color="lightgrey", linewidth=0.6)
        memory = axes.twinx()
        memory.plot(sizes, [point.megabytes for point in here], "s--", color="tab:orange", label="peak memory [MB]")
        memory.set_ylim(bottom=0)
        memory.set_ylabel("peak memory [MB]", color="tab:orange")
    figure.suptitle(
        "ours: time (blue, log scale; hollow: stopped by the limit) and peak memory of the process (orange)"
    )
    figure.savefig(file, dpi=150)
    plt.close(figure)
    return file
