"""Involute teeth, for gears cut from plate: the basic rack of ISO 53, 20 degrees, without profile shift.

The outline is what the rack itself leaves standing: the involute from the base circle, and below it the curve that the
rack's rounded tip cuts, which undercuts gears of few teeth. Addendum 1, dedendum 1.25, tip rounding 0.38 modules
(ISO 53, profile A, from memory). Lengths in mm unless said; textbook formulas of involute gearing.
"""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache
from itertools import pairwise
from math import acos, ceil, cos, hypot, pi, radians, sin, sqrt, tan

from solver.forms.form import (
    Line,
    MeshSort,
    Pairing,
    Quantity,
    Remark,
    Roles,
    Sizes,
    Spec,
    ToothedGear,
    mirrored,
    only,
)
from solver.forms.plate import plate_outline, plate_shape
from solver.forms.runs import (
    STEPS_PER_MM,
    Counts,
    MeshRun,
    Outline,
    PairTable,
    Span,
    WorkedOut,
)

PRESSURE = radians(20)
ADDENDUM, DEDENDUM, ROUNDING = 1.0, 1.25, 0.38
SMOOTH = 1.2  # contact ratio from which gears run smoothly (common practice, no source)
_STEPS, _CUTS, _HALVINGS = 16, 400, 50
_DIGITS = 6  # of a mm that are kept: the last bits must not make a jam of no play at all
_TOUCH = 1e-7  # rad; nearer than this the curves touch


def undercut_limit(pressure: float = PRESSURE) -> float:
    """Teeth below which a rack with an addendum of one module undercuts: 2 / sin(pressure angle)**2."""
    return 2 * ADDENDUM / sin(pressure) ** 2


def least_teeth(mate: float, pressure: float = PRESSURE) -> int:
    """The fewest teeth that work with a gear of so many without interference; `mate` may be infinite (a rack).

    With z teeth the mate's tip circle must not pass the point where the line of action leaves the base circle:
    (z + Z) ** 2 * sin(a) ** 2 + Z ** 2 * cos(a) ** 2 >= (Z + 2) ** 2 (textbook formula).
    """
    if mate == float("inf"):
        return ceil(undercut_limit(pressure))
    need = sqrt((mate + 2 * ADDENDUM) ** 2 - (mate * cos(pressure)) ** 2) / sin(pressure) - mate
    return ceil(need - 1e-12)


def least_equal_teeth(pressure: float = PRESSURE) -> int:
    """The fewest teeth of two gears alike that work together without interference."""
    return next(teeth for teeth in range(3, 1000) if least_teeth(teeth, pressure) <= teeth)


def arc_of_contact(tips: tuple[float, float], bases: tuple[float, float], centres: float) -> float:
    """Length of the path of contact for tip and base radii of two gears and their distance: the arc of contact is this
    over cos(pressure angle), the contact ratio this over the base pitch. It ends where a base circle does."""
    path = sqrt(centres**2 - (bases[0] + bases[1]) ** 2)
    return sum(min(sqrt(tip**2 - base**2), path) for tip, base in zip(tips, bases, strict=True)) - path


def contact_ratio(teeth: tuple[int, int], tips: tuple[float, float], centres: float, module: float) -> float:
    """Contact ratio of two gears of a module with these tip radii at a distance of centres, full involutes."""
    bases = (teeth[0] * module / 2 * cos(PRESSURE), teeth[1] * module / 2 * cos(PRESSURE))
    return arc_of_contact(tips, bases, centres) / (pi * module * cos(PRESSURE))


