"""Which arms are built: of each thing the shortest that is clear and stiff, as far as the frame or another arm.

An arm that meets one built before ends on it, and bends it: both, and all that is joined to them, must stay within the
limit of the rule `sag` together, or the next longer arm is looked at. Where `[supports]` lets arms begin on arms, the
least wire decides: a line from what is held straight to another's eye, or square on to it, is looked at too. It is
clear of what every arm is clear of; and no more than two arms lie between it and the frame.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from math import hypot

from solver.check.arm import ArmLine, Held, clear_arms, clear_ones, stiff_ones
from solver.check.joined import JoinedArm, joined_bends
from solver.check.room import Room
from solver.check.sag import limit_mm
from solver.design.design import Design
from solver.design.train import Train
from solver.sheets.supports.arms import ArmBuilder, BuiltArm, Vector

_SAME = 1e-9  # of how far an arm bends: what is joined to another tree leaves it as it was
MOST_BETWEEN = 2  # arms between one and the frame, where they may begin on arms


def arms_of(design: Design, train: Train) -> tuple[BuiltArm, ...]:
    """The arms of a placed train, gap by gap in the order in which they are built; none for what no clear arm reaches
    that is stiff enough."""
    waiting: dict[int, list[_Waiting]] = {}
    for number, (held, lines) in enumerate(clear_arms(design, train).items()):
        some = sorted(stiff_ones(design, held, lines), key=lambda line: round(line.length_mm, 6))
        if some:
            waiting.setdefault(held.gap, []).append(_Waiting(round(some[0].length_mm, 6), number, held, tuple(some)))
    chooser = _Chooser(design, train)
    found = []
    for gap in sorted(waiting):
        found += chooser.all(sorted(waiting[gap], key=lambda one: (one.least_mm, one.number)))
    return tuple(found)


def bends_mm(design: Design, arms: Sequence[BuiltArm]) -> list[float]:
    """How far each of the arms of one gap bends as it is joined to others, under the heaviest of its kind [mm]."""
    numbers = {arm.held.name: number for number, arm in enumerate(arms)}
    joined = []
    for arm in arms:
        on = numbers[arm.ends_at] if arm.on_arm else None
        at = 0.0 if on is None else max(arms[on].line_mm - _along(arms[on].points, arm.end), 0.0)
        joined.append(JoinedArm(arm.held.owner, arm.held.what, arm.line_mm, bool(arm.bends), on, at))
    return joined_bends(design, joined)


@dataclass(frozen=True)
class _Waiting:
    """Something that needs an arm, with those from the frame, the shortest first; and the order in which it comes."""

    least_mm: float
    number: int
    held: Held
    lines: tuple[ArmLine, ...]


class _Chooser:
    def __init__(self, design: Design, train: Train) -> None:
        assert design.supports is not None
        self.design, self.room, self.builder = design, Room(design, train), ArmBuilder(design, train)
        self.on_arms, self.limit, self.thick = design.supports.on_arms, limit_mm(design), float(design.supports.arm_mm)

    def all(self, waiting: Sequence[_Waiting]) -> list[BuiltArm]:
        """The arms of a gap. Where some that begin on others leave too little for those that come later, none does."""
        built = list[BuiltArm]()
        for on_arms in sorted({False, self.on_arms}, reverse=True):
            built = []
            for one in waiting:
                built.append(self._best(one, built, on_arms))
            if max(bends_mm(self.design, built)) <= self.limit:
                break
        return built

    def _best(self, one: _Waiting, built: Sequence[BuiltArm], on_arms: bool) -> BuiltArm:
        """The arm to build next: the shortest that holds with those that are built, else the one that bends least."""
        every, tried = list[BuiltArm](), list[BuiltArm]()
        for line in one.lines:
            tried.append(self.builder.build(one.held, line, built))
            if self._holds(tried[-1], built):
                every.append(tried[-1])
                break
        if on_arms:
            every += self._begun(one.held, built)
        if not every:
            return min(tried, key=lambda arm: round(max(bends_mm(self.design, [*built, arm])), 9))
        return min(every, key=lambda arm: round(arm.wire_mm, 6))

    def _begun(self, held: Held, built: Sequence[BuiltArm]) -> Iterator[BuiltArm]:
        """The arms that can begin on those that are built."""
        between = {arm.held.name: self._between(arm, built) for arm in built}
        for carrier in built:
            if between[carrier.held.name] < MOST_BETWEEN:
                for line in clear_ones(self.room, held, _lines_to(held, carrier)):
                    arm = self.builder.build(held, line, built)
                    near = arm.eye.outside_mm + max(arm.eye.inward_mm, arm.eye.outward_mm) + self.thick / 2
                    on = arm.on_arm and between[arm.ends_at] < MOST_BETWEEN
                    if on and arm.line_mm >= near and self._holds(arm, built):
                        yield arm

    def _between(self, arm: BuiltArm, built: Sequence[BuiltArm]) -> int:
        """How many arms lie between one and the frame."""
        named, count = {one.held.name: one for one in built}, 0
        while arm.on_arm:
            arm, count = named[arm.ends_at], count + 1
        return count

    def _holds(self, arm: BuiltArm, built: Sequence[BuiltArm]) -> bool:
        """Whether one more arm, which alone does not bend too far, makes none do so that is built."""
        if not arm.on_arm:
            return True
        before, after = (bends_mm(self.design, some) for some in (built, [*built, arm]))
        return all(
            bend <= max(self.limit, once * (1 + _SAME)) for once, bend in zip([*before, 0.0], after, strict=True)
        )


def _lines_to(held: Held, carrier: BuiltArm) -> Iterator[ArmLine]:
    """Straight lines from what is held to the middle of what another arm holds, and square on to its legs."""
    start = Fraction(held.spot[0], 1000), Fraction(held.spot[1], 1000)
    x, y = map(float, start)
    ends = [carrier.points[0]]
    for (ax, ay), (bx, by) in pairwise(carrier.points):
        dx, dy = bx - ax, by - ay
        square = dx * dx + dy * dy
        part = ((x - ax) * dx + (y - ay) * dy) / square if square else 0.0
        if 0 < part < 1:
            ends.append((ax + part * dx, ay + part * dy))
    for end in ends:
        yield ArmLine((start, (Fraction(end[0]), Fraction(end[1]))), "arm", True)


def _along(points: Sequence[Vector], at: Vector) -> float:
    """How far along a line the point of it is that is nearest to another."""
    found, far = list[tuple[float, float]](), 0.0
    for (ax, ay), (bx, by) in pairwise(points):
        dx, dy = bx - ax, by - ay
        long = hypot(dx, dy)
        part = min(max(((at[0] - ax) * dx + (at[1] - ay) * dy) / long, 0.0), long) if long else 0.0
        share = part / long if long else 0.0
        found.append((hypot(at[0] - ax - share * dx, at[1] - ay - share * dy), far + part))
        far += long
    return min(found, key=lambda one: round(one[0], 9))[1]
