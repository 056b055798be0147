"""The layers of drawings: what is drawn in one way, and is a layer of its own in files that have some."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Layer:
    """How a layer is drawn: width [mm; 0 draws areas alone], grey (0 black to 1 white), dashes [mm], its colour number
    in DXF, and how much the areas on it hide of what is below (1: all)."""

    width: float
    grey: float = 0.0
    dashes: tuple[float, ...] = ()
    colour: int = 7
    opacity: float = 1.0


_CHAIN = (6.0, 1.0, 1.0, 1.0)
_FINE_CHAIN = (3.0, 0.7, 0.5, 0.7)

# In the order in which they are drawn, the last on top.
LAYERS: dict[str, Layer] = {
    # what fills an area
    "shade": Layer(0.05, 0.85, colour=9),
    "veil": Layer(0.0, 1.0, opacity=0.3),
    "even": Layer(0.0, opacity=0.05),
    "odd": Layer(0.0, opacity=0.12),
    "arm-behind": Layer(0.06, 0.55, colour=8),
    "bar-behind": Layer(0.08, 0.6, colour=9),
    "beside": Layer(0.12, 0.66, colour=9),
    "swept": Layer(0.12, 0.45, (2.4, 1.2), 30),
    # a jig
    "pitch": Layer(0.13, 0.33, _FINE_CHAIN, 4),
    "tip-circle": Layer(0.1, 0.5, (2.0, 1.2), 8),
    "root-circle": Layer(0.1, 0.5, (2.0, 1.2), 8),
    "outline": Layer(0.3, 0.55, colour=3),
    "holes-root": Layer(0.18, colour=1),
    "holes-tip": Layer(0.18, colour=5),
    "holes-pin": Layer(0.18, colour=6),
    "holes-centre": Layer(0.18, colour=2),
    "hole-marks": Layer(0.1, colour=8),
    "centre": Layer(0.15, colour=2),
    # a model
    "level": Layer(0.1, 0.5, _FINE_CHAIN, 8),
    "ray": Layer(0.1, 0.6, (4.0, 0.8, 0.8, 0.8), 9),
    "axis": Layer(0.15, 0.0, _CHAIN, 4),
    "frame": Layer(0.5),
    "plate": Layer(0.3, colour=8),
    "post": Layer(0.15, 0.45, colour=8),
    "arbor": Layer(0.5),
    "ring": Layer(0.16, 0.27, colour=3),
    "wheel": Layer(0.25, colour=5),
    "pinion": Layer(0.25, colour=6),
    "third": Layer(0.25, 0.0, (1.1, 0.6), 30),
    "motor": Layer(0.4, colour=1),
    "section": Layer(0.2, colour=3),
    "roller": Layer(0.2, colour=4),
    "hatch": Layer(0.08, 0.45, colour=9),
    "stand": Layer(0.25),
    "slots": Layer(0.25, colour=2),
    "frame-bar": Layer(0.15, 0.2, colour=7),
    "arm": Layer(0.1, colour=1),
    "eye": Layer(0.18, colour=2),
    "drill-arbor": Layer(0.2, colour=1),
    "drill-third": Layer(0.2, colour=30),
    "drill-roller": Layer(0.2, colour=4),
    "drill-motor": Layer(0.2, colour=6),
    "sense": Layer(0.3),
    "sense-head": Layer(0.2),
    "dot": Layer(0.05),
    # a step of assembly: what is there, what hides it, what is put on or tried, and lines to its numbers
    "there": Layer(0.12, 0.62, colour=9),
    "below": Layer(0.2, 0.35),
    "cover": Layer(0.0, 1.0),
    "made": Layer(0.18, 0.3, colour=9),
    "carried": Layer(0.15, 0.55, colour=9),
    "flow": Layer(0.1, 0.45, _FINE_CHAIN, 8),
    "added": Layer(0.28),
    "tried": Layer(0.28),
    "callout": Layer(0.1, 0.2, colour=8),
    # a dial: its edges, degrees, days of a year, where a body stands
    "dial": Layer(0.3),
    "degree": Layer(0.15, colour=5),
    "degree-5": Layer(0.22, colour=5),
    "degree-10": Layer(0.35, colour=5),
    "day": Layer(0.18, colour=1),
    "month": Layer(0.3, colour=1),
    "zero": Layer(0.5, colour=2),
    # stock bars
    "bar": Layer(0.2),
    "waste": Layer(0.15, 0.4, colour=8),
    # what is told
    "dimension": Layer(0.13, colour=8),
    "leader": Layer(0.15, colour=8),
    "rule": Layer(0.25),
    "scale-bar": Layer(0.2),
    "label": Layer(0.05, 1.0),
    "text": Layer(0.1),
    # a page
    "page-frame": Layer(0.1, 0.6, colour=9),
    "crop": Layer(0.15),
    "join": Layer(0.15),
}
