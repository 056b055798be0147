"""Frame and arms of a placed train together: what they are cut from, their joints, and what they weigh."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from math import hypot

from solver.check.arm import held_of
from solver.check.room import Room
from solver.design.arms import swept
from solver.design.design import Design
from solver.design.gauges import Gauge
from solver.design.train import Train
from solver.forms.form import Piece, sizes_of
from solver.sheets.gears.adjust import Vector
from solver.sheets.supports.arms import JOINTS, BuiltArm, arms_of
from solver.sheets.supports.frame import FrameMade, frame_made


@dataclass(frozen=True)
class SupportWire:
    """Pieces alike of frame or arms: for what, of which rod, so many and so long [mm]."""

    use: str
    gauge: Gauge
    piece: Piece


@dataclass(frozen=True)
class SupportsMade:
    """Frame and arms. unheld: what no arm reaches; remarks: where an eye is in the way of something that turns."""

    design: Design
    levels: int
    frame: FrameMade
    arms: tuple[BuiltArm, ...]
    unheld: tuple[str, ...]
    remarks: tuple[str, ...]

    @property
    def grams(self) -> float:
        """Of bars, arms and bushes."""
        bushes = sum(arm.bush.grams for arm in self.arms if arm.bush is not None)
        return sum(bar.count * bar.grams for bar in self.frame.bars) + sum(arm.grams for arm in self.arms) + bushes

    @property
    def joints(self) -> tuple[tuple[str, int], ...]:
        """Solder joints of frame and arms."""
        frame = sum(bar.count * bar.joints for bar in self.frame.bars)
        return ("frame", frame), ("arms", JOINTS * len(self.arms))

    @property
    def gaps(self) -> tuple[int, ...]:
        """The gaps that have arms."""
        return tuple(sorted({arm.held.gap for arm in self.arms}))

    def in_gap(self, gap: int) -> tuple[BuiltArm, ...]:
        """The arms of a gap, in the order in which they are built."""
        return tuple(arm for arm in self.arms if arm.held.gap == gap)

    def wires(self) -> Iterator[SupportWire]:
        """What is cut for the frame, then for the arms."""
        supports = self.design.supports
        assert supports is not None
        thin, thick = (Gauge(float(mm), supports.metal) for mm in (supports.arm_mm, supports.bar_mm))
        for bar in self.frame.bars:
            what = bar.what if not bar.sides else f"{bar.what}, {' and '.join(bar.sides)}"
            piece = Piece(what, "frame", bar.count, bar.length_mm, 0)
            yield SupportWire("frame", thin if bar.thin else thick, piece)
        for arm in self.arms:
            yield SupportWire(f"gap {arm.held.gap}", thin, Piece(f"arm {arm.held.name}", "arm", 1, arm.wire_mm, 0))


@lru_cache(maxsize=8)
def supports_made(design: Design, train: Train) -> SupportsMade | None:
    """Frame and arms of a placed train; None where the design has no arms. Kept, as a pack asks for it from many
    sides."""
    if not design.armed or train.placement is None:
        return None
    arms = arms_of(design, train)
    reached = {arm.held.name for arm in arms}
    room = Room(design, train)
    unheld = tuple(one.name for one in held_of(room) if one.name not in reached)
    frame = frame_made(design, len(train.rings), arms)
    return SupportsMade(design, len(train.rings), frame, arms, unheld, tuple(_remarks(design, train, arms, room)))


def _remarks(design: Design, train: Train, arms: tuple[BuiltArm, ...], room: Room) -> Iterator[str]:
    """Eyes reach farther to the sides than arms, which is not judged: what turns in the gap may meet them."""
    assert train.placement is not None
    clearance, rod = float(design.fit.clearance), float(design.fit.post_radius)
    turning = sizes_of(design).arbor_mm / 2
    for number, arm in enumerate(arms):
        for other in arms[:number]:
            apart = hypot(arm.points[0][0] - other.points[0][0], arm.points[0][1] - other.points[0][1])
            if arm.held.gap == other.held.gap and apart < arm.eye.outside_mm + other.eye.outside_mm:
                yield f"the eyes of {other.held.name} and {arm.held.name} meet: bend one of them aside"
        held, reach = arm.held, arm.eye.outside_mm + max(arm.eye.inward_mm, arm.eye.outward_mm) + clearance
        at: Vector = arm.points[0]
        if 0 <= held.gap < len(train.placement.links) and held.name != f"L{held.gap}":
            x, y = (side / 1000 for side in train.placement.links[held.gap].arbor)
            if hypot(at[0] - x, at[1] - y) < reach + turning:
                yield f"the eye of {held.name} comes near the arbor L{held.gap}"
        for ring in train.seats:
            passes = swept(ring, held.gap, design.fit.stands)
            if passes and abs(hypot(*at) - float(room.stand(ring).high)) < reach + rod:
                yield f"the eye of {held.name} comes near the stand on ring {ring}"
