"""Parts from the front [mm of the paper]: in grey as plain discs, in black with every tooth."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from math import cos, hypot, radians, sin

from solver.sheets.draw.drawing import Circle, Point, Polyline, Shape, polar
from solver.sheets.gears.looks import thinned
from solver.sheets.steps.callouts import Callout
from solver.sheets.steps.holding import painted
from solver.sheets.steps.numbers import told
from solver.sheets.steps.things import PlacedPart

OFF = 0.1  # mm of the paper that a drawn tooth may be off
LIGHT = 0.93  # grey of what is there
_DARK = 0.3  # of an arm that is put on
_KINDS = ("bar", "arm", "bush", "ring", "roller", "motor", "gear", "hub", "arbor", "post", "shaft", "rod", "body")
_TRIED = 36  # directions in which a ring may be named


def seen(things: Iterable[PlacedPart], front: str) -> list[PlacedPart]:
    """PlacedParts from the farthest to the nearest. front: the side that faces the viewer, "inner" or "outer"."""
    sign = -1 if front == "inner" else 1
    return sorted(
        things,
        key=lambda one: (sign * (one.levels[0] if one.shape is None else one.shape.first), _KINDS.index(one.kind)),
    )


def grey(things: Sequence[PlacedPart], scale: float) -> Iterator[Shape]:
    """What is there: discs and rings, the farthest first."""
    for one in things:
        if one.shape is not None:
            yield from painted(one.shape, scale, "there", LIGHT, one.number)
            continue
        at, radius = _round(one.at[0] / scale, one.at[1] / scale), round(one.radius / scale, 2)
        flat = one.kind in ("ring", "gear", "motor")
        inner = round(one.inside / scale, 2)
        yield Circle(at, radius, "there", LIGHT if flat else None, inner, (("part", one.number),))


def black(things: Sequence[PlacedPart], scale: float, layer: str = "added") -> Iterator[Shape]:
    """What is put on, which hides the grey behind it: gears with their teeth."""
    for one in things:
        if one.shape is not None:
            yield from painted(one.shape, scale, layer, _DARK if one.kind == "arm" else 1.0, one.number)
            continue
        at, radius = _round(one.at[0] / scale, one.at[1] / scale), round(one.radius / scale, 2)
        yield Circle(at, radius, "cover", 1.0, round(one.inside / scale, 2))
        yield from _outline(one, at, radius, scale, layer)


def _outline(one: PlacedPart, at: Point, radius: float, scale: float, layer: str) -> Iterator[Shape]:
    facts = (("part", one.number),)
    look = one.look
    if look is None:
        yield Circle(at, radius, layer, 0.0 if one.kind == "body" else None, facts=facts)
    elif look.pin:
        pitch = round((look.tip - look.pin / 2) / scale, 2)
        yield Circle(at, pitch, layer, facts=facts)
        for pin in range(one.teeth):
            x, y = polar(pitch, one.turn_deg + 360 * pin / one.teeth)
            yield Circle(_round(at[0] + x, at[1] + y), round(look.pin / 2 / scale, 2), layer, 0.0)
    else:
        yield Polyline(toothed(one, scale, at), layer, True, facts=facts)
    if one.inside > 0:
        yield Circle(at, round(one.inside / scale, 2), layer)


def toothed(one: PlacedPart, scale: float, at: Point) -> tuple[Point, ...]:
    """The closed outline of a gear with teeth, so many teeth alike."""
    assert one.look is not None
    tooth = thinned(one.look.tooth, OFF * scale)[:-1]
    points = []
    for number in range(one.teeth):
        turn = radians(one.turn_deg + 360 * number / one.teeth)
        along, across = cos(turn) / scale, sin(turn) / scale
        points += [_round(at[0] + x * along - y * across, at[1] + x * across + y * along) for x, y in tooth]
    return tuple(points)


def _round(x: float, y: float) -> Point:
    """To the hundredth of a millimetre of the paper: finer nobody sees it, and the pages are a tenth smaller."""
    return round(x, 2), round(y, 2)


def callouts_of(things: Sequence[PlacedPart], around: Sequence[PlacedPart], scale: float) -> list[Callout]:
    """Numbers of what is put on: one callout for all that stands on one spot; a ring is named where no gear covers it.
    around: what is there too."""
    spots: dict[Point, list[PlacedPart]] = {}
    found: list[Callout] = []
    for one in sorted(things, key=lambda one: (one.kind != "post", one.kind not in ("arbor", "shaft"))):
        if one.kind == "ring":
            x, y = _free_point(one, [*things, *around])
            found.append(Callout((x / scale, y / scale), (one.number,)))
        else:
            spots.setdefault((round(one.at[0], 3), round(one.at[1], 3)), []).append(one)
    for (x, y), some in spots.items():
        bars = told(one.number for one in some if one.kind == "bar")  # of all gaps, one behind the other
        lines = (*([bars] if bars else []), *(text_of(one) for one in some if one.kind != "bar"))
        found.append(Callout((x / scale, y / scale), lines))
    return found


def text_of(one: PlacedPart) -> str:
    """Its number, and what is said beside it."""
    return f"{one.number} {one.says}" if one.says else one.number


def _free_point(ring: PlacedPart, others: Sequence[PlacedPart]) -> Point:
    """A point in the middle of a ring's rim where nothing else is, near the left or the right."""
    middle = (ring.radius + ring.inside) / 2
    small = [one for one in others if one.kind != "ring" and one.shape is None]

    def cost(turn: float) -> float:
        x, y = polar(middle, turn)
        covered = sum(hypot(x - one.at[0], y - one.at[1]) < 1.1 * one.radius for one in small)
        return 10 * covered + abs(sin(radians(turn)) - 0.35)

    return polar(middle, min((360 * turn / _TRIED + 5 for turn in range(_TRIED)), key=cost))
