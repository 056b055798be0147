"""The frame that arms begin at: bars around the model, and bars of gaps in which arms end between them.

Of a square or rectangular frame: two rectangles of bar, one beyond each end of the levels, members along the main axis
in the four corners, and in each gap a bar along every side on which arms end. Of a round one: rings of bent bar, one
beyond each end and one for each gap in which arms end, and six members along the main axis outside of them. The size
that the file gives is that inside of the bars. In its gap a bar lies behind its arms; only before the last one, whose
arms it closes in, lies the front rectangle or ring. Behind is the side of level 0.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import cos, pi, radians, sin

from solver.design.design import Design
from solver.forms.wire import wire_grams
from solver.sheets.supports.arms import BuiltArm, Vector, density_of

MEMBERS = 6  # along the main axis, of a round frame (common practice, no source)
FOOT = 40.0  # mm, of a table model (common practice, no source)
EYE = 8.0  # mm, inside of an eye to hang the frame by (common practice, no source)
SIDES = ("top", "bottom", "left", "right")


@dataclass(frozen=True)
class FrameBar:
    """Bars of the frame that are alike. gap: in which they lie, None where they run along the axis or hang on to it;
    sides: where; thin: whether it is made of the arms' wire. length_mm: of the middle line; joints: of each, where it
    ends. closed: whether it is bent to a ring. spots: of members, feet and eyes, from the main axis [mm]."""

    what: str
    gap: int | None
    sides: tuple[str, ...]
    count: int
    length_mm: float
    joints: int
    grams: float
    closed: bool = False
    thin: bool = False
    spots: tuple[Vector, ...] = ()


@dataclass(frozen=True)
class FrameMade:
    """The frame. wide_mm, high_mm: half of what is inside of the bars; round: whether they are rings. depths: where in
    each gap arms lie, by gap, from half a spacing behind level 0; bar_depths: the middles of the gaps' bars."""

    round: bool
    wide_mm: float
    high_mm: float
    bar_mm: float
    bars: tuple[FrameBar, ...]
    depths: dict[int, float]
    bar_depths: dict[int, float]


def frame_made(design: Design, levels: int, arms: tuple[BuiltArm, ...]) -> FrameMade:
    """The frame for so many levels and these arms."""
    return _Frame(design, levels, arms).made()


def bars_beyond(design: Design) -> float:
    """How far the frame's bars reach beyond its inside [mm]; 0 where none are designed."""
    if not design.armed or design.supports is None or design.fit.frame is None:
        return 0.0
    return float(design.supports.bar_mm) * (2 if design.fit.frame.round else 1)


class _Frame:
    def __init__(self, design: Design, levels: int, arms: tuple[BuiltArm, ...]) -> None:
        frame, supports = design.fit.frame, design.supports
        assert frame is not None and supports is not None
        self.wide = float(frame.width) / 2
        self.high = self.wide if frame.round else float(frame.height) / 2
        self.round, self.model = frame.round, supports.model
        self.arm, self.bar, self.density = float(supports.arm_mm), float(supports.bar_mm), density_of(design)
        self.levels, self.spacing = levels, float(design.rings.level_spacing)
        self.used: dict[int, set[str]] = {}
        for one in arms:
            if not one.on_arm:
                self.used.setdefault(one.held.gap, set()).add(one.ends_at)

    def made(self) -> FrameMade:
        depths = {gap: (gap + 1) * self.spacing for gap in range(-1, self.levels)}
        off = (self.bar + self.arm) / 2
        bar_depths = {gap: at + (off if gap == self.levels - 1 else -off) for gap, at in depths.items()}
        bars = tuple(self._rings() if self.round else self._rectangles())
        return FrameMade(self.round, self.wide, self.high, self.bar, bars, depths, bar_depths)

    def _bar(
        self,
        what: str,
        gap: int | None,
        sides: tuple[str, ...],
        length: float,
        joints: int,
        spots: tuple[Vector, ...] = (),
        thin: bool = False,
        closed: bool = False,
    ) -> FrameBar:
        count = len(spots) or len(sides) or 1
        grams = wire_grams(length, self.arm if thin else self.bar, self.density)
        return FrameBar(what, gap, sides, count, length, joints, grams, closed, thin, spots)

    def _ends(self) -> tuple[tuple[str, int], tuple[str, int]]:
        return ("back", -1), ("front", self.levels - 1)

    @property
    def _deep(self) -> float:
        """Between the bars of both ends."""
        return self.levels * self.spacing + self.arm

    def _rectangles(self) -> Iterator[FrameBar]:
        wide, high, bar = 2 * self.wide, 2 * self.high, self.bar
        for name, gap in self._ends():
            yield self._bar(f"{name} rectangle", gap, ("top", "bottom"), wide + 2 * bar, 0)
            yield self._bar(f"{name} rectangle", gap, ("left", "right"), high, 2)
        x, y = self.wide + bar / 2, self.high + bar / 2
        corners = ((-x, y), (x, y), (x, -y), (-x, -y))
        yield self._bar("member along the axis", None, (), self._deep, 2, corners)
        for gap in range(self.levels - 1):
            sides = tuple(side for side in SIDES if side in self.used.get(gap, set()))
            for some, length in ((("top", "bottom"), wide), (("left", "right"), high)):
                mine = tuple(side for side in sides if side in some)
                if mine:
                    yield self._bar(f"bar of gap {gap}", gap, mine, length, 2)
        hung = ((-self.wide / 2, y), (self.wide / 2, y))
        yield self._hold(hung, corners)

    def _rings(self) -> Iterator[FrameBar]:
        around = 2 * pi * (self.wide + self.bar / 2)
        ends = {gap: name for name, gap in self._ends()}
        for gap in range(-1, self.levels):
            if gap in ends or gap in self.used:
                name = f"{ends[gap]} ring" if gap in ends else f"ring of gap {gap}"
                yield self._bar(name, gap, (), around, 1 + MEMBERS, closed=True)
        far = self.wide + 1.5 * self.bar
        spots = tuple(_at(far, 360 * number / MEMBERS) for number in range(MEMBERS))
        yield self._bar("member along the axis", None, (), self._deep + 2 * self.bar, 0, spots)
        middle = self.wide + self.bar / 2
        yield self._hold((_at(middle, 120), _at(middle, 60)), spots[::2])

    def _hold(self, hung: tuple[Vector, ...], stood: tuple[Vector, ...]) -> FrameBar:
        """What the model hangs by, or the feet that it stands on, at its back."""
        if self.model == "wall":
            return self._bar("eye to hang by", None, (), pi * (EYE + self.arm), 1, hung, True, True)
        return self._bar("foot", None, (), FOOT, 1, stood)


def _at(far: float, turn: float) -> Vector:
    return far * cos(radians(turn)), far * sin(radians(turn))
