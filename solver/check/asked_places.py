"""Whether links stand where the file asks for it, and out of what it keeps free: the rule `place`.

The search counts third gears that are as near to an edge as floats can tell as within; here one that is on an edge is
only refused where that is sure: in directions whose spots are whole numbers.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from math import atan2, degrees

from solver.check.verdict import Violation
from solver.design.design import Design
from solver.design.train import LinkPlace, Spot, Train

_UNSURE = 1e-11  # degrees that an arc tangent may be off
_EIGHTHS = ((1, 0), (1, 1), (0, 1), (-1, 1), (-1, 0), (-1, -1), (0, -1), (1, -1))  # at 0, 45, 90 ... degrees


def asked_places(design: Design, train: Train) -> Iterator[Violation]:
    """The links of a placed train that stand elsewhere, and what stands in a sector that is to be free."""
    for index, place in enumerate(train.placement.links if train.placement is not None else ()):
        yield from asked_of_link(design, index, place)


def asked_of_link(design: Design, index: int, place: LinkPlace) -> Iterator[Violation]:
    """Likewise of one link, by number, at a place."""
    where = f"link {index}"
    for span in design.fit.link_places:
        begin, end = span.sector.begin, span.sector.end
        if span.link == index and not _between(place.direction, begin, end):
            wanted = _told(begin, end) if begin != end % 360 else f"at {float(begin):g} degrees"
            yield Violation("place", where, f"stands at {float(place.direction):g} degrees, not {wanted}")
    for sector in design.fit.keep_free:
        single = sector.begin == sector.end % 360
        told = "which is kept free" if single else f"{_told(sector.begin, sector.end)}, which is kept free"
        if _between(place.direction, sector.begin, sector.end):
            yield Violation("place", where, f"its arbor stands at {float(place.direction):g} degrees, {told}")
        for spot in place.thirds:
            if _spot_between(spot, sector.begin, sector.end):
                yield Violation("place", where, f"a third gear stands at {_angle(spot):.2f} degrees, {told}")


def _told(begin: Fraction, end: Fraction) -> str:
    return f"between {float(begin):g} and {float(end):g} degrees"


def _between(direction: Fraction, begin: Fraction, end: Fraction) -> bool:
    """Whether a direction lies on the way counterclockwise from one to another, or on their edge; where both are the
    same, 0 and 360 degrees too, it is that one."""
    return (direction - begin) % 360 <= (end - begin) % 360


def _angle(spot: Spot) -> float:
    found = degrees(atan2(spot[1], spot[0]))
    return found if found >= 0 else found + 360


def _spot_between(spot: Spot, begin: Fraction, end: Fraction) -> bool:
    """Likewise of a spot."""
    x, y = spot
    for eighth, (a, b) in enumerate(_EIGHTHS):
        if x * b == y * a and x * a + y * b > 0:
            return _between(Fraction(45 * eighth), begin, end)
    way, whole = (_angle(spot) - float(begin)) % 360, float((end - begin) % 360)
    return _UNSURE < way < whole - _UNSURE
