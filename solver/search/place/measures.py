"""How far apart things must be: whole numbers of square micrometres that decide exactly.

Spots are whole micrometres, so the square of a distance is a whole number; what is needed is rounded to the safe
side once, with pi fenced by two Fractions. A comparison of two integers is then exact.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from fractions import Fraction

import numpy as np

from solver.design.design import Design
from solver.design.exact import PI_HIGH, PI_LOW
from solver.search.levels import thick_of
from solver.search.place.arm_ways import ArmWays, stiff_arms
from solver.search.place.eyes import Eyes
from solver.search.place.shapes import Side
from solver.search.reaches import BEHIND, GEAR, THIRD, UNIT, Reaches

UM = 1000  # micrometres in a millimetre
NEVER = -1  # greatest square of a distance where none is near enough


class Measures:
    """The distances of one design [squares of micrometres], each found once.

    Every gear has the same pitch, so that what two gears need depends on the sum of their sizes alone (`reaches`): on
    their teeth, and on how far they stand beyond their pitch circles. thick: how thick parts are, where some are more
    than their levels leave; hubs: whether those of gears, which do not grow with them, are looked at too.
    """

    def __init__(self, design: Design, off: Fraction = Fraction(0)) -> None:
        """off: how much less than the clearance is asked for [mm]; then gears reach as little as any of their role."""
        rings, fit, self.reaches = design.rings, design.fit, Reaches(design)
        self.ring_tip, self.rim, self._tip, self._least = self.reaches.ring, self.reaches.rim, self.reaches.tip, off > 0
        self.thick, self.hubs = thick_of(design), not self._least
        self.fit, self.clearance, self.post = fit, fit.clearance - off, fit.post_radius
        self.roller = fit.rollers.radius if fit.rollers else Fraction(0)
        self._frame_rooms: dict[tuple[int, Fraction], tuple[int, int, int]] = {}
        self._gear_rooms: dict[int, tuple[int, int, int]] = {}
        self._sides: dict[tuple[int, int | None], tuple[int, ...]] = {}
        self._known: dict[tuple[str, int, Fraction], int] = {}
        per_tooth = rings.pitch.value / 2 if rings.pitch.is_module else rings.pitch.value / (2 * PI_LOW)
        self.high = per_tooth  # millimetres of pitch radius for a tooth, rounded up
        self.low = per_tooth if rings.pitch.is_module else rings.pitch.value / (2 * PI_HIGH)
        self.mm = float(per_tooth)
        self.arms = ArmWays(design, per_tooth, self.rim, stiff_arms(design)) if design.armed and not off else None
        self.eyes = Eyes(design) if design.armed and not off else None

    def gear(self, role: str, teeth: int) -> int:
        """The size of a small gear."""
        return self.reaches.size(role, teeth, least=self._least)

    def side(self, side: Side) -> tuple[int, ...]:
        """The sizes of the arbor's gear and of the third gear, if there is one, on one side of an arbor."""
        key = side.gear, side.third
        if key not in self._sides:
            if side.third is None:
                self._sides[key] = (self.gear(GEAR, side.gear),)
            else:
                self._sides[key] = self.gear(BEHIND, side.gear), self.gear(THIRD, side.third)
        return self._sides[key]

    def um(self, teeth: int | float) -> float:
        """Pitch radius of so many teeth [micrometres]."""
        return self.mm * teeth * UM

    def beyond(self, teeth: int, room: Fraction) -> int:
        """Least square of a distance that is at least `room` mm more than the pitch radius of `teeth` teeth."""
        key = ("beyond", teeth, room)
        if key not in self._known:
            need = (teeth * self.high + room) * UM
            self._known[key] = math.ceil(need * need) if need > 0 else 0
        return self._known[key]

    def within(self, teeth: int, room: Fraction) -> int:
        """Greatest square of a distance that is at least `room` mm less than that pitch radius, or NEVER."""
        key = ("within", teeth, room)
        if key not in self._known:
            most = (teeth * self.low - room) * UM
            self._known[key] = math.floor(most * most) if most >= 0 else NEVER
        return self._known[key]

    # What is not meant to touch keeps the clearance.

    def gears(self, sizes: int) -> int:
        """Tip circles of two gears of these sizes together."""
        teeth, reach = _split(sizes)
        return self.beyond(teeth, 2 * self._tip + self.clearance + reach)

    def gear_and(self, size: int, radius: Fraction) -> int:
        """A gear's tip circle and a round thing of that radius [mm]."""
        teeth, reach = _split(size)
        return self.beyond(teeth, self._tip + radius + self.clearance + reach)

    def rounds(self, *radii: Fraction) -> int:
        """Two round things of these radii [mm]."""
        return self.beyond(0, sum(radii, self.clearance))

    def ring_and(self, teeth: int, radius: Fraction) -> tuple[int, int]:
        """(inside up to, outside from) for a round thing of that radius [mm] beside a ring of so many teeth."""
        outside = self.beyond(teeth, self.ring_tip + radius + self.clearance)
        return self.within(teeth, self.rim + radius + self.clearance), outside

    def ring_and_gear(self, ring: int, size: int) -> tuple[int, int]:
        """(inside up to, outside from) for a gear of that size beside a ring of `ring` teeth."""
        teeth, reach = _split(size)
        room = self._tip + reach + self.clearance
        inside = self.within(ring - teeth, self.rim + room) if ring >= teeth else NEVER
        return inside, self.beyond(ring + teeth, self.ring_tip + room)

    def stand_and_gear(self, stand: int, size: int) -> tuple[int, int]:
        """`stand_and` for a gear of that size."""
        teeth, reach = _split(size)
        return self.stand_and(stand, teeth, self._tip + reach)

    def stand_and(self, stand: int, teeth: int, radius: Fraction) -> tuple[int, int]:
        """(inside up to, outside from) for a round thing beside the circle that the stand on a ring of `stand` teeth
        sweeps, half a rim inside its pitch circle. The thing is `radius` mm, and `teeth` of pitch radius, large."""
        room = radius + self.post + self.clearance
        return (
            self.within(stand - teeth, self.rim / 2 + room) if stand >= teeth else NEVER,
            self.beyond(stand + teeth, room - self.rim / 2),
        )

    def gear_in_frame(self, xs: np.ndarray, ys: np.ndarray, size: int) -> np.ndarray:
        """Which spots hold a gear of that size inside the frame."""
        if self.fit.frame is None:
            return np.ones(len(xs), bool)
        if size not in self._gear_rooms:
            teeth, reach = _split(size)
            self._gear_rooms[size] = self.frame_room(teeth, self._tip + reach)
        return self._in_room(xs, ys, self._gear_rooms[size])

    def in_frame(self, xs: np.ndarray, ys: np.ndarray, teeth: int, radius: Fraction) -> np.ndarray:
        """Which spots hold a round thing, `radius` mm beyond the pitch radius of `teeth` teeth, inside the frame."""
        return (
            np.ones(len(xs), bool) if self.fit.frame is None else self._in_room(xs, ys, self.frame_room(teeth, radius))
        )

    def _in_room(self, xs: np.ndarray, ys: np.ndarray, room: tuple[int, int, int]) -> np.ndarray:
        across, up, far = room
        assert self.fit.frame is not None
        if self.fit.frame.round:
            inside: np.ndarray = squares(xs, ys) <= least_of(far, xs)
            return inside
        within: np.ndarray = (abs(xs) <= least_of(across, xs)) & (abs(ys) <= least_of(up, xs))
        return within

    def frame_room(self, teeth: int, radius: Fraction) -> tuple[int, int, int]:
        """How far to the right, and up, the middle of such a thing may stand [micrometres], and the square of how far
        off in a round frame; negative where it may not. For a design with a frame."""
        key = (teeth, radius)
        if key not in self._frame_rooms:
            frame = self.fit.frame
            assert frame is not None
            across, up = (
                (size / 2 - self.clearance - radius - teeth * self.high) * UM for size in (frame.width, frame.height)
            )
            far = math.floor(across * across) if across >= 0 else NEVER
            self._frame_rooms[key] = (math.floor(across), math.floor(up), far)
        return self._frame_rooms[key]


