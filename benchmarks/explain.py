"""How long it takes to say why nothing fits: designs in which one limit of fit is too tight, and the demo likewise.

`python -m benchmarks.explain` prints for each: seconds, what conflicts, what is enough. `?` marks a limit that is
not known to be needed, and a loosening that may be more than the least.
"""

from __future__ import annotations

import sys
import time
from dataclasses import dataclass

from benchmarks.cases import CONFIGS
from solver.files.text import data_of
from solver.search.why.explain import PATIENCE_S, explain
from solver.search.why.explanation import Explanation
from solver.search.why.knob import Data

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
DEMO = {  # of the design that ships, likewise
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
    """An explanation and how long it took [seconds]."""

    seconds: float
    explanation: Explanation


def cases() -> dict[str, tuple[str, Data]]:
    """Every file that is explained, by name, with the field that is too tight."""
    found = {
        f"{where}: {field}": (field, hall(**{**HALLS[where], **changes}))
        for where, some in TIGHT.items()
        for field, changes in some
    }
    text = (CONFIGS / "saturn-hall.toml").read_text(encoding="utf-8")
    for field, (now, then) in DEMO.items():
        found[f"demo: {field}"] = field, data_of(text.replace(now, then), "demo")
    return found


def measure(smoke: bool = False) -> dict[str, Told]:
    """Explain every file, or the first three, as the command does."""
    found = {}
    for name, (_, data) in list(cases().items())[: 3 if smoke else None]:
        began = time.perf_counter()
        explanation = explain(data, patience_s=PATIENCE_S)
        found[name] = Told(time.perf_counter() - began, explanation)
        print(line(name, found[name]), flush=True)
    return found


def line(name: str, told: Told) -> str:
    """One case in words."""
    conflict = [one.field + ("" if one.needed else "?") for one in told.explanation.conflict]
    enough = [
        " and ".join(f"{one.field} {one.then}" for one in item.changes) + ("" if item.least else "?")
        for item in told.explanation.loosenings
    ]
    return (
        f"{told.seconds:6.2f} s  {name}\n    conflict: {', '.join(conflict) or 'open'}\n    enough: {', '.join(enough)}"
    )


if __name__ == "__main__":
    measure(smoke="--smoke" in sys.argv[1:])
