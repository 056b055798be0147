"""The cycloidal form of clocks, for gears cut from plate (BS 978-2).

Of a pair the gear with more teeth is the wheel, the other the pinion. The wheel's addendum is 0.95 of the height at
which two epicycloids meet that stand half a tooth pitch apart on its pitch circle, the generating circle being half as
large as the pinion's pitch circle (BS 978-2). Its flanks are arcs of 1.4 times the addendum, its dedendum is pi/2
modules; of the pinion, tooth width, addendum and the arcs' radius go by its leaves, its flanks are radial, and its
dedendum is the wheel's addendum and 0.4 modules (BS 978-2, from memory).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import lru_cache
from math import acos, asin, atan2, ceil, cos, hypot, pi, sin, sqrt
from typing import TYPE_CHECKING

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
from solver.forms.runs import Counts, MeshRun, Outline, PairTable, Span, WorkedOut

if TYPE_CHECKING:
    from solver.forms.meshing import EdgeOfPlay, PlateTeeth

LEAST_LEAVES = 6  # BS 978-2
RATIOS = (3, 12)  # for which the clock form is laid down (BS 978-2, from memory)
_SHARE = 0.95
_WHEEL_ARC, _WHEEL_DEDENDUM, _WHEEL_WIDTH = 1.4, pi / 2, pi / 2
_CLEAR = 0.4
# (leaves up to, tooth width, addendum, radius of the arcs), in modules (BS 978-2, from memory).
_PINIONS = ((7, 1.05, 0.855, 1.05), (9, 1.05, 0.67, 0.7), (10, 1.05, 0.525, 0.525), (10**9, 1.25, 0.625, 0.625))
_STEPS = 10
TEETH, LEAVES = "clock teeth", "clock leaves"  # of wheels, and of what works with them


def _met(wheel: float, pinion: int) -> float:
    """How far [rad] the generating circle has rolled where the two epicycloids of a tooth meet."""
    ratio = 2 * wheel / pinion  # of the wheel's pitch circle to the generating circle
    turn = 1.0
    for _ in range(200):
        back = atan2(sin(turn), 1 + ratio - cos(turn))
        after = pi / pinion + ratio * back
        if abs(after - turn) < 1e-13:
            break
        turn = after
    return turn


@lru_cache(maxsize=1 << 16)
def addendum_factor(wheel: float, pinion: int) -> float:
    """Addendum of a wheel in modules: 0.95 times the height of its epicycloids above the pitch circle (BS 978-2)."""
    ratio, turn = 2 * wheel / pinion, _met(wheel, pinion)
    return _SHARE * pinion / 4 * (sqrt((1 + ratio) ** 2 + 1 - 2 * (1 + ratio) * cos(turn)) - ratio)


def recess(wheel: int, pinion: int) -> float:
    """Arc of contact after the line of centres, in tooth pitches: until the wheel's tip circle leaves the generating
    circle, on which its epicycloid and the pinion's radial flank touch (theory of cycloidal teeth)."""
    ratio = 2 * wheel / pinion
    tip = ratio + 4 * addendum_factor(wheel, pinion) / pinion
    turn = acos(((1 + ratio) ** 2 + 1 - tip**2) / (2 * (1 + ratio)))
    return turn * pinion / 4 / pi


def least_wheel(pinion: int) -> int:
    """The least teeth of a wheel for which the clock form is laid down with so many leaves."""
    return ceil(RATIOS[0] * pinion)


