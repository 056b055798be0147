"""Which arms of a target are clear of round things: floats where they are sure, exact numbers where they are not.

The distance of a line to a point is a quotient of whole numbers in a frame with straight sides, and has one square root
in a round one (`surd`). Floats are off by far less than `_DOUBT` of what they reckon with; what is as near to its limit
is worked out again without them.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise
from math import sqrt

import numpy as np

from solver.design.arms import FAMILY, swept
from solver.design.design import Design
from solver.design.train import Spot
from solver.search.place.surd import Surd

UM = 1000  # micrometres in a millimetre
WALL = Fraction(2)  # mm by which the sleeve of an arbor is thicker than its post, unless told
_DOUBT = 1e-12  # of the square of the farthest that anything is from the main axis

Points = list[tuple[Surd, Surd]]


class ArmWays:
    """The arms in the frame of one design. Targets and things stand at whole micrometres; lengths are exact."""

    def __init__(self, design: Design, mm_per_tooth: Fraction) -> None:
        """mm_per_tooth: of pitch radius, rounded up."""
        frame, supports, fit = design.fit.frame, design.supports, design.fit
        assert frame is not None and supports is not None
        self.half = frame.width * UM / 2, frame.height * UM / 2
        self.round, self.stands = frame.round, fit.stands
        self.room = (supports.arm_mm / 2 + fit.clearance) * UM  # from an arm's middle line to what it must not touch
        sleeve = design.wire.arbor_diameter
        self.arbor = self.room + (2 * fit.post_radius + WALL if sleeve is None else sleeve) * UM / 2
        self._tooth, self._stand = mm_per_tooth * UM, self.room + (fit.post_radius - design.rings.rim / 2) * UM

    def disc(self, rings: tuple[int, ...], riders: tuple[int, ...], gap: int) -> Fraction | None:
        """How far from the main axis [micrometres] every arm in a gap must stay for the stands of these riders; None:
        none of them passes it."""
        return max((self._stand + rings[ring] * self._tooth for ring in riders if swept(ring, gap, self.stands)),
                   default=None)  # fmt: skip

    def free(self, xs: np.ndarray, ys: np.ndarray, disc: Fraction | None) -> np.ndarray:
        """Which arms of targets at these spots there are, clear of a disc of that radius [micrometres] about the main
        axis, where there is one; shape (targets, arms)."""
        found = np.ones((len(xs), len(FAMILY)), bool)
        middle = np.zeros(len(xs), np.int64)
        for number in range(len(FAMILY)):
            found[:, number] = self._bends_within(number, xs, ys)
            if disc is not None:
                found[:, number] &= self._clear(number, xs, ys, middle, middle, disc)
        return found

    def past_own(
        self, xs: np.ndarray, ys: np.ndarray, free: np.ndarray, at: tuple[np.ndarray, np.ndarray]
    ) -> np.ndarray:
        """Which targets have an arm, of those that are free, clear of the arbor at these spots, each of its own."""
        found = np.zeros(len(xs), bool)
        for number in range(len(FAMILY)):
            there = np.flatnonzero(free[:, number] & ~found)
            if len(there):
                beside = at[0][there], at[1][there]
                found[there] = self._clear(number, xs[there], ys[there], *beside, self.arbor)
        return found

    def past(self, xs: np.ndarray, ys: np.ndarray, free: np.ndarray, at: tuple[np.ndarray, np.ndarray]) -> np.ndarray:
        """Which targets have an arm, of those that are free, clear of an arbor at each of these spots; shape (targets,
        spots)."""
        found = np.zeros((len(xs), len(at[0])), bool)
        off_x, off_y = (one[:, None].astype(float) - other for one, other in zip((xs, ys), at, strict=True))
        perhaps = off_x * off_x + off_y * off_y >= float(self.arbor) ** 2 * (1 - 1e-9)  # of the target itself
        for number in range(len(FAMILY)):
            one, other = np.nonzero(perhaps & ~found & free[:, number, None])
            if len(one):
                found[one, other] = self._clear(number, xs[one], ys[one], at[0][other], at[1][other], self.arbor)
        return found

    # -- one arm -----------------------------------------------------------------------------------------------------

    def _bends_within(self, number: int, xs: np.ndarray, ys: np.ndarray) -> np.ndarray:
        """Whether the arm does not bend outside of a round frame."""
        if not self.round or len(FAMILY[number]) == 1:
            return np.ones(len(xs), bool)
        across, up = FAMILY[number][0]
        share, own = (across, ys) if across is not None else (up, xs)
        assert share is not None
        room = self.half[0] ** 2 * (1 - share * share)
        inside: np.ndarray = own.astype(object) ** 2 <= room.numerator // room.denominator
        return inside.astype(bool)

    def _clear(
        self, number: int, xs: np.ndarray, ys: np.ndarray, at_x: np.ndarray, at_y: np.ndarray, need: Fraction
    ) -> np.ndarray:
        """Whether the arm of each target is at least `need` micrometres from the point of the same number."""
        x, y, to_x, to_y = (one.astype(float) for one in (xs, ys, at_x, at_y))
        ends = self._points(number, x, y)
        least = np.full(len(x), np.inf)
        for (from_x, from_y), (by_x, by_y) in pairwise([(x, y), *ends]):
            along_x, along_y, off_x, off_y = by_x - from_x, by_y - from_y, to_x - from_x, to_y - from_y
            length = along_x * along_x + along_y * along_y
            share = np.clip((off_x * along_x + off_y * along_y) / np.maximum(length, 1e-9), 0.0, 1.0)
            least = np.minimum(least, (off_x - share * along_x) ** 2 + (off_y - share * along_y) ** 2)
        asked = float(need) ** 2
        found: np.ndarray = least >= asked
        far = max(float(max(self.half)), *(float(abs(one).max(initial=0.0)) for one in (x, y, to_x, to_y)))
        for index in np.flatnonzero(abs(least - asked) <= _DOUBT * max(far * far, asked)).tolist():
            target, point = (int(xs[index]), int(ys[index])), (int(at_x[index]), int(at_y[index]))
            found[index] = self._exactly(number, target, point, need)
        return found

    def _points(self, number: int, x: np.ndarray, y: np.ndarray) -> list[tuple[np.ndarray, np.ndarray]]:
        """Where the arm bends and ends, for each target."""
        across, up = map(float, self.half)
        found = [
            (x if to_x is None else np.full(len(x), float(to_x) * across),
             y if to_y is None else np.full(len(y), float(to_y) * up))
            for to_x, to_y in FAMILY[number]
        ]  # fmt: skip
        if not self.round:
            return found
        far, (to_x, to_y), (end_x, end_y) = across, FAMILY[number][-1], found[-1]
        if _corner(to_x, to_y):
            return [(end_x * sqrt(0.5), end_y * sqrt(0.5))]
        if to_x is not None and abs(to_x) == 1:
            found[-1] = (float(to_x) * np.sqrt(np.maximum(far * far - end_y * end_y, 0.0)), end_y)
        else:
            assert to_y is not None
            found[-1] = (end_x, float(to_y) * np.sqrt(np.maximum(far * far - end_x * end_x, 0.0)))
        return found

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
            if _corner(to_x, to_y):
                assert to_x is not None and to_y is not None
                points[-1] = Surd(Fraction(0), to_x, square / 2), Surd(Fraction(0), to_y, square / 2)
            elif to_x is not None and abs(to_x) == 1:
                points[-1] = Surd(Fraction(0), to_x, max(square - end_y * end_y, Fraction(0))), points[-1][1]
            else:
                assert to_y is not None
                points[-1] = points[-1][0], Surd(Fraction(0), to_y, max(square - end_x * end_x, Fraction(0)))
        return points


def _corner(across: Fraction | None, up: Fraction | None) -> bool:
    """Whether an arm ends in a corner."""
    return across is not None and up is not None and abs(across) == abs(up) == 1
