"""Frame and arms as parts of the pictures: what each is called, its number, and how it is seen [mm of the model].

The number of a bar tells where it is: F3t is the top one of gap 3, and b, l and r those at the bottom, left and right;
Fb is the back; of a round frame F3 is the ring of gap 3. Fm are the members along the axis, Fe the eyes that the frame
hangs by, Ff its feet. AL3 is the arm of L3, UL3 the bush in its eye.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import pi

from solver.sheets.draw.drawing import Circle, Drawing, Point, Polyline, Shape
from solver.sheets.draw.marks import rect
from solver.sheets.supports.arms import BuiltArm
from solver.sheets.supports.frame import FrameBar
from solver.sheets.supports.made import SupportsMade
from solver.sheets.views.gap import arm_front

TOLD = (
    " A before a number: the arm that holds it; U: the bush in that arm's eye. F3t: the frame's bar of gap 3 at the "
    "top, F3b at the bottom, F3l and F3r at the left and right; Fbt and so on: the back rectangle. "
)
ROUND = " A before a number: the arm that holds it; U: the bush in that arm's eye. F3: the frame's ring of gap 3; Fb: "
ENDS = "Fm: members along the axis; {}."


@dataclass(frozen=True)
class HeldShape:
    """A part of frame or arms. front: as seen from the front. first, last: where it begins and ends along the axis, in
    levels (gap 3 is 3.5), and how much farther it reaches towards the back and the front [mm]. circle: an eye that is
    seen from the side. along: whether it runs along the axis, as members, feet and eyes to hang by do."""

    front: tuple[Shape, ...]
    first: float
    last: float
    back_mm: float
    front_mm: float
    circle: bool = False
    along: bool = False

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Left, low, right and top from the front."""
        return Drawing("", self.front).box


@dataclass(frozen=True)
class Holding:
    """A part of frame or arms: its name in the build order, its number, "bar", "arm" or "bush", and where its number
    points to."""

    name: str
    number: str
    kind: str
    at: Point
    shape: HeldShape


def told_of(made: SupportsMade | None) -> str:
    """What the numbers of frame and arms mean; "" where there are none."""
    if made is None:
        return ""
    ends = ENDS.format("Fe: eyes to hang by" if any(bar.thin for bar in made.frame.bars) else "Ff: feet")
    return ROUND + "the back ring. " + ends if made.frame.round else TOLD + ends


def bar_names(bar: FrameBar) -> tuple[str, ...]:
    """The names of bars alike: "bar of gap 3, top", "foot 2", "ring of gap 3"."""
    if bar.spots:
        return tuple(f"{bar.what} {number}" for number in range(1, len(bar.spots) + 1))
    return tuple(f"{bar.what}, {side}" for side in bar.sides) or (bar.what,)


def bar_numbers(bar: FrameBar) -> tuple[str, ...]:
    """Their numbers, in the same order."""
    if bar.spots:
        letter = "m" if bar.gap is None and bar.what.startswith("member") else "e" if bar.thin else "f"
        return tuple(f"F{letter}{number}" for number in range(1, len(bar.spots) + 1))
    gap = "b" if bar.gap == -1 else str(bar.gap)
    return tuple(f"F{gap}{side[0]}" for side in bar.sides) or (f"F{gap}",)


def arm_name(arm: BuiltArm) -> str:
    """ "arm of L3"."""
    return f"arm of {arm.held.name}"


def bush_name(arm: BuiltArm) -> str:
    """ "bush of L3"."""
    return f"bush of {arm.held.name}"


def holding_numbers(made: SupportsMade | None) -> dict[str, str]:
    """The number of every part of frame and arms by its name in the build order."""
    if made is None:
        return {}
    found: dict[str, str] = {}
    for bar in made.frame.bars:
        found |= dict(zip(bar_names(bar), bar_numbers(bar), strict=True))
    for arm in made.arms:
        found[arm_name(arm)] = f"A{arm.held.name}"
        if arm.bush is not None:
            found[bush_name(arm)] = f"U{arm.held.name}"
    return found