class Cycloidal:
    """Clock teeth, cut from plate."""

    name = "cycloidal"
    title = "cycloidal clock teeth, cut from plate"
    source = "BS 978-2; tooth width, arcs and dedendum from memory"
    plate = True
    thirds: tuple[str, ...] = ("pins",)

    def roles(self, third: str) -> Roles:
        return only(third, self.thirds, Roles(TEETH, LEAVES, LEAVES, TEETH))

    def shape(self, sizes: Sizes, spec: Spec) -> ToothedGear:
        module, radius, tooth = sizes.module_mm, sizes.radius_mm(spec.teeth), _tooth(spec)
        smaller, larger = _mates(spec)
        remarks: list[Remark] = []
        if smaller and larger:
            told = f"is a wheel to {_and(smaller)} teeth and a pinion to {_and(larger)}: the clock form has another"
            remarks.append(Remark(spec.name, told + " tooth for each; drawn as a wheel"))
        tip, root = radius + tooth.addendum * module, radius - tooth.dedendum * module
        figures = (
            Quantity("module", module),
            Quantity("addendum", tooth.addendum * module),
            Quantity("dedendum", tooth.dedendum * module),
            Quantity("tooth width along the pitch circle", tooth.width * module),
            Quantity("radius of the flanks' arcs", tooth.arc * module),
        )
        return plate_shape(sizes, spec, tip, root, mirrored(_half_of(sizes, spec)), figures, tuple(remarks))

    def outline(self, sizes: Sizes, spec: Spec) -> Outline:
        module, radius, tooth = sizes.module_mm, sizes.radius_mm(spec.teeth), _tooth(spec)
        return plate_outline(sizes, spec, radius + tooth.addendum * module, radius - tooth.dedendum * module)

    def beyond_mm(self, sizes: Sizes, spec: Spec) -> float:
        each = (Spec(spec.kind, spec.teeth, spec.toothing, (mate,)) for mate in spec.mates)
        return sizes.module_mm * max((_tooth(one).addendum for one in each), default=1.0)

    def tooth_wire_mm(self, sizes: Sizes, deep_mm: float) -> float:
        return 0.0

    def run(self, sizes: Sizes, one: Spec, other: Spec, apart_mm: float = 0.0) -> MeshRun:
        from solver.forms.meshing import run_plates  # with numpy, which reading a file does not need

        found = run_plates(_drawn(sizes, one), _drawn(sizes, other), apart_mm)
        return replace(found, slips=True) if min(one.teeth, other.teeth) < LEAST_LEAVES else found

    def span(self, sizes: Sizes, one: Spec, other: Spec, uneven: float) -> Span | None:
        from solver.forms.meshing import span_plates

        if min(one.teeth, other.teeth) < LEAST_LEAVES:
            return None
        pitch = sizes.pitch_mm
        return span_plates(_drawn(sizes, one), _drawn(sizes, other), uneven * pitch, pitch)

    def table(self, sizes: Sizes, sort: MeshSort, teeth: Counts, mates: Counts, uneven: float) -> PairTable:
        return _table(self, sizes, sort, teeth, mates, uneven)

    def running(
        self, sizes: Sizes, sort: MeshSort, teeth: Counts, mates: Counts, uneven: float
    ) -> frozenset[tuple[int, int]]:
        found = set()
        for count in teeth:
            if self.outline(sizes, Spec(sort.kind, count, TEETH, ())).unmade:
                continue
            made = (
                mate
                for mate in mates
                if LEAST_LEAVES <= mate < count and not self.outline(sizes, Spec("gear", mate, LEAVES, (count,))).unmade
            )
            found |= {(count, mate) for mate in _leaves_for_all(count, tuple(sorted(made)), uneven)}
        return frozenset(found)

    def pair(self, sizes: Sizes, one: Spec, other: Spec) -> Pairing:
        wheel, pinion = (one, other) if _is_wheel(one, other.teeth) else (other, one)
        where = f"{wheel.name} with {pinion.name}"
        if pinion.teeth < LEAST_LEAVES:
            told = f"{pinion.teeth} leaves do not run in the clock form; at least {LEAST_LEAVES} are needed"
            return Pairing((), (Remark(where, told, False),))
        after, ratio = recess(wheel.teeth, pinion.teeth), wheel.teeth / pinion.teeth
        figures = (
            Quantity("addendum factor of the wheel", addendum_factor(wheel.teeth, pinion.teeth), ""),
            Quantity("contact ratio after the line of centres", after, ""),
        )
        remarks = []
        if not RATIOS[0] <= ratio <= RATIOS[1]:
            told = f"the clock form is laid down for ratios from {RATIOS[0]} to {RATIOS[1]}; this is {ratio:.2f}"
            if ratio < RATIOS[0]:
                told += f" ({pinion.teeth} leaves: at least {least_wheel(pinion.teeth)} teeth)"
            remarks.append(Remark(where, told))
        if after < 1:
            told = f"contact after the line of centres lasts {after:.3f} of a tooth: it begins before, with rubbing"
            remarks.append(Remark(where, told))
        return Pairing(figures, (*_into_roots(sizes, wheel, pinion, where), *remarks))


@lru_cache(maxsize=16)
def _table(form: Cycloidal, sizes: Sizes, sort: MeshSort, teeth: Counts, mates: Counts, uneven: float) -> PairTable:
    """Each pair is worked out when it is asked for: one takes a hundredth of a second, its span a quarter."""
    pairs = [(count, mate) for count in teeth for mate in mates]
    runs = WorkedOut(pairs, lambda count, mate: form.run(sizes, *sort.specs(count, mate)))
    return PairTable(runs, WorkedOut(pairs, lambda count, mate: form.span(sizes, *sort.specs(count, mate), uneven)))


def _leaves_for_all(wheel: int, pinions: Counts, uneven: float) -> Iterator[int]:
    """The pinions with which a wheel runs whichever of them it has: with the addendum for that one alone, and with that
    for every smaller one with which it neither jams nor slips.

    The teeth for fewer leaves lie within those for more (`tests/test_run_clock.py`), so that they lag less at every
    moment and leave more play: what lies between the lowest teeth and a pinion's own need not be looked at.
    """
    from solver.forms.rolling import MARGIN  # with numpy, which reading a file does not need

    with_own = [pinion for pinion in pinions if _edge(wheel, pinion, pinion).holds]
    most = (uneven - 2 * MARGIN) * pi
    for pinion in with_own:
        own, lowest = _edge(wheel, pinion, pinion), _edge(wheel, with_own[0], pinion)
        if own.most - own.least > most:
            continue
        if lowest.holds and own.most - lowest.least <= most:
            yield pinion
            continue
        others = (_edge(wheel, smaller, pinion) for smaller in with_own if smaller < pinion)
        if all(edge.holds and edge.most - edge.least <= most for edge in others):
            yield pinion


