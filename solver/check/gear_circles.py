"""Circles about points beside a gear's centre, as the judge measures them."""

from __future__ import annotations

from math import acos


def seen(far: float, centre: float, radius: float) -> float:
    """At the gear's centre, between the middle of a circle and the point of it that is so far away (law of cosines)."""
    return acos(max(-1.0, min(1.0, (far * far + centre * centre - radius * radius) / (2 * far * centre))))
