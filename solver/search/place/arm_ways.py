"""Which arms of a target are clear of round things: floats where they are sure, exact numbers where they are not.

The distance of a line to a point is a quotient of whole numbers in a frame with straight sides, and has one square root
in a round one (`surd`). Floats are off by far less than `_DOUBT` of what they reckon with; what is as near to its limit
is worked out again without them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from fractions import Fraction
from itertools import pairwise
from math import sqrt

import numpy as np

from solver.design.arms import FAMILY, Corner, swept
from solver.design.design import Design
from solver.design.train import Spot
from solver.search.place.surd import Surd
from solver.search.sagged import sagging_of

UM = 1000  # micrometres in a millimetre
WALL = Fraction(2)  # mm by which the sleeve of an arbor is thicker than its post, unless told
_MOST = 500_000  # arms, or pairs of a target and an arbor, that are looked at at once
_DOUBT = 1e-12  # of the square of the farthest that anything is from the main axis

ARBOR, THIRD, MOTOR, ROLLER = "arbor", "third gear", "motor", "roller"  # what arms hold

Points = list[tuple[Surd, Surd]]
Usable = Callable[[str, Callable[[], np.ndarray], np.ndarray], np.ndarray | None]
"""Which arms, by number, can be used for what they hold, by their developed lengths [mm; shape (targets, arms)]; None:
all."""


class ArmWays:
    """The arms in the frame of one design. Targets and things stand at whole micrometres; lengths are exact."""

    def __init__(
        self, design: Design, mm_per_tooth: Fraction, rim: Fraction, usable: Usable = lambda held, lengths, arms: None
    ) -> None:
        """mm_per_tooth: of pitch radius, rounded up; rim [mm]: how far rings reach inwards. usable: which arms are
        stiff enough for what they hold."""
        frame, supports, fit = design.fit.frame, design.supports, design.fit
        assert frame is not None and supports is not None
        self.half = frame.width * UM / 2, frame.height * UM / 2
        self.round, self.stands = frame.round, fit.stands
        self.room = (supports.arm_mm / 2 + fit.clearance) * UM  # from an arm's middle line to what it must not touch
        sleeve = design.wire.arbor_diameter
        self.arbor = self.room + (2 * fit.post_radius + WALL if sleeve is None else sleeve) * UM / 2
        self._tooth, self._stand = mm_per_tooth * UM, self.room + (fit.post_radius - rim / 2) * UM
        self._usable = usable

    def disc(self, rings: tuple[int, ...], riders: tuple[int, ...], gap: int) -> Fraction | None:
        """How far from the main axis [micrometres] every arm in a gap must stay for the stands of these riders; None:
        none of them passes it."""
        return max((self._stand + rings[ring] * self._tooth for ring in riders if swept(ring, gap, self.stands)),
                   default=None)  # fmt: skip

    def free(self, held: str, xs: np.ndarray, ys: np.ndarray, disc: Fraction | None) -> np.ndarray:
        """Which arms of targets at these spots there are and can be used, clear of a disc of that radius [micrometres]
        about the main axis, where there is one; shape (targets, arms). held: what the targets are: ARBOR, THIRD, MOTOR
        (a motor's third gear too) or ROLLER."""
        found = np.ones((len(xs), len(FAMILY)), bool)
        if self.round:
            for number, arm in enumerate(FAMILY):
                if len(arm) > 1:
                    found[:, number] = self._bends_within(arm[0], xs, ys)
        if disc is not None:
            for part in _blocks(len(xs), len(FAMILY)):
                x, y = xs[part], ys[part]
                middle = np.zeros_like(x)
                found[part] &= self._clear((x, y), self._courses(x, y, _ALL), (middle, middle), disc, _ALL)
        some = self._usable(held, lambda: self._lengths(xs, ys, _ALL), _ALL)
        return found if some is None else found & some

    def past_own(
        self, xs: np.ndarray, ys: np.ndarray, free: np.ndarray, at: tuple[np.ndarray, np.ndarray]
    ) -> np.ndarray:
        """Which targets have an arm, of those that are free, clear of the arbor at these spots, each of its own."""
        found = np.zeros(len(xs), bool)
        for part in _blocks(len(xs), len(FAMILY)):
            x, y = xs[part], ys[part]
            clear = self._clear((x, y), self._courses(x, y, _ALL), (at[0][part], at[1][part]), self.arbor, _ALL)
            found[part] = np.any(clear & free[part], axis=1)
        return found

    def reached(
        self,
        held: str,
        xs: np.ndarray,
        ys: np.ndarray,
        disc: Fraction | None,
        own: tuple[np.ndarray, np.ndarray] | None,
    ) -> np.ndarray:
        """Which targets have an arm that is free in this sense, and clear of the arbor at the spot of the same number
        where one is told. Straight arms are looked at first: most targets have one."""
        found = np.zeros(len(xs), bool)
        for columns in (_LINES, _BENT):
            left = np.flatnonzero(~found)
            for part in _blocks(len(left), len(columns)):
                at = left[part]
                arbor = None if own is None else (own[0][at], own[1][at])
                found[at] = self._some(held, (xs[at], ys[at]), disc, arbor, columns)
        return found

    def _some(
        self, held: str, target: tuple[np.ndarray, np.ndarray], disc: Fraction | None,
        own: tuple[np.ndarray, np.ndarray] | None, columns: np.ndarray,
    ) -> np.ndarray:  # fmt: skip
        """Likewise with one of these arms."""
        x, y = target
        found, courses = np.ones((len(x), len(columns)), bool), self._courses(x, y, columns)
        if self.round:
            for at, number in enumerate(columns.tolist()):
                if not _STRAIGHT[number]:
                    found[:, at] = self._bends_within(FAMILY[number][0], x, y)
        stiff = self._usable(held, lambda: self._lengths(x, y, columns), columns)
        if stiff is not None:
            found = np.logical_and(found, stiff)
        if disc is not None:
            middle = np.zeros_like(x)
            found = np.logical_and(found, self._clear(target, courses, (middle, middle), disc, columns))
        if own is not None:
            found = np.logical_and(found, self._clear(target, courses, own, self.arbor, columns))
        some: np.ndarray = np.any(found, axis=1)
        return some

    def past(self, xs: np.ndarray, ys: np.ndarray, free: np.ndarray, at: tuple[np.ndarray, np.ndarray]) -> np.ndarray:
        """Which targets have an arm, of those that are free, clear of an arbor at each of these spots; shape (targets,
        spots)."""
        found = np.zeros((len(xs), len(at[0])), bool)
        for part in _blocks(len(xs), len(at[0])):
            found[part] = self._past(xs[part], ys[part], free[part], at)
        return found

    def _past(self, xs: np.ndarray, ys: np.ndarray, free: np.ndarray, at: tuple[np.ndarray, np.ndarray]) -> np.ndarray:
        """One arm after the other, for what no arm was found for yet: most have one of the first."""
        found = np.zeros((len(xs), len(at[0])), bool)
        off_x, off_y = (one[:, None].astype(float) - by.astype(float) for one, by in zip((xs, ys), at, strict=True))
        perhaps = off_x * off_x + off_y * off_y >= float(self.arbor) ** 2 * (1 - 1e-9)  # of the target itself
        courses = self._courses(xs, ys, _ALL)
        for number in range(len(FAMILY)):
            one, other = np.nonzero(perhaps & ~found & free[:, number, None])
            if len(one):
                this = slice(number, number + 1)
                target, course, spot = (xs[one], ys[one]), courses[:, one, this], (at[0][other], at[1][other])
                found[one, other] = self._clear(target, course, spot, self.arbor, _ALL[this])[:, 0]
        return found

    # -- arms --------------------------------------------------------------------------------------------------------

    def _lengths(self, xs: np.ndarray, ys: np.ndarray, arms: np.ndarray) -> np.ndarray:
        """Developed lengths [mm] of these arms; shape (targets, arms)."""
        bend_x, bend_y, end_x, end_y = self._courses(xs, ys, arms)
        first = np.hypot(bend_x - xs.astype(float)[:, None], bend_y - ys.astype(float)[:, None])
        found: np.ndarray = (first + np.hypot(end_x - bend_x, end_y - bend_y)) / UM
        return found

    def _bends_within(self, bend: Corner, xs: np.ndarray, ys: np.ndarray) -> np.ndarray:
        """Whether arms that bend there do not bend outside of a round frame."""
        across, up = bend
        share, own = (across, ys) if across is not None else (up, xs)
        assert share is not None
        room = self.half[0] ** 2 * (1 - share * share)
        inside: np.ndarray = own.astype(object) ** 2 <= room.numerator // room.denominator
        return inside.astype(bool)

    def _clear(
        self, target: tuple[np.ndarray, np.ndarray], courses: np.ndarray, at: tuple[np.ndarray, np.ndarray],
        need: Fraction, arms: np.ndarray,
    ) -> np.ndarray:  # fmt: skip
        """Whether these arms of each target, of which `courses` tells, are at least `need` micrometres from the point
        of the same number; shape (targets, arms)."""
        x, y, to_x, to_y = (one.astype(float)[:, None] for one in (*target, *at))
        bend_x, bend_y, end_x, end_y = courses
        least = np.minimum(_square(x, y, bend_x, bend_y, to_x, to_y), _square(bend_x, bend_y, end_x, end_y, to_x, to_y))
        asked = float(need) ** 2
        found: np.ndarray = least >= asked
        far = max(float(max(self.half)), *(float(abs(one).max(initial=0.0)) for one in (x, y, to_x, to_y)))
        for index, arm in np.argwhere(abs(least - asked) <= _DOUBT * max(far * far, asked)).tolist():
            spots = [(int(one[0][index]), int(one[1][index])) for one in (target, at)]
            found[index, arm] = self._exactly(int(arms[arm]), spots[0], spots[1], need)
        return found

    def _courses(self, xs: np.ndarray, ys: np.ndarray, arms: np.ndarray) -> np.ndarray:
        """Where each of these arms of each target bends (where it ends, if it does not) and ends: x and y of either;
        shape (4, targets, arms)."""
        own, (across, up) = (xs.astype(float)[:, None], ys.astype(float)[:, None]), map(float, self.half)
        its, shares, signs = _OWN[:, :, arms], _SHARES[:, :, arms], _SIGNS[:, arms]
        corners, sideways, straight = _CORNERS[arms], _SIDEWAYS[arms], _STRAIGHT[arms]
        bend_x, end_x = (np.where(its[part, 0], own[0], shares[part, 0] * across) for part in (0, 1))
        bend_y, end_y = (np.where(its[part, 1], own[1], shares[part, 1] * up) for part in (0, 1))
        if self.round:
            on_side = [np.sqrt(np.maximum(across * across - one * one, 0.0)) for one in (end_y, end_x)]
            corner = across * sqrt(0.5)
            end_x = np.where(corners, signs[0] * corner, np.where(sideways, signs[0] * on_side[0], end_x))
            end_y = np.where(corners, signs[1] * corner, np.where(sideways, end_y, signs[1] * on_side[1]))
            bend_x, bend_y = np.where(straight, end_x, bend_x), np.where(straight, end_y, bend_y)
        return np.stack(np.broadcast_arrays(bend_x, bend_y, end_x, end_y))

    # -- exactly -----------------------------------------------------------------------------------------------------

    def _exactly(self, number: int, target: Spot, at: Spot, need: Fraction) -> bool:
        """`_clear` of one target, without floats."""
        square, (x, y), (to_x, to_y) = Surd(need * need), map(Fraction, target), (Surd(Fraction(one)) for one in at)
        for (from_x, from_y), (by_x, by_y) in pairwise(self._exact_points(number, x, y)):
            along_x, along_y, off_x, off_y = by_x - from_x, by_y - from_y, to_x - from_x, to_y - from_y
            length, share = along_x * along_x + along_y * along_y, off_x * along_x + off_y * along_y
            if share.sign() <= 0:
                over = off_x * off_x + off_y * off_y - square
            elif (length - share).sign() <= 0:
                over = (to_x - by_x) * (to_x - by_x) + (to_y - by_y) * (to_y - by_y) - square
            else:
                beside = off_x * along_y - off_y * along_x
                over = beside * beside - square * length
            if over.sign() < 0:
                return False
        return True

    def _exact_points(self, number: int, x: Fraction, y: Fraction) -> Points:
        (across, up), arm = self.half, FAMILY[number]
        found = [(x, y), *((x if a is None else a * across, y if b is None else b * up) for a, b in arm)]
        points = [(Surd(one), Surd(other)) for one, other in found]
        if self.round:
            (to_x, to_y), (end_x, end_y), square = arm[-1], found[-1], across * across
            if _corner(arm[-1]):
                assert to_x is not None and to_y is not None
                points[-1] = Surd(Fraction(0), to_x, square / 2), Surd(Fraction(0), to_y, square / 2)
            elif to_x is not None and abs(to_x) == 1:
                points[-1] = Surd(Fraction(0), to_x, max(square - end_y * end_y, Fraction(0))), points[-1][1]
            else:
                assert to_y is not None
                points[-1] = points[-1][0], Surd(Fraction(0), to_y, max(square - end_x * end_x, Fraction(0)))
        return points


def stiff_arms(design: Design) -> Usable:
    """Which arms bend little enough under the heaviest that they may hold, by the rule `sag`."""
    sagging, frame = sagging_of(design), design.fit.frame
    assert frame is not None
    farthest = float(frame.width + frame.height)  # no arm is as long: neither leg is longer than the frame
    longest = dict[str, np.ndarray | None]()

    def usable(held: str, lengths: Callable[[], np.ndarray], arms: np.ndarray) -> np.ndarray | None:
        if sagging is None:
            return None
        if held not in longest:
            most = sagging.longest_arms_mm(held, ~_STRAIGHT)
            longest[held] = None if most.min() > farthest else most
        most_mm = longest[held]
        return None if most_mm is None else lengths() <= most_mm[arms]

    return usable


def _blocks(targets: int, each: int) -> Iterator[slice]:
    """So many targets, which take so much each, by parts that do not take too much memory."""
    rows = max(1, _MOST // max(1, each))
    return (slice(begin, begin + rows) for begin in range(0, targets, rows))


def _square(
    from_x: np.ndarray, from_y: np.ndarray, by_x: np.ndarray, by_y: np.ndarray, to_x: np.ndarray, to_y: np.ndarray
) -> np.ndarray:
    """The square of the least distance of a leg from a point."""
    along_x, along_y, off_x, off_y = by_x - from_x, by_y - from_y, to_x - from_x, to_y - from_y
    length = along_x * along_x + along_y * along_y
    share = np.clip((off_x * along_x + off_y * along_y) / np.maximum(length, 1e-9), 0.0, 1.0)
    found: np.ndarray = (off_x - share * along_x) ** 2 + (off_y - share * along_y) ** 2
    return found


def _corner(end: Corner) -> bool:
    """Whether an arm ends in a corner."""
    across, up = end
    return across is not None and up is not None and abs(across) == abs(up) == 1


# Of all arms at once: where they bend, then where they end; across, then up.
_PARTS = [[arm[0] for arm in FAMILY], [arm[-1] for arm in FAMILY]]
_OWN = np.array([[[corner[axis] is None for corner in part] for axis in (0, 1)] for part in _PARTS])
_SHARES = np.array([[[float(corner[axis] or 0) for corner in part] for axis in (0, 1)] for part in _PARTS])
_SIGNS = np.sign(_SHARES[1])
_STRAIGHT = np.array([len(arm) == 1 for arm in FAMILY])
_ALL = np.arange(len(FAMILY))
_LINES, _BENT = np.flatnonzero(_STRAIGHT), np.flatnonzero(~_STRAIGHT)
_CORNERS = np.array([_corner(arm[-1]) for arm in FAMILY])
_SIDEWAYS = ~_CORNERS & (abs(_SHARES[1][0]) == 1)  # they end on the left or right side