class Involute:
    """Involute teeth of the ISO 53 rack, cut from plate."""

    name = "involute"
    title = "involute teeth of 20°, cut from plate"
    source = "ISO 53, profile A (from memory)"
    plate = True
    thirds: tuple[str, ...] = ("pins",)

    def roles(self, third: str) -> Roles:
        return only(third, self.thirds, Roles(*["involute teeth"] * 4))

    def shape(self, sizes: Sizes, spec: Spec) -> ToothedGear:
        module, radius = sizes.module_mm, sizes.radius_mm(spec.teeth)
        tip, root = radius + ADDENDUM * module, radius - DEDENDUM * module
        remarks: tuple[Remark, ...] = ()
        if spec.teeth < undercut_limit():
            told = (
                f"is undercut: {spec.teeth} teeth, the limit is {undercut_limit():.3f}; its teeth are weak at the root"
            )
            remarks = (Remark(spec.name, told),)
        figures = (
            Quantity("module", module),
            Quantity("pressure angle", 20.0, "°"),
            Quantity("addendum", ADDENDUM * module),
            Quantity("dedendum", DEDENDUM * module),
            Quantity("base circle", 2 * radius * cos(PRESSURE)),
        )
        half = tuple((module * x, module * y) for x, y in half_tooth(spec.teeth))
        return plate_shape(sizes, spec, tip, root, mirrored(half), figures, remarks)

    def outline(self, sizes: Sizes, spec: Spec) -> Outline:
        module, radius = sizes.module_mm, sizes.radius_mm(spec.teeth)
        return plate_outline(sizes, spec, radius + ADDENDUM * module, radius - DEDENDUM * module)

    def beyond_mm(self, sizes: Sizes, spec: Spec) -> float:
        return ADDENDUM * sizes.module_mm

    def tooth_wire_mm(self, sizes: Sizes, deep_mm: float) -> float:
        return 0.0

    def run(self, sizes: Sizes, one: Spec, other: Spec, apart_mm: float = 0.0) -> MeshRun:
        return run_involutes(sizes.module_mm, one.teeth, other.teeth, apart_mm)

    def span(self, sizes: Sizes, one: Spec, other: Spec, uneven: float) -> Span | None:
        return _span(sizes.module_mm, one.teeth, other.teeth)

    def table(self, sizes: Sizes, sort: MeshSort, teeth: Counts, mates: Counts, uneven: float) -> PairTable:
        pairs, module = [(count, mate) for count in teeth for mate in mates], sizes.module_mm
        runs = WorkedOut(pairs, lambda count, mate: run_involutes(module, count, mate, 0.0))
        return PairTable(runs, WorkedOut(pairs, lambda count, mate: _span(module, count, mate)))

    def running(
        self, sizes: Sizes, sort: MeshSort, teeth: Counts, mates: Counts, uneven: float
    ) -> frozenset[tuple[int, int]]:
        from solver.forms.rolling import MARGIN  # with numpy, which reading a file does not need

        def made(kind: str, counts: Counts) -> list[int]:
            return [count for count in counts if not self.outline(sizes, Spec(kind, count, "", ())).unmade]

        return frozenset(
            (one, other)
            for one in made(sort.kind, teeth)
            for other in made("gear", mates)
            if true_ratio(one, other) >= 1 + MARGIN
        )

    def pair(self, sizes: Sizes, one: Spec, other: Spec) -> Pairing:
        small, large = sorted((one, other), key=lambda spec: spec.teeth)
        where = f"{large.name} with {small.name}"
        ratio = true_ratio(small.teeth, large.teeth)
        least = least_teeth(large.teeth)
        figures = (
            Quantity("contact ratio", ratio, ""),
            Quantity("least teeth with this mate", least, ""),
        )
        remarks = []
        if ratio < 1:
            told = f"does not run: the contact ratio is {ratio:.3f}, below 1, as undercut takes part of the flanks"
            remarks.append(Remark(where, told, False))
        elif ratio < SMOOTH:
            remarks.append(Remark(where, f"runs roughly: the contact ratio is {ratio:.3f}; {SMOOTH} is usual"))
        if small.teeth < least:
            told = f"{small.teeth} teeth interfere with {large.teeth} unless undercut as drawn; at least {least} do not"
            remarks.append(Remark(where, told))
        return Pairing(figures, tuple(remarks))


def run_involutes(module: float, one: int, other: int, apart_mm: float) -> MeshRun:
    """How involute gears run, so much farther apart than their pitch radii: evenly at any distance, until the flanks
    lose each other; with no play at all at the nominal distance, so that they jam at any that is closer.

    Play at the pitch circles: 2 C (inv a' - inv a), with C cos a = C' cos a' (textbook formula of backlash, there at
    the operating circles, C' / C times as much)."""
    nominal = module * (one + other) / 2
    actual = nominal + apart_mm
    cosine = nominal * cos(PRESSURE) / actual
    pressure = acos(min(cosine, 1.0))
    play = 2 * nominal * (tan(pressure) - pressure - tan(PRESSURE) + PRESSURE)
    if cosine > 1:
        play -= nominal * (cosine - 1)  # base circles overlap
    ratio = true_ratio(one, other, apart_mm / module)
    free = apart_mm + module * (DEDENDUM - ADDENDUM)
    play = round(play, _DIGITS)
    return MeshRun(play, 0.0, ratio < 1, max(int(ratio), 0), play, free)


@lru_cache(maxsize=100_000)
def _span(module: float, one: int, other: int) -> Span | None:
    """From the nominal distance, where there is no play, to where the contact ratio has fallen to 1."""
    if run_involutes(module, one, other, 0.0).slips:
        return None
    good, bad = 0, ceil(2 * ADDENDUM * module * STEPS_PER_MM) + 1
    while bad - good > 1:
        middle = (good + bad) // 2
        slips = run_involutes(module, one, other, middle / STEPS_PER_MM).slips
        good, bad = (good, middle) if slips else (middle, bad)
    return Span(Fraction(0), Fraction(good, STEPS_PER_MM))


