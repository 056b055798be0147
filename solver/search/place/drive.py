"""The drive: every motor that may turn the model, nearest to the wished time first.

A motor of n revolutions a minute with a pinion of p teeth turns a ring of Z teeth once in 60 Z / (n p) seconds; the
named body follows from the ratio of the two rings' periods, exactly. A mesh turns about; one third gear turns about
again. The torque is not computed.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import product

from solver.design.design import Design, Drive
from solver.design.kinematics import ring_ratios
from solver.design.links import KIND_BY_NAME
from solver.design.train import Train
from solver.search.levels import levels_of
from solver.search.place.shapes import ArborShape, Side
from solver.search.runs import runs_of


@dataclass(frozen=True)
class DriveChoice:
    """A motor: the ring it works with, its speed [rev/min], its pinion, third gears (none or one), and where its shaft
    stands [teeth from the main axis], as a shape with one side."""

    ring: int
    rpm: Fraction
    pinion: int
    thirds: tuple[int, ...]
    shape: ArborShape

    @property
    def reach(self) -> int:
        """How far it reaches from the main axis [teeth, without addendum]."""
        return drive_reach(self.shape.sides[0].ring, self.shape.radius, self.pinion, self.thirds)


def drive_reach(ring: int, radius: int, pinion: int, thirds: tuple[int, ...]) -> int:
    """How far a drive reaches out [teeth, without addendum] that works with a ring of `ring` teeth, its shaft `radius`
    teeth from the main axis."""
    return max([radius + pinion, *(ring + 2 * third for third in thirds)])


def least_reach(drive: Drive, rings: Sequence[int]) -> int:
    """No drive of a train with these rings reaches out less than this [teeth]."""
    ring = rings[-1] if drive.ring == "outer" else rings[0]
    return ring + 2 * min(drive.pinion_teeth)  # with a third gear the pinion stands farther out


def shafts(design: Design, rings: Sequence[int], gap: int) -> Iterator[ArborShape]:
    """Every shape that a drive may have in trains with these rings, whichever way it turns."""
    drive = design.drive
    assert drive is not None
    radii = _Radii(design, gap)
    for ring, thirds, pinion in product(
        driven_rings(drive, len(rings)), range(drive.third_gears + 1), drive.pinion_teeth
    ):
        for third, radius in radii(rings[ring], pinion, thirds):
            yield ArborShape((Side(ring, rings[ring], pinion, third),), radius)


def motors(design: Design, train: Train, gap: int) -> Iterator[DriveChoice]:
    """Every motor with its possible radii, the one nearest to the wished time first: then without a third gear, the
    innermost ring, the slowest motor, the fewest teeth, the nearest to the axis."""
    drive = design.drive
    assert drive is not None
    reverse, ratios = turned(link.kind for link in train.links), ring_ratios(train)
    body, wished = drive.turn or (0, Fraction(1))
    found: list[tuple[Fraction, int, int, Fraction, int]] = []
    for ring in driven_rings(drive, len(train.rings)):
        turns = 60 * train.rings[ring] * ratios[train.seats[body]] / (ratios[ring] * wished)  # of the body, for 1 / n p
        for thirds in range(drive.third_gears + 1):
            # Ring 0 turns counterclockwise, as moons do seen from the north; the motor's own turn is clockwise.
            if not drive.reverse_ok and (thirds == 1) != reverse[ring]:
                continue
            for rpm in drive.motor_rpm:
                for pinion in drive.pinion_teeth:
                    taken = turns / (rpm * pinion)
                    off = Fraction(1) if drive.turn is None else max(taken, 1 / taken)
                    found.append((off, thirds, ring, rpm, pinion))
    radii = _Radii(design, gap)
    for _, thirds, ring, rpm, pinion in sorted(found):
        teeth = train.rings[ring]
        for third, radius in radii(teeth, pinion, thirds):
            shape = ArborShape((Side(ring, teeth, pinion, third),), radius)
            yield DriveChoice(ring, rpm, pinion, () if third is None else (third,), shape)


def motors_within(design: Design, train: Train, gap: int, most: int | None) -> Iterator[DriveChoice] | None:
    """The motors that reach out at most so far [teeth; None: anywhere], the nearest to the wished time first, one for
    each shape; None: no drive is asked for."""
    if design.drive is None:
        return None
    shapes: dict[ArborShape, DriveChoice] = {}
    return (
        motor
        for motor in motors(design, train, gap)
        if (most is None or motor.reach <= most) and shapes.setdefault(motor.shape, motor) is motor
    )


class _Radii:
    """Where the shaft of a drive may stand."""

    def __init__(self, design: Design, gap: int) -> None:
        self._levels, self._runs = levels_of(design), runs_of(design)
        self._thirds, self._gap = design.arbors.third_teeth, gap

    def __call__(self, ring: int, pinion: int, thirds: int) -> list[tuple[int | None, int]]:
        """(third gear's teeth, the shaft's distance in teeth): one where the pinion meets its ring directly."""
        levels, runs = self._levels, self._runs
        if levels is not None and not levels.side(thirds > 0):
            return []
        if not thirds:
            return [(None, ring + pinion)] if runs is None or runs.ring_runs(ring, pinion) else []
        return [
            (third, radius)
            for third in (self._thirds if runs is None else runs.thirds(self._thirds, ring, pinion))
            for radius in range(ring + pinion + self._gap, ring + pinion + 2 * third + 1)
        ]


def driven_rings(drive: Drive, count: int) -> range:
    """Of so many rings those that the drive may work with."""
    return {"any": range(count), "inner": range(1), "outer": range(count - 1, count)}[drive.ring]


def turned(kinds: Iterable[str]) -> list[bool]:
    """For each ring of a train with links of these kinds whether it turns against ring 0."""
    found = [False]
    for kind in kinds:
        found.append(found[-1] ^ KIND_BY_NAME[kind].reverses)
    return found
