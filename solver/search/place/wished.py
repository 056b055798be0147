"""Which places of a link a maker allows: in the part of the circle that is asked for, and out of what is kept free.

Directions of arbors are exact. That of a third gear is its rounded spot's; as floats cannot tell an edge, one that is
as near to a sector as NEAR counts as in it.
"""

from __future__ import annotations

import numpy as np

from solver.design.design import Fit
from solver.design.wishes import NEAR, Sector
from solver.search.place.places import Places, Spots


def where_wished(fit: Fit, places: Places) -> np.ndarray:
    """Which of a shape's places the rule `place` allows; all of a motor's."""
    kept = np.ones(len(places), bool)
    sides = places.shape.sides
    if len(sides) < 2 or not (fit.link_places or fit.keep_free):
        return kept
    for span in fit.link_places:
        if span.link == sides[0].level:
            kept &= _held(span.sector, places)
    for sector in fit.keep_free:
        kept &= ~_held(sector, places)
        for third in places.thirds:
            kept &= ~_in(sector, third)
    return kept


def _held(sector: Sector, places: Places) -> np.ndarray:
    """Which places have their arbor in a sector."""
    return np.array([sector.holds(direction) for direction in places.directions], bool)


def _in(sector: Sector, spots: Spots) -> np.ndarray:
    xs, ys = (np.asarray(axis, float) for axis in spots)
    turned = np.mod(np.degrees(np.arctan2(ys, xs)) - float(sector.begin) + NEAR, 360.0)
    found: np.ndarray = turned <= float(sector.turn) + 2 * NEAR
    return found
