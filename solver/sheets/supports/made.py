"""Frame and arms of a placed train together: what they are cut from, their joints, and what they weigh."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

from solver.check.arm import held_of
from solver.check.room import Room
from solver.check.sag import limit_mm
from solver.design.design import Design
from solver.design.gauges import Gauge
from solver.design.train import Train
from solver.forms.form import Piece
from solver.sheets.supports.arms import JOINTS, BuiltArm
from solver.sheets.supports.choice import arms_of, bends_mm
from solver.sheets.supports.frame import FrameMade, frame_made


@dataclass(frozen=True)
class SupportWire:
    """Pieces alike of frame or arms: for what, of which rod, so many and so long [mm]."""

    use: str
    gauge: Gauge
    piece: Piece


@dataclass(frozen=True)
class SupportsMade:
    """Frame and arms. unheld: what no arm reaches; bent: what is held by arms that,
    as they are joined, bend farther than the rule `sag` allows."""

    design: Design
    levels: int
    frame: FrameMade
    arms: tuple[BuiltArm, ...]
    unheld: tuple[str, ...]
    bent: tuple[str, ...]

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
    unheld = tuple(one.name for one in held_of(Room(design, train)) if one.name not in reached)
    frame = frame_made(design, len(train.rings), arms)
    return SupportsMade(design, len(train.rings), frame, arms, unheld, tuple(_bent(design, arms)))


def _bent(design: Design, arms: tuple[BuiltArm, ...]) -> Iterator[str]:
    most = limit_mm(design)
    for gap in sorted({arm.held.gap for arm in arms}):
        some = [arm for arm in arms if arm.held.gap == gap]
        far = zip(some, bends_mm(design, some), strict=True)
        yield from (arm.held.name for arm, bend in far if bend > most)
