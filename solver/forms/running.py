"""How saw teeth and pins run: turned through a tooth in small steps, and how much each step leaves free.

With pins of total radius s (pin and half the tooth wire) among teeth whose centre line is known, a pin at a distance
from the toothed gear's centre may stand at most so far from the middle of a gap. At each step every pin near the mesh
gives the toothed gear a span of angles; what they leave in common is the backlash, and how its edge moves from step to
step is how unevenly one turns the other. Plane geometry; nothing is assumed about the curve of the teeth.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import atan2, cos, hypot, pi, sin

import numpy as np
from numpy.typing import NDArray

from solver.forms.form import Line, Sizes, Spec, turned

_PHASES = 36
_SAMPLES, _HALVINGS = 33, 20
_NEAR = 3  # pins on either side of the line of centres that can be among the teeth

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class MeshRun:
    """backlash: least at the pitch circle [mm], below 0 where it jams. uneven: how far the driven gear strays from its
    even turn within a tooth [mm at the pitch circle]. slips: at times nothing holds it. least_pins: pins that are
    among the teeth at any time."""

    backlash: float
    uneven: float
    slips: bool
    least_pins: int


def run(sizes: Sizes, toothed: Spec, pins: int, half: Line) -> MeshRun:
    """Saw teeth with a pin gear of so many pins, at the distance of their pitch radii; half: half a tooth's centre line
    from the middle of a tip, on the right, to that of the root."""
    radius, pin_circle = sizes.radius_mm(toothed.teeth), sizes.radius_mm(pins)
    reach = (sizes.pin_mm + sizes.tooth_mm) / 2
    step = 2 * pi / toothed.teeth
    outermost = half[0][0] + reach
    least, low_edge, high_edge, slips, count = float("inf"), [], [], False, pins
    phases = []
    for phase in range(_PHASES):
        turn = 2 * pi / pins * phase / _PHASES
        even = -turn * pin_circle / radius  # how the toothed gear turns if it rolls without slip
        near = []
        for index in range(-min(_NEAR, pins // 2), min(_NEAR, (pins - 1) // 2) + 1):
            at = pi + turn + 2 * pi * index / pins
            x, y = radius + pin_circle + pin_circle * cos(at), pin_circle * sin(at)
            off = (atan2(y, x) - even + step / 2) % step - step / 2
            near.append((hypot(x, y), off))
        phases.append(near)
    distances = np.array([[far for far, _ in near] for near in phases])
    widths = np.full_like(distances, step / 2)
    deep = distances < outermost
    widths[deep] = _half_widths(half, toothed.teeth, reach, distances[deep])
    for near, wide in zip(phases, widths, strict=True):
        among = [(off, float(w)) for (_, off), w in zip(near, wide, strict=True) if w < step / 2]
        count = min(count, len(among))
        if not among:
            slips = True
            continue
        low, high = max(off - w for off, w in among), min(off + w for off, w in among)
        least = min(least, high - low)
        low_edge.append(low)
        high_edge.append(high)
    if not high_edge:
        return MeshRun(0.0, 0.0, True, 0)
    uneven = max(max(edge) - min(edge) for edge in (low_edge, high_edge))
    return MeshRun(least * radius, uneven * radius, slips, count)


def _half_widths(half: Line, teeth: int, reach: float, distances: Floats) -> Floats:
    """For pins at these distances from the centre: how far [rad] from the middle of a gap they may stand; below 0 where
    a pin does not even fit in the middle, half a tooth or more where nothing holds it."""
    step = pi / teeth
    flank = np.array(turned(half, -step))[::-1] * (
        1,
        -1,
    )  # from the middle of the gap, on the right, to that of the tip

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
