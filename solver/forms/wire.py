"""Wire: what it weighs, what it is called, and how long it is before it is bent."""

from __future__ import annotations

from math import pi, radians

from solver.design.gauges import Gauge, nearest_names
from solver.words.lengths import Lengths


def wire_grams(length_mm: float, diameter_mm: float, density: float) -> float:
    """Weight [g] of round wire: its volume times the density [g/cm3]; brass wire has 8.43 to 8.53 (handbook range)."""
    return pi / 4 * diameter_mm**2 * length_mm / 1000 * density


def tube_grams(length_mm: float, outside_mm: float, inside_mm: float, density: float) -> float:
    """Weight [g] of a tube or a bored disc with these diameters [mm]; density in g/cm3."""
    return wire_grams(length_mm, outside_mm, density) - wire_grams(length_mm, inside_mm, density)


def bend_allowance(angle_deg: float, inside_radius_mm: float, diameter_mm: float, neutral: float) -> float:
    """Length [mm] of straight wire that a bend takes: its angle times the radius of the neutral fibre, which lies
    `neutral` of the wire's diameter out from the inside of the bend (0.5: the centre line; common practice)."""
    return radians(angle_deg) * (inside_radius_mm + neutral * diameter_mm)


def gauge_text(gauge: Gauge, lengths: Lengths) -> str:
    """ "AWG 14 (1.628 mm)"; a wire given by its diameter with the gauges that come nearest."""
    told = lengths.text(gauge.mm, 3)
    both = len(lengths.units) > 1  # the other unit stands in brackets already
    if gauge.name:
        return f"{gauge.name}, {told}" if both else f"{gauge.name} ({told})"
    awg, swg = nearest_names(gauge.mm)
    return f"{told}, nearest {awg}, {swg}" if both else f"{told} (nearest {awg}, {swg})"
