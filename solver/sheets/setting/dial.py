"""The dial 1:1: a ring of degrees by which a model is set, and around it the days of a year as the Earth runs.

Degree n stands `n` degrees from the zero mark, the way that the bodies run as the viewer sees them (`design.sky`), so
that the dial reads longitudes. The drawing's angles are those of the front: from the right, counterclockwise.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from solver.design.design import Design
from solver.sheets.draw.drawing import Circle, Drawing, Line, Polyline, Shape, Text, polar
from solver.sheets.draw.lettering import text_width
from solver.sheets.draw.marks import cross, lettered
from solver.sky.bodies import SkyBody, ring_angle

# Lengths of marks of a degree, of 5 and of 10 [mm], and their layers.
MARKS = {1: (3.0, "degree"), 5: (4.5, "degree-5"), 10: (6.0, "degree-10")}
_NUMBER, _DAY, _NAME = 3.2, 2.2, 3.0  # sizes of letters
_DAY_MARK, _MONTH_MARK = 3.0, 5.0
_ROOM = 3.0  # between what stands on the dial


@dataclass(frozen=True)
class Scale:
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


def scale_of(design: Design, body: SkyBody) -> Scale:
    """The scale on which the body's ring shows its longitude."""
    quarter = (ring_angle(design, body, 90.0) - float(design.sky.zero_deg)) % 360.0
    return Scale(float(design.sky.zero_deg), 1 if quarter < 180 else -1)


def edges(radius: float, days: bool) -> tuple[float, float]:
    """The radii of a dial's outer circle and, within it, of the circle from which days are marked [mm]; radius: of its
    inner circle, from which degrees are marked."""
    numbers = MARKS[10][0] + _ROOM + text_width("350", _NUMBER)
    middle = radius + numbers + _ROOM
    names = _MONTH_MARK + _ROOM + text_width("Mmm", _NAME) if days else 0.0
    return middle + (names + _ROOM if days else 0.0), middle


def dial(name: str, scale: Scale, radius: float, days: Sequence[DayMark], told: Sequence[str]) -> Drawing:
    """The dial, its centre at (0, 0). radius: of its inner circle [mm]; days: marks of a year, or none; told: lines for
    its middle.

    Names of the layers say what is on them: "degree", "degree-5" and "degree-10", lines that begin at the inner circle;
    "day" and "month", lines that begin at the circle around the numbers; "zero", "dial", "centre", "text".
    """
    outer, middle = edges(radius, bool(days))
    shapes: list[Shape] = [Circle((0.0, 0.0), one, "dial") for one in sorted({radius, middle, outer})]
    for degree in range(360):
        size = next(step for step in (10, 5, 1) if degree % step == 0)
        long, layer = MARKS[size]
        at = scale.angle(degree)
        shapes.append(Line(polar(radius, at), polar(radius + long, at), layer))
        if size == 10:
            shapes.append(_numbered(str(degree), at, radius + MARKS[10][0] + _ROOM, _NUMBER, degree % 30 == 0))
    shapes += _zero(scale, radius)
    for day in days:
        at = scale.angle(day.reading)
        long, layer = (_MONTH_MARK, "month") if day.month else (_DAY_MARK, "day")
        shapes.append(Line(polar(middle, at), polar(middle + long, at), layer))
        size = _NAME if day.month else _DAY
        shapes.append(_numbered(day.name, at, middle + long + 0.6 * _ROOM, size, day.month))
    shapes += cross((0.0, 0.0), 6.0, "centre")
    shapes += _middle(told, radius)
    return Drawing(name, tuple(shapes))


def _numbered(text: str, at_deg: float, inner: float, size: float, bold: bool) -> Text:
    """Upright letters, the box around them just clear of a circle."""
    wide, high = text_width(text, size), 0.72 * size
    along = polar(1.0, at_deg)
    # The nearest corner, or side, of the box stays beyond the circle.
    reach = inner + abs(along[0]) * wide / 2 + abs(along[1]) * high / 2
    return lettered(polar(reach, at_deg), text, size, "middle", bold)


def _zero(scale: Scale, radius: float) -> Iterator[Shape]:
    """An arrow head within the inner circle, its tip at 0."""
    at = scale.angle(0.0)
    tip, back = polar(radius - 0.6, at), radius - 4.6
    aside = 1.8 / back * 57.3
    yield Polyline((tip, polar(back, at - aside), polar(back, at + aside)), "zero", True, 0.0)


def _middle(told: Sequence[str], radius: float) -> Iterator[Shape]:
    """What the dial is, left of the centre and above it: tiles are cut through the middle; below where it is small."""
    size = 3.0
    wide = max((text_width(line, size) for line in told), default=0.0)
    if wide / 2 > 0.8 * radius:
        return
    top = 10.0 + 1.5 * size * len(told)
    for number, line in enumerate(told):
        yield lettered((0.0, top - 1.5 * size * number), line, size, "middle", number == 0)