@lru_cache(maxsize=100_000)
def _edge(wheel: int, served: int, pinion: int) -> EdgeOfPlay:
    """How a pinion runs with a wheel made for one of `served` leaves, in modules."""
    from solver.forms.meshing import edge_of_play

    return edge_of_play(_thinned(wheel, served), _plain(pinion, (wheel,)), pi)


@lru_cache(maxsize=10_000)
def _plain(teeth: int, mates: Counts) -> PlateTeeth:
    from solver.forms.meshing import PlateTeeth

    spec = Spec("gear", teeth, "", mates)
    return PlateTeeth(teeth, teeth / 2, _half_tooth_of(1.0, spec))


@lru_cache(maxsize=10_000)
def _thinned(wheel: int, served: int) -> PlateTeeth:
    return _plain(wheel, (served,)).thinned(_PINIONS[0][2])


@lru_cache(maxsize=512)
def _drawn(sizes: Sizes, spec: Spec) -> PlateTeeth:
    from solver.forms.meshing import PlateTeeth

    return PlateTeeth(spec.teeth, sizes.radius_mm(spec.teeth), _half_of(sizes, spec))


def _half_of(sizes: Sizes, spec: Spec) -> Line:
    """Half a tooth of a gear [mm]."""
    return _half_tooth_of(sizes.module_mm, spec)


def _half_tooth_of(module: float, spec: Spec) -> Line:
    radius, tooth = module * spec.teeth / 2, _tooth(spec)
    tip, root = radius + tooth.addendum * module, max(radius - tooth.dedendum * module, module / 10)
    return _half_tooth(radius, tip, root, tooth.width * module, tooth.arc * module, spec.teeth)


@dataclass(frozen=True)
class _Tooth:
    """Addendum, dedendum, width along the pitch circle and radius of the flanks' arcs, in modules."""

    addendum: float
    dedendum: float
    width: float
    arc: float


def _mates(spec: Spec) -> tuple[list[int], list[int]]:
    """The mates to which a gear is the wheel, and those to which it is the pinion."""
    smaller = [mate for mate in spec.mates if _is_wheel(spec, mate)]
    return smaller, [mate for mate in spec.mates if not _is_wheel(spec, mate)]


def _tooth(spec: Spec) -> _Tooth:
    """The tooth of a gear: a pinion's where all its mates are larger, else a wheel's. One tooth has to serve all
    pinions of a wheel: the lowest, so that it clears the leaves of each."""
    smaller, larger = _mates(spec)
    if smaller or not larger:
        factor = min((addendum_factor(spec.teeth, mate) for mate in smaller), default=1.0)
        return _Tooth(factor, _WHEEL_DEDENDUM, _WHEEL_WIDTH, _WHEEL_ARC * factor)
    _, width, factor, arc = next(row for row in _PINIONS if spec.teeth <= row[0])
    dedendum = max(addendum_factor(mate, spec.teeth) for mate in larger) + _CLEAR
    return _Tooth(factor, dedendum, width, arc)


def _into_roots(sizes: Sizes, wheel: Spec, pinion: Spec, where: str) -> Iterator[Remark]:
    """A remark where the tips of one of a pair reach into the other's roots."""
    for one, other in ((wheel, pinion), (pinion, wheel)):
        over = (_tooth(one).addendum - _tooth(other).dedendum) * sizes.module_mm
        if over > 1e-6:
            told = f"jams: tips of {one.name} reach {sizes.told(over)} into the roots of {other.name}"
            yield Remark(where, told, False)


def _is_wheel(spec: Spec, mate: int) -> bool:
    """Whether a gear is the wheel to a mate of so many teeth; of two alike each is drawn as a wheel."""
    return spec.teeth >= mate


def _half_tooth(radius: float, tip: float, root: float, width: float, arc: float, teeth: int) -> Line:
    """From the middle of the tip to the middle of the gap: an arc, a radial flank, and the root circle."""
    side = width / 2 / radius  # half a tooth as an angle at the pitch circle
    flank = (radius * cos(side), radius * sin(side))
    dx, dy = flank[0] - tip, flank[1]
    chord = hypot(dx, dy)
    arc = max(arc, chord / 2)
    # The centre stands inwards from the chord, on the far side of the tooth's middle line.
    aside = sqrt(arc**2 - chord**2 / 4)
    cx, cy = tip + dx / 2 - aside * dy / chord, dy / 2 + aside * dx / chord
    start, swing = atan2(-cy, tip - cx), 2 * asin(chord / 2 / arc)
    points = [
        (cx + arc * cos(start + swing * i / _STEPS), cy + arc * sin(start + swing * i / _STEPS))
        for i in range(_STEPS + 1)
    ]
    gap = pi / teeth
    points += [
        (root * cos(side + (gap - side) * i / _STEPS), root * sin(side + (gap - side) * i / _STEPS))
        for i in range(_STEPS + 1)
    ]
    return tuple(points)


def _and(numbers: list[int]) -> str:
    return " and ".join(map(str, numbers))