def true_ratio(one: int, other: int, apart: float = 0.0) -> float:
    """Contact ratio with the part of the involutes that undercut leaves, so many modules farther apart than the pitch
    radii (module 1)."""
    bases = [teeth / 2 * cos(PRESSURE) for teeth in (one, other)]
    path = sqrt(max(((one + other) / 2 + apart) ** 2 - sum(bases) ** 2, 0.0))
    sides = []
    for mine, his in ((0, 1), (1, 0)):
        tip = (one, other)[his] / 2 + ADDENDUM
        start = _start((one, other)[mine])
        along = sqrt(max(start**2 - bases[mine] ** 2, 0.0))  # from the base point, along the line of action
        sides.append(min(sqrt(tip**2 - bases[his] ** 2), path - along))
    return (sum(sides) - path) / (pi * cos(PRESSURE))


@lru_cache(maxsize=1024)
def _start(teeth: int) -> float:
    return involute_start(teeth)


def _involute_angle(teeth: int, at: float) -> float:
    """Half a tooth [rad] at a radius on the involute (module 1); at the pitch circle a quarter of the pitch."""
    base = teeth / 2 * cos(PRESSURE)
    pressure = acos(min(base / at, 1.0))
    return pi / 2 / teeth + (tan(PRESSURE) - PRESSURE) - (tan(pressure) - pressure)


def _cut(teeth: int) -> list[tuple[float, float]]:
    """(radius, half a tooth as an angle) along the curve that the rack's rounded tip cuts, radii ascending (module 1).

    The rounding's centre moves with the rack while the gear turns; the cut is where the rounding's normal passes
    through the pitch point. From the root up to where the rounding runs into the rack's flank.
    """
    return [_cut_at(teeth, index / _CUTS) for index in range(_CUTS + 1)]


def _cut_at(teeth: int, share: float) -> tuple[float, float]:
    """The point of that curve so far along: 0 at the root, 1 where the rounding runs into the flank."""
    radius = teeth / 2
    depth = DEDENDUM - ROUNDING  # of the rounding's centre below the pitch line
    # Half the rack's tooth at that depth, measured from the middle of the gear's gap.
    aside = pi / 4 - DEDENDUM * tan(PRESSURE) - ROUNDING * (1 - sin(PRESSURE)) / cos(PRESSURE)
    # The normal's slope runs from the root (straight down) to the flank, at the pressure angle.
    slope = pi / 2 - (pi / 2 - PRESSURE) * share
    run = depth / tan(slope)
    x, y = run + ROUNDING * cos(slope), radius - depth - ROUNDING * sin(slope)
    roll = (aside - run) / radius  # how far the gear has turned when the rack's centre stands there
    from_gap = _angle(x, y) + roll
    return hypot(x, y), pi / teeth - from_gap


def _angle(x: float, y: float) -> float:
    return acos(max(-1.0, min(1.0, y / hypot(x, y)))) * (1 if x >= 0 else -1)


def half_tooth(teeth: int) -> Line:
    """Half a tooth of module 1 from the middle of the tip, on the right, to the middle of the gap."""
    tip = teeth / 2 + ADDENDUM
    cut = _cut(teeth)
    start = involute_start(teeth, cut)
    flank = []
    for index in range(_STEPS + 1):
        at = tip + (start - tip) * index / _STEPS
        flank.append((at, max(_involute_angle(teeth, at), 0.0)))
    below = [point for point in cut if point[0] < start]
    thinned = below[:: -max(1, len(below) // _STEPS)]
    root = cut[0]
    points = [(tip, 0.0), *flank, *thinned, root]
    points += [(root[0], root[1] + (pi / teeth - root[1]) * index / 4) for index in range(1, 5)]
    return tuple((at * cos(turn), at * sin(turn)) for at, turn in points)


def involute_start(teeth: int, cut: list[tuple[float, float]] | None = None) -> float:
    """Radius from which outwards the flank is an involute (module 1): where the cut passes out of the involute's metal,
    or where the rounding ends and the cut runs into the involute without a corner."""
    curve = cut or _cut(teeth)
    base = teeth / 2 * cos(PRESSURE)

    def over(point: tuple[float, float]) -> float:
        return point[1] - _involute_angle(teeth, point[0])

    for index, (near, far) in enumerate(pairwise(curve)):
        if near[0] < base or over(near) >= -_TOUCH or over(far) < 0:
            continue
        low, high = index / _CUTS, (index + 1) / _CUTS
        for _ in range(_HALVINGS):
            middle = (low + high) / 2
            low, high = (low, middle) if over(_cut_at(teeth, middle)) >= 0 else (middle, high)
        return _cut_at(teeth, high)[0]
    return curve[-1][0]
