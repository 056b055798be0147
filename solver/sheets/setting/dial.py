"""The dial 1:1: a ring of degrees by which a model is set, and around it the days of a year as the Earth runs.

Degree n stands `n` degrees from the zero mark, the way that the bodies run as the viewer sees them (`design.sky`), so
that the dial reads longitudes. The drawing's angles are those of the front: from the right, counterclockwise.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import degrees, radians

from solver.design.design import Design
from solver.sheets.draw.drawing import Circle, Drawing, Line, Polyline, Shape, Text, polar
from solver.sheets.draw.lettering import text_width
from solver.sheets.draw.marks import cross, lettered
from solver.sky.bodies import SkyBody, ring_angle

# Marks of a degree, of 5 and of 10, all lengths [mm] for a dial of which a degree is `_DEGREE` long, and their layers.
MARKS = {1: (3.0, "degree"), 5: (4.5, "degree-5"), 10: (6.0, "degree-10")}
_DEGREE, _LEAST, _MOST = 2.6, 0.7, 2.2  # and how much smaller and larger all of it may be
_NUMBER, _DAY, _NAME, _TOLD = 3.2, 2.4, 3.2, 3.0  # sizes of letters
_DAY_MARK, _MONTH_MARK = 3.0, 5.0
_ROOM = 2.0  # between what stands on the dial
_BESIDE = 8.0  # from the middle to what is told there, for the cross and the overlap of tiles


@dataclass(frozen=True)
class DialScale:
    """How a dial counts. zero_deg: where 0 stands [degrees from the right, counterclockwise]; sense: +1 where degrees
    run counterclockwise, -1 where they run clockwise."""

    zero_deg: float
    sense: int

    def angle(self, reading: float) -> float:
        """Where a degree of the dial stands [degrees from the right, counterclockwise]."""
        return self.zero_deg + self.sense * reading

    def reading(self, angle: float) -> float:
        """What the dial reads at an angle, from 0 to 360."""
        return (self.sense * (angle - self.zero_deg)) % 360.0 % 360.0


@dataclass(frozen=True)
class DayMark:
    """A day of the year: where it stands on the dial [degrees], its name; month: whether it begins one."""

    reading: float
    name: str
    month: bool


def scale_of(design: Design, body: SkyBody) -> DialScale:
    """The scale on which the body's ring shows its longitude."""
    quarter = (ring_angle(design, body, 90.0) - float(design.sky.zero_deg)) % 360.0
    return DialScale(float(design.sky.zero_deg), 1 if quarter < 180 else -1)


def size_of(radius: float) -> float:
    """How much larger marks and letters of a dial are than those of `MARKS`; radius: of its inner circle [mm]."""
    return min(max(radians(radius) / _DEGREE, _LEAST), _MOST)


def edges(radius: float, days: bool) -> tuple[float, float]:
    """The radii of a dial's outer circle and, within it, of the circle from which days are marked [mm]; radius: of its
    inner circle, from which degrees are marked."""
    numbers = MARKS[10][0] + 2 * _ROOM + text_width("350", _NUMBER)
    names = _MONTH_MARK + 2 * _ROOM + text_width("Mmm", _NAME) if days else 0.0
    size = size_of(radius)
    return radius + size * (numbers + names), radius + size * numbers


def dial(name: str, scale: DialScale, radius: float, days: Sequence[DayMark], told: Sequence[str]) -> Drawing:
    """The dial, its centre at (0, 0). radius: of its inner circle [mm]; days: marks of a year, or none; told: lines for
    its middle.

    Names of the layers say what is on them: "degree", "degree-5" and "degree-10", lines that begin at the inner circle;
    "day" and "month", lines that begin at the circle around the numbers; "zero", "dial", "centre", "text".
    """
    outer, middle = edges(radius, bool(days))
    size = size_of(radius)
    shapes: list[Shape] = [Circle((0.0, 0.0), one, "dial") for one in sorted({radius, middle, outer})]
    for degree in range(360):
        of = next(step for step in (10, 5, 1) if degree % step == 0)
        long, layer = MARKS[of]
        at = scale.angle(degree)
        shapes.append(Line(polar(radius, at), polar(radius + size * long, at), layer))
        if of == 10:
            inner = radius + size * (MARKS[10][0] + _ROOM)
            shapes.append(_numbered(str(degree), at, inner, size * _NUMBER, degree % 30 == 0))
    shapes.append(_zero(scale, radius, size))
    for day in days:
        at = scale.angle(day.reading)
        long, layer = (_MONTH_MARK, "month") if day.month else (_DAY_MARK, "day")
        shapes.append(Line(polar(middle, at), polar(middle + size * long, at), layer))
        inner = middle + size * (long + _ROOM)
        shapes.append(_numbered(day.name, at, inner, size * (_NAME if day.month else _DAY), day.month))
    shapes += cross((0.0, 0.0), min(6.0 * size, radius / 4), "centre")
    shapes += _middle(told, radius)
    return Drawing(name, tuple(shapes))


def _numbered(text: str, at_deg: float, inner: float, size: float, bold: bool) -> Text:
    """Upright letters, the box around them just clear of a circle."""
    wide, high = text_width(text, size), 0.72 * size
    along = polar(1.0, at_deg)
    # The nearest corner, or side, of the box stays beyond the circle.
    reach = inner + abs(along[0]) * wide / 2 + abs(along[1]) * high / 2
    return lettered(polar(reach, at_deg), text, size, "middle", bold)


def _zero(scale: DialScale, radius: float, size: float) -> Polyline:
    """An arrow head within the inner circle, its tip at 0."""
    at = scale.angle(0.0)
    back = radius - 4.6 * size
    aside = degrees(1.8 * size / back)
    points = (polar(radius - 0.6 * size, at), polar(back, at - aside), polar(back, at + aside))
    return Polyline(points, "zero", True, 0.0)


def _middle(told: Sequence[str], radius: float) -> Iterator[Shape]:
    """What the dial is, left of its centre and above it, where tiles are seldom cut; smaller where the dial is."""
    wide = max((text_width(line, _TOLD) for line in told), default=0.0) + 2 * _BESIDE
    letters = _TOLD * min(1.0, 0.8 * radius / wide)
    top = _BESIDE + 1.5 * letters * len(told)
    for number, line in enumerate(told):
        yield lettered((-_BESIDE, top - 1.5 * letters * number), line, letters, "end", number == 0)
