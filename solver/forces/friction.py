"""Friction of bearings and rollers as moments [N mm], and how the weight of a ring lies on its rollers."""

from __future__ import annotations

from collections.abc import Sequence
from math import radians, sin


def bearing_nmm(friction: float, load_n: float, bore_mm: float) -> float:
    """Moment [N mm] of a bearing: friction * load * bore / 2, friction about the bore (bearing catalogues: CAT 2203/E,
    ch. 10.1). A plain bearing and a journal have the same formula, T = friction * load * radius (statics lecture)."""
    return friction * load_n * bore_mm / 2


def on_rollers_nmm(friction: float, normal_n: float, axle_mm: float, roller_mm: float, ring_mm: float) -> float:
    """Moment [N mm] about the axis of a ring whose rollers turn on stubs: friction * normal * axle / roller * ring.
    normal_n: with which ring and rollers press on each other, all together; axle_mm, roller_mm, ring_mm: radii of stub,
    roller, and of the edge on which the ring runs. Each stub rubs with friction * normal * axle about its roller's
    axis; at the roller's rim that is a force axle / roller as large, at the ring's edge. Rolling itself costs less than
    is known of any of it, and is left out."""
    return friction * normal_n * axle_mm / roller_mm * ring_mm


def edge_nmm(friction: float, weight_n: float, ring_mm: float) -> float:
    """Moment [N mm] of a ring without rollers, whose edge slides on what carries it: friction * weight * ring."""
    return friction * weight_n * ring_mm


def normals_n(weight_n: float, directions_deg: Sequence[float]) -> dict[int, float]:
    """With which forces [N] an upright ring presses on the rollers inside it, by their number: its upper edge hangs on
    the nearest on both sides of straight up. directions: of the rollers, counterclockwise from the right.

    Two forces along their directions, a and b degrees to the left and right of straight up, carry a weight: W sin b /
    sin(a + b) and W sin a / sin(a + b) (Lami's theorem). A roller straight up carries all. Raises ValueError where a
    gap above is half a turn or more, so that nothing carries the ring.
    """
    leans = {number: (direction - 90 + 180) % 360 - 180 for number, direction in enumerate(directions_deg)}
    top = [number for number, lean in leans.items() if abs(lean) < 1e-9]
    if top:
        return {top[0]: weight_n}
    left = min((n for n in leans if leans[n] > 0), key=lambda n: leans[n], default=None)
    right = max((n for n in leans if leans[n] < 0), key=lambda n: leans[n], default=None)
    if left is None or right is None or leans[left] - leans[right] >= 180:
        raise ValueError("no rollers carry the ring: a gap above is half a turn or more")
    a, b = radians(leans[left]), -radians(leans[right])
    whole = sin(a + b)
    return {left: weight_n * sin(b) / whole, right: weight_n * sin(a) / whole}
