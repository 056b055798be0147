"""The cases: full-size designs, each with a tiny version of the same kind that the tests run.

The periods of the long chains are invented; every other period is that of a body set, with its source there.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path

from solver import Design, load_design, parse_design

ROOT = Path(__file__).resolve().parents[1]
DESIGNS = Path(__file__).with_name("designs")  # all with gears as plain discs, which peers can be asked for
DISCS = DESIGNS / "hall-of-discs.toml"  # the demo


@dataclass(frozen=True)
class Case:
    """A design at full size and a tiny one of the same kind. goal: what is best, see `goal_of`."""

    name: str
    what: str
    full: Callable[[], Design]
    tiny: Callable[[], Design]

    def design(self, smoke: bool) -> Design:
        """The design to run, without places, which no peer can choose. Raises DesignError if its text is wrong."""
        return (self.tiny() if smoke else self.full()).without_places()


def goal_of(design: Design) -> str:
    """ "front" (error against a second key), "jigs" (fewest jigs, then the error), or "error"."""
    if design.front:
        return "front"
    return "jigs" if design.rank[0] == "jigs" else "error"


THIN = "tooth_pitch = 12.0\naddendum = 0\nrim = 0"  # no tips, rims or clearance in the geometry


def listed(periods: Sequence[object]) -> str:
    """Own bodies with these periods, for a design file."""
    return "".join(f'[[bodies.list]]\nname = "Body {i}"\nperiod = "{p}"\n' for i, p in enumerate(periods))


def file(name: str) -> Callable[[], Design]:
    """A design of this folder."""
    return lambda: load_design(DESIGNS / f"{name}.toml")


def discs() -> Design:
    """The demo with gears as plain discs."""
    return load_design(DISCS)


def text(toml: str) -> Callable[[], Design]:
    """A design written here."""
    return lambda: parse_design(toml, "benchmark")


def saturn(
    rings: str,
    *,
    only: tuple[str, ...] = (),
    sense: str = "same",
    most: int = 24,
    third_gears: int = 0,
    search: str = 'rank = ["error", "parts"]',
    body_set: str = "saturn",
) -> Callable[[], Design]:
    """A body set with thin wire (no addendum, rim or clearance); `most`: teeth of the largest wheel and pinion."""
    chosen = f"only = {list(only)}".replace("'", '"') if only else ""
    return text(
        f"""
[bodies]
set = "{body_set}"
sense = "{sense}"
{chosen}
[rings]
{rings}
{THIN}
[arbors]
wheel_teeth = {{min = 5, max = {most}}}
pinion_teeth = {{min = 5, max = {most}}}
third_gears = {third_gears}
[fit]
clearance = 0
[search]
{search}
"""
    )


def spread(bodies: int, most: int, thirds: int) -> Callable[[], Design]:
    """Bodies with invented periods, each 1.5 to 2.2 times the one before, on rings of several steps, up to one blank:
    what of the errors is not the worst one is free, so that trains tie in crowds."""
    periods, period = [Decimal(1)], Decimal(1)
    for body in range(1, bodies):
        period *= Decimal("1.5") + Decimal("0.7") * (Decimal(body) * Decimal("0.6180339887") % 1)
        periods.append(period)
    return text(
        f"""
