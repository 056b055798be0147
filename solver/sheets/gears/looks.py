"""What gears look like from the front as they are made, tooth by tooth: for drawings that show them turning."""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot

from solver.design.design import Design
from solver.design.errors import DesignError
from solver.design.train import Train
from solver.forms.form import Line, sizes_of
from solver.forms.pins import PINS
from solver.sheets.gears.gears import form_of, gears_of, specs_of

OFF = 0.1  # mm that a drawn tooth may be off


@dataclass(frozen=True)
class Look:
    """A gear [mm]. tooth: its outline, outside of the wire, from the gap before tooth 0, which is on the right, to the
    gap after it; nothing for pins, which stand on the pitch circle, the first one on the right. tip: how far it
    reaches; inside: the radius of the hole in a ring, and of the loops of a small gear. pin: diameter of the pins, 0
    where it has none."""

    toothing: str
    tooth: Line
    tip: float
    inside: float
    pin: float


def looks_of(design: Design, train: Train) -> dict[tuple[str, int, str], Look]:
    """The gears of a train by kind ("ring" or "gear"), teeth and toothing; without those that cannot be made."""
    form, sizes, found = form_of(design), sizes_of(design), {}
    for spec in specs_of(gears_of(design, train)):
        try:
            shape = form.shape(sizes, spec)
        except DesignError:
            continue
        pins, inside = spec.toothing == PINS, form.outline(sizes, spec).inside_mm
        within = shape.root_radius_mm if inside is None else shape.pitch_radius_mm - float(inside)
        wide = 0.0 if form.plate else sizes.tooth_mm / 2  # the wire stands out from its centre line
        tooth = () if pins else thinned(_outside(shape.outline[0], spec.teeth, wide), OFF)
        pin = sizes.pin_mm if pins else 0.0
        found[spec.kind, spec.teeth, spec.toothing] = Look(spec.toothing, tooth, shape.tip_radius_mm, within, pin)
    return found


def _outside(outline: Line, teeth: int, wide: float) -> Line:
    """Tooth 0, from the gap before it on, of a line so far outside of a closed one that runs counterclockwise and is
    the same for each tooth."""
    each = (len(outline) - 1) // teeth
    found = []
    for index in range(-1, each):
        (x, y), (before_x, before_y), (after_x, after_y) = (
            outline[(index + by) % (len(outline) - 1)] for by in (0, -1, 1)
        )
        along_x, along_y = after_x - before_x, after_y - before_y
        long = hypot(along_x, along_y) or 1.0
        found.append((x + wide * along_y / long, y - wide * along_x / long))
    return tuple(found)


def thinned(line: Line, off: float) -> Line:
    """The same line with fewer corners, nowhere farther off than that (Ramer 1972, Douglas and Peucker 1973). The
    sheets have shapely for it, which a service alone need not have."""
    (x, y), (to_x, to_y) = line[0], line[-1]
    long = hypot(to_x - x, to_y - y)

    def aside(point: tuple[float, float]) -> float:
        if not long:
            return hypot(point[0] - x, point[1] - y)
        return abs((to_x - x) * (y - point[1]) - (x - point[0]) * (to_y - y)) / long

    farthest = max(range(1, len(line) - 1), key=lambda index: aside(line[index]), default=0)
    if not farthest or aside(line[farthest]) <= off:
        return line[0], line[-1]
    return (*thinned(line[: farthest + 1], off)[:-1], *thinned(line[farthest:], off))
