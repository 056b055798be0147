"""How well it is said why nothing fits: 60 designs with planted limits, and the demo with seven.

`python -m benchmarks.explain` writes EXPLAIN.md. Each design is explained as the command does, in this process. Then
each loosening is solved, judging included, and so is the file with one step less of it. `--smoke` takes three.
"""

from __future__ import annotations

import random
import sys
import time
from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path

from benchmarks.cases import DISCS
from benchmarks.planted import WANTED, feasible_data, first_cases, planted
from solver import DesignError, solve
from solver.answer.document import Status
from solver.files.load import design_from_data
from solver.files.text import data_of
from solver.search.why.explain import PATIENCE_S, explain
from solver.search.why.explanation import Explanation, Loosening
from solver.search.why.knob import Data

HERE = Path(__file__).resolve().parent
LIMIT_S = 60.0  # for solving a file that is loosened
ENOUGH_S = 5.0  # of work, that an explanation may take

HALL = """
[bodies]
set = "jupiter"
[rings]
inner_teeth = 24
tooth_step = 8
tooth_pitch = 12
addendum = 3
rim = 4
level_spacing = 10
[arbors]
wheel_teeth = {{min = 8, max = 24}}
third_teeth = {{min = 8, max = 12}}
[fit]
frame = {{shape = "{shape}", {size}, depth = {depth}}}
clearance = {clearance}
directions = {directions}
plate = "{plate}"
stands = "{stands}"
post_radius = {post}
{rollers}
[search]
max_error_pct = 15
keep = 1
"""
ROOMY = {
    "shape": "square", "size": "side = 400", "depth": 60, "clearance": 1, "directions": 12, "plate": "none",
    "stands": "none", "post": 1, "rollers": "",
}  # fmt: skip


def hall(**changes: object) -> Data:
    """A small hall's file with some fields of fit changed."""
    return data_of(HALL.format(**{**ROOMY, **changes}), "hall")


def rollers(radius: int = 3, reach: int = 60) -> str:
    return f"rollers = {{count = 3, radius = {radius}, reach = {reach}}}"


# Halls with all that stands in the way of each other, in which everything fits.
HALLS = {
    "wall": {"plate": "inner", "rollers": rollers()},
    "table": {"plate": "outer", "rollers": rollers()},
    "wall, stands": {"plate": "inner", "stands": "outer", "rollers": rollers()},
    "wall, stands, few directions": {"plate": "inner", "stands": "outer", "directions": 8},
}
_FOUR = {"rollers": rollers(reach=1), "directions": [7, 97, 187, 277]}
TIGHT = {  # limits planted so that nothing is left: the field, and what is changed
    "wall": [
        ("fit.frame.side", {"size": "side = 250"}),
        ("fit.directions", {"directions": 2}),
        ("fit.clearance", {"clearance": 6}),
        ("fit.rollers.radius", {"rollers": rollers(12)}),
        ("fit.rollers.reach", _FOUR),
    ],
    "table": [
        ("fit.frame.depth", {"depth": 39}),
        ("fit.directions", {"directions": [10, 40, 70]}),
        ("fit.clearance", {"clearance": 4}),
        ("fit.rollers.radius", {"rollers": rollers(20)}),
        ("fit.rollers.reach", _FOUR),
    ],
    "wall, stands": [
        ("fit.frame.side", {"size": "side = 250"}),
        ("fit.directions", {"directions": [10, 40, 70]}),
        ("fit.clearance", {"clearance": 6}),
        ("fit.rollers.radius", {"rollers": rollers(12)}),
        ("fit.frame.depth", {"depth": 39}),
    ],
    "wall, stands, few directions": [
        ("fit.frame.side", {"size": "side = 215"}),
        ("fit.frame.depth", {"depth": 39}),
        ("fit.directions", {"directions": 2}),
        ("fit.post_radius", {"post": 8}),
        ("fit.rollers.radius", {"rollers": rollers(12)}),
    ],
}
DEMO = {  # of the demo with gears as discs, likewise
    "fit.frame.depth": ("depth = 160", "depth = 120"),
    "fit.directions": ("directions = 24", "directions = 2"),
    "fit.post_radius": ("post_radius = 1.0", "post_radius = 2.9"),
    "fit.rollers.radius": ("radius = 3, reach", "radius = 20, reach"),
    "fit.rollers.reach": ("reach = 60", "reach = 5"),
    "fit.clearance": ("clearance = 1.0", "clearance = 6.0"),
    "arbors.pinion_teeth.min": ("pinion_teeth = {min = 5, max = 24}", "pinion_teeth = {min = 14, max = 24}"),
}


@dataclass(frozen=True)
class Told:
    """An explanation of a design, what was planted in it, and how long it took: work and waiting [seconds].

    fits: for each loosening whether the design has a solution then; tighter: whether it has one with a step less. None:
    that was not settled in time.
    """

    planted: frozenset[str]
    work_s: float
    seconds: float
    explanation: Explanation
    fits: tuple[bool | None, ...]
    tighter: tuple[bool | None, ...]

    @property
    def named(self) -> bool:
        """Whether everything that was planted is among what conflicts, and known to be needed there."""
        return self.planted <= {one.field for one in self.explanation.conflict if one.needed}

    @property
    def unsure(self) -> int:
        """How many of the limits that conflict are not known to be needed."""
        return sum(not one.needed for one in self.explanation.conflict)

    @property
    def wrong(self) -> list[Loosening]:
        """Loosenings that are not enough, or said to be the least and are not."""
        return [
            item
            for item, fits, less in zip(self.explanation.loosenings, self.fits, self.tighter, strict=True)
            if fits is False or (item.least and less)
        ]