[bodies]
sense = "either"
{listed([f"{p:.6f}" for p in periods])}
[rings]
inner_teeth = {{min = 20, max = 28}}
tooth_step = {{min = 3, max = 5}}
blanks = {{min = 0, max = 1}}
{THIN}
[arbors]
wheel_teeth = {{min = 5, max = {most}}}
pinion_teeth = {{min = 5, max = {most}}}
third_gears = {thirds}
third_teeth = {{min = 5, max = 20}}
[fit]
clearance = 0
"""
    )


def chain(links: int, most: int = 24) -> Callable[[], Design]:
    """A body on every ring, rings of 30, 34, 38 ... teeth, invented periods.

    Each period is the one before times 1.25 to 1.65, spread by the golden ratio, times the step of the rings.
    """
    periods, period = [Decimal(1)], Decimal(1)
    for link in range(links):
        spread = Decimal(link + 1) * Decimal("0.6180339887") % 1
        period *= (Decimal("1.25") + Decimal("0.4") * spread) * (34 + 4 * link) / (30 + 4 * link)
        periods.append(period)
    return text(
        f"""
{listed([f"{p:.6f}" for p in periods])}
[rings]
inner_teeth = 30
tooth_step = 4
{THIN}
[arbors]
wheel_teeth = {{min = 5, max = {most}}}
pinion_teeth = {{min = 5, max = {most}}}
[fit]
clearance = 0
"""
    )


def free(periods: Sequence[object], rings: str, gears: str, search: str = "") -> Callable[[], Design]:
    """Rings that are free of each other, and ratios alone: no distance between centres has to agree."""
    return text(
        f"""
[bodies]
sense = "either"
{listed(periods)}
[rings]
teeth = [{", ".join([rings] * len(periods))}]
[arbors]
wheel_teeth = {gears}
pinion_teeth = {gears}
reverted = false
[search]
{search}
"""
    )


def free_rate(bodies: int, most: int, thirds: int) -> Callable[[], Design]:
    """Bodies with invented periods, the motor sets their common rate."""
    periods = [Decimal(1), Decimal("3.148"), Decimal("9.472332"), Decimal("17.770090832"), Decimal("36.51754488")]
    return text(
        f"""
[bodies]
reference = "best"
sense = "either"
{listed([*periods, Decimal("62.81017719")][:bodies])}
[rings]
inner_teeth = 24
tooth_step = 8
blanks = {{min = 0, max = 2}}
module = 2
addendum = 0
rim = 0
[arbors]
wheel_teeth = {{min = 7, max = {most}}}
pinion_teeth = {{min = 7, max = {most}}}
third_gears = {thirds}
third_teeth = {{min = 7, max = 16}}
[fit]
clearance = 0
[search]
max_error_pct = 40
"""
    )


FULL_RANGE = """
inner_teeth = {min = 18, max = 36}
tooth_step = {min = 2, max = 8}
blanks = {min = 0, max = 3}
"""
SMALL_RANGE = "inner_teeth = [18, 20]\ntooth_step = [3, 4]\nblanks = [0, 1]"
HALL = "inner_teeth = 30\ntooth_step = 4\nblanks = 3"
SMALL_HALL = "inner_teeth = 30\ntooth_step = 4\nblanks = 1"
THREE = ("Mimas", "Tethys", "Rhea")


def _demo(search: str) -> Callable[[], Design]:
    """The demo with other wishes."""
    words = DISCS.read_text(encoding="utf-8").split("[search]")[0]
    return text(f"{words}[search]\n{search}\n")


def _solar(third_gears: int) -> Callable[[], Design]:
    """Three planets on three rings, otherwise the ten-ring Solar System."""
    return saturn(
        "inner_teeth = 18\ntooth_step = 6",
        only=("Mercury", "Venus", "Earth", "Mars"),
        sense="either",
        most=14,
        third_gears=third_gears,
        body_set="planets-pluto",
    )


FOUR_SMALL = text(
    """
