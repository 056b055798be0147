"""How two gears cut from plate run: the outline of one, as it is drawn, among the gaps of the other.

Points of the one's teeth are what pins are to a toothed gear (`pin_pairs`): each may stand so far from the middle of a
gap as the other's outline leaves at its distance. The points are so near each other that the corner of a tip of the
other gear misses less than `rolling.MARGIN`. Teeth are symmetrical, and of one width at each distance from the centre.
Play is how far the other turns while the one is held; held the other way it is a little different, as one does not turn
the other evenly.
"""

from __future__ import annotations

from collections.abc import Callable
from copy import copy
from dataclasses import dataclass
from math import hypot

import numpy as np

from solver.forms.ends import span_of_each
from solver.forms.form import Line
from solver.forms.gaps import Floats, Ints
from solver.forms.rolling import MARGIN, Bools, Rolling
from solver.forms.runs import MeshRun, Span

_POINTS = 150  # of half a tooth
_DISTANCES = 600


class PlateTeeth:
    """A gear's outline: half a tooth, from the middle of the tip, on the right, to that of the gap [mm]."""

    def __init__(self, teeth: int, radius_mm: float, half: Line) -> None:
        self.teeth, self.radius_mm, self.step = teeth, radius_mm, np.pi / teeth
        line = np.array(half)
        along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])
        even = np.linspace(0, along[-1], 8 * _DISTANCES)
        x, y = np.interp(even, along, line[:, 0]), np.interp(even, along, line[:, 1])
        far, at = np.hypot(x, y), np.abs(np.arctan2(y, x))
        self.tip_mm = max(hypot(*point) for point in half)
        self.root_mm = float(far.min())
        # From the corner of the tip down to the root, the widest that the tooth is at each distance or beyond.
        corner, bottom = int(np.flatnonzero(far >= self.tip_mm - 1e-6)[-1]), int(far.argmin())
        some = np.linspace(corner, max(bottom, corner + 1), _DISTANCES).astype(int)
        order = np.argsort(far[some], kind="stable")
        self._far, self._at = far[some][order], at[some][order]
        points = np.linspace(0, along[-1], _POINTS)
        px, py = np.interp(points, along, line[:, 0]), np.interp(points, along, line[:, 1])
        self.x, self.y = np.concatenate([px, px]), np.concatenate([py, -py])

    def thinned(self, deep_mm: float) -> PlateTeeth:
        """The same with fewer points, for less work: of one flank alone, those above its pitch circle three times as
        far apart, where teeth touch without corners, and none farther below it than this."""
        few = copy(self)
        half = len(self.x) // 2
        far = np.hypot(self.x[:half], self.y[:half])
        above = far >= self.radius_mm
        kept = np.where(above, np.arange(half) % 3 == 0, far >= self.radius_mm - deep_mm)
        few.x, few.y = self.x[:half][kept], self.y[:half][kept]
        return few

    def gap(self, far: Floats) -> Floats:
        """Half the gap [rad] at distances within the tip circle; below 0 under the root, by how far."""
        wide = self.step - np.interp(far, self._far, self._at)
        return np.asarray(np.where(far < self.root_mm, (far - self.root_mm) / far, wide))