def cases(smoke: bool = False) -> dict[str, tuple[frozenset[str], Data]]:
    """Every file that is explained, by name, with the fields that are too tight."""
    found = {}
    for seed in first_cases(2 if smoke else WANTED):
        data = feasible_data(seed)
        tight = data and planted(data, random.Random(seed))
        assert tight
        found[f"seed {seed}"] = frozenset(tight[1]), tight[0]
    for where, some in TIGHT.items():
        for field, changes in some[: 1 if smoke else None]:
            found[f"{where}: {field}"] = frozenset({field}), hall(**{**HALLS[where], **changes})
    text = DISCS.read_text(encoding="utf-8")
    for field, (now, then) in list(DEMO.items())[: 0 if smoke else None]:
        found[f"demo: {field}"] = frozenset({field}), data_of(text.replace(now, then), "demo")
    return found


def has_solution(data: Data) -> bool | None:
    """Whether a file's data has a solution, by a whole solve, judged; None: not settled in time."""
    try:
        answer = solve(replace(design_from_data(data, "loosened"), time_limit_s=LIMIT_S, keep=1, front=()))
    except DesignError:
        return False
    if answer.solutions:
        return True
    return False if answer.status is Status.INFEASIBLE else None


def measure(smoke: bool = False, some: Iterable[str] = ()) -> dict[str, Told]:
    """Explain every file as the command does, or those whose name holds one of these words."""
    found = {}
    for name, (fields, data) in cases(smoke).items():
        if some and not any(word in name for word in some):
            continue
        work, began = time.process_time(), time.perf_counter()
        explanation = explain(data, patience_s=PATIENCE_S)
        work, began = time.process_time() - work, time.perf_counter() - began
        found[name] = Told(
            fields, work, began, explanation,
            tuple(has_solution(item.data) for item in explanation.loosenings),
            tuple(item.tighter is not None and has_solution(item.tighter) for item in explanation.loosenings),
        )  # fmt: skip
        print(row(name, found[name]), flush=True)
    return found


def row(name: str, told: Told) -> str:
    """One case as a row of the table."""
    conflict = [one.field + ("" if one.needed else "?") for one in told.explanation.conflict]
    enough = [
        " and ".join(f"{one.field} {one.then}" for one in item.changes) + ("" if item.least else "?")
        for item in told.explanation.loosenings
    ]
    left_open = f"; open: {', '.join(told.explanation.left_open)}" if told.explanation.left_open else ""
    number = len(enough)
    cells = (
        name,
        ", ".join(sorted(told.planted)),
        "yes" if told.named else "**no**",
        ", ".join(conflict) or "open",
        str(told.unsure or ""),
        f"{', '.join(enough)}{left_open}",
        f"{sum(map(bool, told.fits))} of {number}",
        f"{told.tighter.count(False)} of {number}",
        f"{told.work_s:.1f}",
        f"{told.seconds:.1f}",
    )
    return "| " + " | ".join(cells) + " |"


HEADS = (
    "case", "planted", "named", "these limits conflict", "not known to be needed", "each of these is enough",
    "confirmed", "a step less refused", "work, s", "waiting, s",
)  # fmt: skip


def report(found: dict[str, Told]) -> str:
    """The table as Markdown, and what there is to be said of it."""
    told = list(found.values())
    slow = [name for name, one in found.items() if one.work_s > ENOUGH_S]
    number = sum(len(one.fits) for one in told)
    lines = [
        "# Why nothing fits",
        "",
        "Written by `python -m benchmarks.explain`. Designs in which limits are planted that leave nothing:",
        f"{WANTED} random ones of teeth, {sum(map(len, TIGHT.values()))} halls with plate, posts, rollers, stands and "
        f"few directions, and the demo, its gears as discs, with {len(DEMO)}.",
        f"Each is explained as the command does, with {PATIENCE_S:g} s of patience. Work is processor time, waiting is",
        "what a clock says, which other programs make longer. `?` marks a limit that is not known to be needed, and a",
        "loosening of which less may be enough; what is open was too much work to settle. Each loosening was then",
        "solved, and judged, and so was the file with one step less of it.",
        "",
        f"- what was planted is named: {sum(one.named for one in told)} of {len(told)}",
        f"- and every limit named is needed: {sum(one.named and not one.unsure for one in told)} of {len(told)}",
        f"- loosenings confirmed: {sum(sum(map(bool, one.fits)) for one in told)} of {number}; a step less refused: "
        f"{sum(one.tighter.count(False) for one in told)} of {number}; wrong: {sum(len(one.wrong) for one in told)}",
        f"- more than {ENOUGH_S:g} s of work: {', '.join(slow) or 'none'}; the longest took "
        f"{max(one.work_s for one in told):.1f} s",
        "",
        "| " + " | ".join(HEADS) + " |",
        "|---" * len(HEADS) + "|",
        *(row(name, one) for name, one in found.items()),
    ]
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    words = sys.argv[1:]
    some = [word for word in words if word != "--smoke"]
    text = report(measure("--smoke" in words, some))
    if not words:
        (HERE / "EXPLAIN.md").write_text(text, encoding="utf-8")
    print(text)