[[bodies.list]]
name = "input"
period = 1
[[bodies.list]]
name = "output"
period = "6.931"
[rings]
teeth = [{min = 12, max = 18}, {min = 50, max = 60}]
[arbors]
wheel_teeth = {min = 12, max = 24}
pinion_teeth = {min = 12, max = 24}
reverted = false
"""
)

E = "2.718281828459045235360287471352662497757"
JIGS = 'rank = ["jigs", "error"]\nmax_error_pct = {}'
FRONT = 'front = ["error", "largest"]'

CASES: tuple[Case, ...] = (
    Case(
        "demo",
        "Saturn's seven large moons on ten rings, three of them blank: 56 structures, 9 links (the demo, of discs)",
        discs,
        saturn(SMALL_HALL, only=THREE, most=16),
    ),
    *(
        Case(
            f"range-{thirds}",
            f"the same moons over the full range of rings, 11,172 structures, at most {thirds} third gears, any sense",
            saturn(FULL_RANGE, sense="either", third_gears=thirds),
            saturn(SMALL_RANGE, only=THREE, sense="same" if thirds == 2 else "either", most=10, third_gears=thirds),
        )
        for thirds in (0, 1, 2)
    ),
    *(
        Case(
            f"solar-{name}",
            f"the Solar System on ten rings, at most {thirds} third gears, any sense: 1 structure, 9 links",
            file(f"solar-system-{name}"),
            _solar(thirds),
        )
        for thirds, name in enumerate(("plain", "1-thirds", "2-thirds"))
    ),
    Case(
        "four-gears",
        "four free tooth counts from 12 to 60 nearest to 6.931 (Sandgren, J. Mech. Des. 112(2), 1990)",
        file("four-gears"),
        FOUR_SMALL,
    ),
    Case("links-20", "20 links, a body on every ring, invented periods: 1 structure", chain(20), chain(3, most=16)),
    Case("links-40", "40 links, a body on every ring, invented periods: 1 structure", chain(40), chain(4, most=16)),
    Case(
        "trappist",
        "TRAPPIST-1's seven planets with two blank rings: 21 structures, 8 links",
        saturn("inner_teeth = 30\ntooth_step = 4\nblanks = 2", body_set="trappist-1"),
        saturn("inner_teeth = 30\ntooth_step = 4\nblanks = 1", only=("b", "d", "f"), most=16, body_set="trappist-1"),
    ),
    Case(
        "twelve",
        "twelve bodies, invented periods, at most 4 third gears, any sense: 324 structures, up to 12 links",
        spread(12, 40, 4),
        spread(3, 12, 1),
    ),
    Case(
        "jigs",
        "fewest jigs, then the least error, with at most 2 % error, on the demo's rings",
        _demo(JIGS.format(2)),
        saturn(SMALL_HALL, only=THREE, most=14, search=JIGS.format(10)),
    ),
    Case(
        "front",
        "the whole front of error against the largest gear, on the demo's rings",
        _demo(FRONT),
        saturn(SMALL_HALL, only=THREE, most=16, search=FRONT),
    ),
    Case(
        "jigs-2-thirds",
        "fewest jigs, then the least error, with at most 2 % error, over the full range of rings, at most 2 third "
        "gears, any sense",
        saturn(FULL_RANGE, sense="either", third_gears=2, search=JIGS.format(2)),
        saturn(SMALL_RANGE, only=THREE, sense="either", most=10, third_gears=1, search=JIGS.format(10)),
    ),
    Case(
        "jigs-free-rings",
        "fewest jigs, then the least error: four free rings of 12 to 40 teeth, gears of 6 to 40, "
        "each body twice as slow as the one before",
        free((1, 2, 4, 8), "{min = 12, max = 40}", "{min = 6, max = 40}", 'rank = ["jigs", "error"]'),
        free((1, 2, 4), "{min = 12, max = 16}", "{min = 6, max = 12}", 'rank = ["jigs", "error"]'),
    ),
    Case(
        "huge-counts",
        "two free rings of 50 to 60 teeth, gears of 3 to 1000, the ratio e: a million choices of a link",
        free((1, E), "{min = 50, max = 60}", "{min = 3, max = 1000}"),
        free((1, E), "{min = 50, max = 52}", "{min = 3, max = 30}"),
    ),
    Case(
        "free-rate",
        "six bodies with invented periods, a free common rate, up to two blank rings, at most 2 third gears, any sense",
        free_rate(6, 22, 2),
        free_rate(3, 16, 0),
    ),
    Case(
        "front-3",
        "the whole front of error, parts and jigs over the full range of rings, 11,172 structures, without third gears",
        saturn(FULL_RANGE, sense="either", search='front = ["error", "parts", "jigs"]'),
        saturn(SMALL_RANGE, only=THREE, most=10, search='front = ["error", "parts", "jigs"]\nmax_error_pct = 20'),
    ),
)

BY_NAME = {case.name: case for case in CASES}