class PlatePairs(Rolling):
    """Two gears at some distances, one a row: the teeth of `one` among the gaps of `other`."""

    def __init__(self, one: PlateTeeth, other: PlateTeeth, apart_mm: Floats) -> None:
        count = len(apart_mm)
        self.one, self.other = one, other
        self.radius = np.full(count, other.radius_mm)
        self.tooth = np.full(count, 2 * other.step)
        self.teeth = np.full(count, one.teeth, dtype=np.intp)
        self.centres = one.radius_mm + other.radius_mm + apart_mm
        cosine = (self.centres**2 + one.tip_mm**2 - other.tip_mm**2) / (2 * self.centres * one.tip_mm)
        # A tooth has width: it may be among the gaps longer than its middle is.
        wide = one.step - float(one.gap(np.array([one.radius_mm]))[0])
        self.end = np.minimum((np.arccos(np.clip(cosine, -1, 1)) + wide) / (2 * one.step), one.teeth / 2)

    def lag(self, at: Floats) -> Floats:
        """How far [rad] the other gear lags at most by teeth so many pitches past the line of centres; -inf where they
        do not reach it."""
        turn = at[..., None] * 2 * self.one.step
        c, s = np.cos(turn), np.sin(turn)
        x = self.centres[:, None, None] - self.one.x * c + self.one.y * s
        y = self.one.x * s + self.one.y * c
        far = np.hypot(x, y)
        off = np.arctan2(y, x) - at[..., None] * self.tooth[:, None, None]
        return np.asarray(np.where(far < self.other.tip_mm, off - self.other.gap(far), -np.inf).max(axis=-1))

    def edge(self, phases: Floats) -> Floats:
        first = phases + np.ceil(-self.end[:, None] - phases)
        found = np.full(phases.shape, -np.inf)
        for tooth in range(int(self.among().max(initial=0))):
            found = np.maximum(found, self.lag(first + tooth))
        return found

    def slips(self) -> Bools:
        # Teeth of plate leave little play: a tip comes past another only where there is no other.
        return np.asarray(np.isinf(self.phases()[1]).any(axis=1))


@dataclass(frozen=True)
class EdgeOfPlay:
    """Of two gears at the distance of their pitch radii [mm at the pitch circle of `other`]: how far that lags at least
    and at most, its least play, and whether they turn each other: no jam, always in contact, tips clear of roots, all
    with MARGIN twice to spare, as is more than what is looked at here less closely than by `run_plates`."""

    least: float
    most: float
    play: float
    holds: bool


def edge_of_play(one: PlateTeeth, other: PlateTeeth, pitch_mm: float) -> EdgeOfPlay:
    """For a twentieth of the work of `run_plates`; `one` may be thinned."""
    pair = PlatePairs(one, other, np.zeros(1))
    _, low, tight = pair.phases()
    play = -float(tight.max()) * other.radius_mm
    held = bool(np.isfinite(low).all())
    holds = held and play >= 2 * MARGIN * pitch_mm and tips_mm(one, other, 0.0) >= 0
    least, most = (float(end) * other.radius_mm for end in (low.min(), low.max()))
    return EdgeOfPlay(least, most, play, holds)


def tips_mm(one: PlateTeeth, other: PlateTeeth, apart_mm: float) -> float:
    """What the tips of two gears leave free of each other's roots."""
    centres = one.radius_mm + other.radius_mm + apart_mm
    return centres - max(one.tip_mm + other.root_mm, other.tip_mm + one.root_mm)


def run_plates(one: PlateTeeth, other: PlateTeeth, apart_mm: float) -> MeshRun:
    """How two gears of plate run, so much farther apart than their pitch radii."""
    found = PlatePairs(one, other, np.array([apart_mm])).run()
    return MeshRun(
        float(found.backlash[0]),
        float(found.uneven[0]),
        bool(found.slips[0]),
        int(found.least_pins[0]),
        float(found.most[0]),
        tips_mm(one, other, apart_mm),
    )


def span_plates(one: PlateTeeth, other: PlateTeeth, uneven_mm: float, pitch_mm: float) -> Span | None:
    """Where two gears of plate run about the distance of their pitch radii; None where they do not run there."""

    def asked(within: Callable[[PlatePairs, float], Bools]) -> Callable[[Ints, Floats], Bools]:
        def ask(some: Ints, apart_mm: Floats) -> Bools:
            if not len(some):
                return np.zeros(0, dtype=bool)
            free = np.array([tips_mm(one, other, apart) >= 0 for apart in apart_mm.tolist()])
            return np.asarray(free & within(PlatePairs(one, other, apart_mm), uneven_mm))

        return ask

    return span_of_each(1, asked(PlatePairs.perhaps_within), asked(PlatePairs.within), pitch_mm)[0]
