"""The gaps of toothed gears as pins see them: how far from the middle of a gap the middle of a pin may stand.

A pin of diameter d among teeth of wire of diameter w stands with its middle at least s = (d + w) / 2 from the wire's
centre line. At each distance from the gear's centre that leaves an arc about the middle of the gap: `half_width` is half
of it. A row is a toothed gear; arrays of distances have one row for each. Plane geometry.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from solver.forms.form import Line, turned

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

_SAMPLES, _HALVINGS = 33, 40
_STEPS = 384  # distances at which a drawn gap is measured


class Gaps(Protocol):
    """The gaps of some toothed gears. teeth, radius_mm (of the pitch circle) and outermost_mm (the distance from which
    outwards nothing holds a pin): one of each gear."""

    teeth: Floats
    radius_mm: Floats
    outermost_mm: Floats

    def half_width(self, rows: Ints, distance_mm: Floats) -> Floats:
        """Half a gap's free arc [rad] for a pin's middle at distances of shape (rows, any), less than `outermost_mm`;
        below 0 where not even the middle of the gap is free."""
        ...


@dataclass(frozen=True)
class SawGaps:
    """Gaps between saw teeth, exactly: an arc about the tip's jig pin, a straight edge, an arc about the root's.

    tip_mm, root_mm: distances of the jig pins from the centre. normal: angle [rad] of the edge's normal to the middle of
    the tooth. bend_mm: radius of the wire's centre line about a jig pin. reach_mm: s.
    """

    teeth: Floats
    radius_mm: Floats
    tip_mm: Floats
    root_mm: Floats
    normal: Floats
    bend_mm: Floats
    reach_mm: Floats

    @property
    def outermost_mm(self) -> Floats:
        return self.tip_mm + self.bend_mm + self.reach_mm

    def half_width(self, rows: Ints, distance_mm: Floats) -> Floats:
        step = (np.pi / self.teeth)[rows, None]
        tip, root, normal = self.tip_mm[rows, None], self.root_mm[rows, None], self.normal[rows, None]
        bend, reach = self.bend_mm[rows, None], self.reach_mm[rows, None]
        far = distance_mm
        out, deep = bend + reach, bend - reach
        edge = tip * np.cos(normal) + out  # distance of the edge, as far out as a pin's middle, from the centre
        from_tip = np.hypot(tip + out * np.cos(normal), out * np.sin(normal))
        aside = root * np.cos(normal - step) - deep, root * np.sin(normal - step)
        from_root = np.where(deep > 0, np.hypot(*aside), 0.0)
        straight = step - normal + np.arccos(np.clip(edge / far, -1, 1))
        straight = np.where(far < edge, step - normal - (edge - far) / far, straight)
        round_tip = step - np.arccos(np.clip((far**2 + tip**2 - out**2) / (2 * far * tip), -1, 1))
        at_root = (far**2 + root**2 - deep**2) / (2 * far * root)
        round_root = np.arccos(np.clip(at_root, -1, 1))
        round_root = np.where(far < root - deep, (far - root + deep) / far, round_root)
        return np.asarray(np.where(far >= from_tip, round_tip, np.where(far < from_root, round_root, straight)))


class DrawnGaps:
    """Gaps of teeth whose wire is drawn, each measured once at many distances and interpolated between them."""

    def __init__(self, gears: Sequence[tuple[int, float, float, Line]]) -> None:
        """gears: of each its teeth, the radius of its pitch circle, s, and half a tooth's centre line from the middle of
        the tip, on the right, to that of the root [mm]."""
        self.teeth = np.array([float(teeth) for teeth, _, _, _ in gears])
        self.radius_mm = np.array([radius for _, radius, _, _ in gears])
        self.outermost_mm = np.array([half[0][0] + reach for _, _, reach, half in gears])
        self._tables = []
        for (teeth, _, reach, half), outermost in zip(gears, self.outermost_mm, strict=True):
            lowest = min(np.hypot(x, y) for x, y in half)
            # Denser towards the tip, where the free arc widens as a root does.
            share = 1 - np.linspace(1, 0, _STEPS) ** 2
            at = lowest + (outermost - 1e-9 - lowest) * share
            self._tables.append((at, half_widths(half, teeth, reach, at)))

    def half_width(self, rows: Ints, distance_mm: Floats) -> Floats:
        found = np.empty_like(distance_mm)
        for row in np.unique(rows):
            mine = rows == row
            at, wide = self._tables[row]
            below = np.minimum(distance_mm[mine] - at[0], 0.0) / at[0]
            found[mine] = np.interp(distance_mm[mine], at, wide) + below
        return found


def half_widths(half: Line, teeth: int, reach: float, distances: Floats) -> Floats:
    """For pins at these distances [mm] from the centre: how far [rad] from the middle of a gap they may stand; below 0
    where a pin does not even fit in the middle, half a tooth where nothing holds it. half, reach: as in `DrawnGaps`."""
    step = np.pi / teeth
    # From the middle of the gap, on the right, to that of the tip.
    flank = np.array(turned(half, -step))[::-1] * (1, -1)

    def near(turn: Floats) -> Floats:
        """How far [mm] a pin that stands there is from the wire."""
        points = np.stack([distances * np.cos(turn), distances * np.sin(turn)], axis=1)
        return np.minimum(_distances(points, flank), _distances(points, flank * (1, -1))) - reach

    first = near(np.zeros_like(distances))
    # The first place on the way to the tip where it touches; beyond the wire, inside the tooth, it may be free again.
    low, high, met = np.zeros_like(distances), np.full_like(distances, step), np.zeros(len(distances), dtype=bool)
    for share in np.linspace(0, 1, _SAMPLES)[1:]:
        blocked = near(np.full_like(distances, share * step)) < 0
        high = np.where(blocked & ~met, share * step, high)
        met |= blocked
        low = np.where(met, low, share * step)
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        fine = near(middle) >= 0
        low, high = np.where(met & fine, middle, low), np.where(met & ~fine, middle, high)
    # Where not even the middle is free, the overlap counts as an angle.
    return np.where(first < 0, first / distances, np.where(met, low, step))


def _distances(points: Floats, line: Floats) -> Floats:
    """Distance [mm] of each point from a polyline."""
    start, along = line[:-1], np.diff(line, axis=0)
    gaps = points[:, None, :] - start[None, :, :]
    share = np.clip((gaps * along).sum(axis=2) / (along**2).sum(axis=1), 0, 1)
    off = gaps - share[:, :, None] * along
    return np.asarray(np.sqrt((off**2).sum(axis=2)).min(axis=1))
