"""Lengths in what the judge says: in the design's own unit."""

from __future__ import annotations

from solver.design.design import Design


def length_told(design: Design, mm: float, decimals: int = 3) -> str:
    """A length [mm] in the design's unit, with its name: so many decimals in mm, one more in inches."""
    return f"{mm / 25.4:.{decimals + 1}f} in" if design.units == "in" else f"{mm:.{decimals}f} mm"