def holding(made: SupportsMade) -> Iterator[Holding]:
    """Every part of frame and arms where it stands."""
    for bar in made.frame.bars:
        for name, number, (at, shape) in zip(bar_names(bar), bar_numbers(bar), _bars(made, bar), strict=True):
            yield Holding(name, number, "bar", at, shape)
    assert made.design.supports is not None
    thick = float(made.design.supports.arm_mm)
    for arm in made.arms:
        gap, at = arm.held.gap + 0.5, arm.points[0]
        shapes = (*arm_front(arm, thick, made.frame.bar_mm, "arm", 0.0), Circle(at, arm.eye.outside_mm, "arm"))
        shape = HeldShape(shapes, gap, gap, thick / 2, thick / 2)
        yield Holding(arm_name(arm), f"A{arm.held.name}", "arm", at, shape)
        if arm.bush is not None:
            ring = Circle(at, arm.bush.outside_mm / 2, "arm", None, arm.bush.bore_mm / 2)
            shape = HeldShape((ring,), gap, gap, arm.bush.length_mm / 2, arm.bush.length_mm / 2)
            yield Holding(bush_name(arm), f"U{arm.held.name}", "bush", at, shape)


def _bars(made: SupportsMade, bar: FrameBar) -> Iterator[tuple[Point, HeldShape]]:
    """Each of bars alike, and where its number points to."""
    frame = made.frame
    thick, wide, high = frame.bar_mm, frame.wide_mm, frame.high_mm
    behind = frame.depths[-1] - frame.bar_depths[-1]  # of a bar's middle, behind its arms
    before = frame.bar_depths[made.levels - 1] - frame.depths[made.levels - 1]
    if bar.gap is not None:
        at = bar.gap + 0.5
        off = frame.bar_depths[bar.gap] - frame.depths[bar.gap]
        ends = at, at, thick / 2 - off, thick / 2 + off
        if frame.round:
            ring = Circle((0.0, 0.0), wide + thick, "arm", None, wide)
            yield (0.0, wide + thick / 2), HeldShape((ring,), *ends)
        long = thick if "rectangle" in bar.what else 0.0
        boxes = {
            "top": (-wide - long, high, wide + long, high + thick),
            "bottom": (-wide - long, -high - thick, wide + long, -high),
            "left": (-wide - thick, -high, -wide, high),
            "right": (wide, -high, wide + thick, high),
        }
        for side in bar.sides:
            low_x, low_y, high_x, high_y = boxes[side]
            middle = (low_x + high_x) / 2, (low_y + high_y) / 2
            yield middle, HeldShape((rect(boxes[side], "arm"),), *ends)
        return
    member, radius = bar.what.startswith("member"), bar.length_mm / pi / 2
    inner = -thick / 2 if frame.round else thick / 2  # members of a round frame lie along its rings
    for x, y in bar.spots:
        seen: Shape = Circle((x, y), thick / 2, "arm")
        if member:
            ends = -0.5, made.levels - 0.5, behind - inner, before - inner
        else:
            if bar.thin:
                seen = rect((x - thick / 2, y - radius, x + thick / 2, y + radius), "arm")
            long = 2 * radius if bar.thin else bar.length_mm
            ends = -0.5, -0.5, behind + thick / 2 + long, -behind - thick / 2
        yield (x, y), HeldShape((seen,), *ends, circle=bar.thin, along=True)


def painted(shape: HeldShape, scale: float, layer: str, fill: float | None, number: str) -> list[Shape]:
    """It from the front [mm of the paper], on a layer, its shapes with its number. fill: of what is no ring."""
    found: list[Shape] = []
    for one in Drawing("", shape.front).scaled(1 / scale).shapes:
        facts = (("part", number),)
        if isinstance(one, Circle):
            grey = fill if one.inner or layer == "there" else None
            found.append(replace(one, layer=layer, fill=grey, facts=facts))
            if one.inner:
                found.append(Circle(one.at, one.inner, layer))
        elif isinstance(one, Polyline):
            points = tuple((round(x, 2), round(y, 2)) for x, y in one.points)
            found.append(replace(one, points=points, layer=layer, fill=fill, facts=facts))
    return found