def _split(size: int) -> tuple[int, Fraction]:
    """The teeth of a size, or of a sum of sizes, and its reach [mm]."""
    teeth, um = divmod(size, UNIT)
    return teeth, Fraction(um, UM)


def spots(values: Sequence[int]) -> np.ndarray:
    """Coordinates as an array whose squares of distances do not overflow."""
    large = any(abs(value) >= LARGE for value in values)
    return np.array(values, dtype=object if large else np.int64)


def squares(xs: np.ndarray, ys: np.ndarray) -> np.ndarray:
    """Squares of the distances from the main axis."""
    found: np.ndarray = xs * xs + ys * ys
    return found


def beside(xs: np.ndarray, ys: np.ndarray, limits: tuple[int, int]) -> np.ndarray:
    """Which spots are near enough to the main axis or far enough from it."""
    far = squares(xs, ys)
    inside, outside = limits
    found: np.ndarray = (far <= least_of(inside, xs, ys)) | (far >= least_of(outside, xs, ys))
    return found


def needs(rule: Callable[[int], int], sizes: int | np.ndarray) -> int | np.ndarray:
    """What a rule asks for at each size; whole numbers that fit the squares of spots, where they can."""
    if isinstance(sizes, int):
        return rule(sizes)
    some, rows = np.unique(sizes, return_inverse=True)
    asked = [rule(size) for size in some.tolist()]
    found: np.ndarray = np.array(asked, np.int64 if max(asked, default=0) <= _MOST else object)[rows]
    return found.reshape(sizes.shape)


def apart(
    xs: np.ndarray, ys: np.ndarray, others_x: np.ndarray, others_y: np.ndarray, need: int | np.ndarray
) -> np.ndarray:
    """Which pairs of spots have a square of their distance of at least `need`; shape (len(xs), len(others_x))."""
    dx, dy = xs[:, None] - others_x[None, :], ys[:, None] - others_y[None, :]
    found: np.ndarray = dx * dx + dy * dy >= least_of(need, xs, others_x)
    return found


def least_of(value: int | np.ndarray, *arrays: np.ndarray) -> int | np.ndarray:
    """A whole number cut off where the arrays' own squares cannot reach it."""
    return (
        value if isinstance(value, np.ndarray) or any(array.dtype == object for array in arrays) else min(value, _MOST)
    )


LARGE = 10**9  # (2 * 10**9)**2 * 2 is below 2**63
_MOST = 2**63 - 1
