"""Where a thing stands that is so far from the main axis in one of a design's directions, in whole micrometres.

The search and the second proof have this in common: were spots rounded in two ways, the two would differ by it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction

import numpy as np

from solver.design.train import Spot
from solver.search.place.measures import LARGE, Measures, spots
from solver.search.place.places import Spots

MOST_RAYS = 20_000  # that are remembered


class Compass:
    """The directions [degrees] in which arbors and motors may stand."""

    def __init__(self, directions: Sequence[Fraction], measures: Measures) -> None:
        self.directions, self.measures = tuple(directions), measures
        self._rays: dict[tuple[float, int | float], Spots] = {}
        self._cos = np.array([math.cos(math.radians(float(angle))) for angle in self.directions])
        self._sin = np.array([math.sin(math.radians(float(angle))) for angle in self.directions])

    def ray(self, turn: float, teeth: int | float) -> Spots:
        """Spots at so many teeth from the main axis, turned by `turn` radians from each direction."""
        key = turn, teeth
        if key not in self._rays:
            if len(self._rays) >= MOST_RAYS:
                self._rays.clear()
            self._rays[key] = self._ray(turn, teeth)
        return self._rays[key]

    def _ray(self, turn: float, teeth: int | float) -> Spots:
        far = self.measures.um(teeth)
        cos, sin = math.cos(turn), math.sin(turn)
        x, y = far * (self._cos * cos - self._sin * sin), far * (self._sin * cos + self._cos * sin)
        if far < LARGE:
            return np.rint(x).astype(np.int64), np.rint(y).astype(np.int64)
        return spots([round(value) for value in x.tolist()]), spots([round(value) for value in y.tolist()])


def triangle(radius: int, ring: int, third: int, gear: int) -> tuple[float, int]:
    """(angle at the main axis between arbor and third gear, its distance): the law of cosines, in teeth."""
    a, b, c = radius, ring + third, third + gear
    return math.acos(max(-1.0, min(1.0, (a * a + b * b - c * c) / (2 * a * b)))), b


def direction_of(spot: Spot) -> float:
    """Direction of a spot seen from the main axis [degrees, from -180 to 180]."""
    return math.degrees(math.atan2(spot[1], spot[0]))
