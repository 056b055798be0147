"""Templates 1:1: a jig's plan as a drawing with every hole, its circles, its sizes and what is made on it."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from math import hypot

from solver.forms.plans import Hole, JigPlan
from solver.sheets.draw.drawing import Circle, Drawing, Line, Polyline, Shape, Text, polar
from solver.sheets.draw.lettering import text_width, wrap
from solver.sheets.draw.marks import cross, scale_bar
from solver.words.lengths import Lengths
from solver.words.numbers import decimal

NAME, NOTE, COUNT = 5.0, 3.0, 2.6  # sizes of letters
_LINE = 1.35  # the height of a line of text, in its letters
_EVERY = 5  # every so many teeth the number of the tooth is told
_WIDEST = 120.0  # of the text, so that it is whole on a tile
_FREE = 11.0  # the room beside a ring's centre, for its mark and for the overlap of tiles


def template(plan: JigPlan, lengths: Lengths) -> Drawing:
    """A jig's template, its centre at (0, 0): a circle for every hole with its middle marked, pitch, tip and root
    circle, the gear as it lies there, the centre, sizes, teeth and uses.

    Names of the layers say what is on them: "holes-root", "holes-tip", "holes-pin", "holes-centre", "hole-marks",
    "pitch", "outline", "centre", "text". No scale bar: see `with_scale_bar`.
    """
    shapes: list[Shape] = [Circle((0.0, 0.0), plan.pitch_radius_mm, "pitch")]
    for radius, layer in ((plan.tip_radius_mm, "tip-circle"), (plan.root_radius_mm, "root-circle")):
        if radius > 0:
            shapes.append(Circle((0.0, 0.0), radius, layer))
    shapes += [Polyline(line, "outline") for line in plan.outline if len(line) > 1]
    for hole in plan.holes:
        at = polar(hole.radius_mm, hole.angle_deg)
        shapes.append(Circle(at, hole.diameter_mm / 2, f"holes-{hole.what}"))
        shapes += _hole_mark(at, hole)
    shapes += cross((0.0, 0.0), max(4.0, min(10.0, plan.root_radius_mm / 3)), "centre")
    inner, reach = _bounds(plan)
    if plan.kind == "ring":
        shapes += _tooth_numbers(plan, inner)
        inner -= 2.5 * COUNT
    shapes += _told(plan, lengths, inner, reach)
    return Drawing(plan.name, tuple(shapes))


def with_scale_bar(drawing: Drawing, inches: bool = False) -> Drawing:
    """The drawing with a bar of 100 mm under its left edge; inches: and one of 4 in."""
    left, bottom, _, _ = drawing.box
    return drawing.with_shapes(scale_bar(left, bottom - 9.0, inches))


def _bounds(plan: JigPlan) -> tuple[float, float]:
    """Radii between which the gear and its holes lie [mm]; a ring's centre is free but for its mark."""
    around = [radius for radius in (plan.root_radius_mm, plan.pitch_radius_mm, plan.tip_radius_mm) if radius > 0]
    around += [hypot(*point) for line in plan.outline for point in line]
    for hole in plan.holes:
        if plan.kind == "ring" and hole.what == "centre":
            continue
        around += [max(hole.radius_mm - hole.diameter_mm / 2, 0.0), hole.radius_mm + hole.diameter_mm / 2]
    return min(around), max(around)


def _hole_mark(at: tuple[float, float], hole: Hole) -> tuple[Line, Line]:
    """Where the punch goes: a cross that reaches a little beyond the hole, along and across the radius."""
    arm = hole.diameter_mm / 2 + 0.6
    along, across = polar(arm, hole.angle_deg), polar(arm, hole.angle_deg + 90)
    x, y = at
    return (
        Line((x - along[0], y - along[1]), (x + along[0], y + along[1]), "hole-marks"),
        Line((x - across[0], y - across[1]), (x + across[0], y + across[1]), "hole-marks"),
    )


def _tooth_numbers(plan: JigPlan, inner: float) -> list[Shape]:
    """The number of every fifth tooth, and of the first, inside of the teeth; there they make no ring larger."""
    what = "tip" if any(hole.what == "tip" for hole in plan.holes) else "root"
    angles = [hole.angle_deg for hole in plan.holes if hole.what == what]
    per_tooth = max(1, len(angles) // plan.teeth)
    shapes: list[Shape] = []
    for tooth, angle in enumerate(angles[::per_tooth], start=1):
        if tooth == 1 or tooth % _EVERY == 0:
            x, y = polar(inner - 1.3 * COUNT, angle)
            shapes.append(Text((x, y - 0.36 * COUNT), str(tooth), COUNT, "middle"))
    return shapes


# -- what is told ----------------------------------------------------------------------------------------------------


def _told(plan: JigPlan, lengths: Lengths, inner: float, reach: float) -> list[Shape]:
    """Name, teeth, sizes, holes and uses: left of a ring's centre where there is room, else below."""
    told = facts(plan, lengths)
    name = plan.name.removeprefix("jig ")
    for widest in (50.0, 60.0, 75.0, 90.0):
        lines = [(NAME, name), *_wrapped(told, widest)]
        wide = max(text_width(text, size) for size, text in lines)
        high = sum(size * _LINE for size, _ in lines)
        # Left of the centre and above it: tiles are cut through the middle.
        if hypot(wide + _FREE, high + _FREE) < inner - 3.0:
            return _text_block(lines, -wide - _FREE, high + _FREE)
    widest = min(max(2 * reach, 55.0), _WIDEST)
    return _text_block([(NAME, name), *_wrapped(told, widest)], -reach, -reach - 3.0)


def _wrapped(told: Sequence[str], widest: float) -> list[tuple[float, str]]:
    return [(NOTE, line) for text in told for line in wrap(text, widest, NOTE, 12)]


def _text_block(lines: Sequence[tuple[float, str]], left: float, top: float) -> list[Shape]:
    shapes: list[Shape] = []
    for number, (size, text) in enumerate(lines):
        top -= size * _LINE
        shapes.append(Text((left, top + 0.35 * size), text, size, bold=number == 0))
    return shapes


def facts(plan: JigPlan, lengths: Lengths) -> list[str]:
    """What is to be known of a jig, a line each: kind and teeth, sizes, holes, what is made on it."""
    kind = "ring" if plan.kind == "ring" else "small gear"
    sizes = [
        f"{name} Ø\u00a0{lengths.text(2 * radius)}"
        for name, radius in (
            ("pitch", plan.pitch_radius_mm),
            ("tips", plan.tip_radius_mm),
            ("roots", plan.root_radius_mm),
        )
        if radius > 0
    ]
    told = [f"{kind} of {plan.teeth} teeth, one each\u00a0{decimal(360 / plan.teeth, 4)}°", *sizes]
    groups = Counter((hole.what, hole.diameter_mm, round(hole.radius_mm, 6)) for hole in plan.holes)
    for (what, diameter, radius), count in groups.items():
        where = f" on Ø\u00a0{lengths.text(2 * radius, 3)}" if radius > 0 else ""
        told.append(f"{count} {what} hole{'' if count == 1 else 's'} Ø\u00a0{lengths.text(diameter)}{where}")
    if plan.bore_mm > 0:
        told.append(f"bore Ø\u00a0{lengths.text(plan.bore_mm)}, plate {lengths.text(plan.plate_mm)} thick")
    if plan.hub_mm > 0:
        told.append(f"hub Ø\u00a0{lengths.text(plan.hub_mm)}")
    told.append("for " + "; ".join(merged(plan.uses)))
    return told


_OF_LINK = re.compile(r"^(?P<what>.*) of link (?P<link>\d+)(?P<more>.*)$")


def merged(uses: Sequence[str]) -> list[str]:
    """Uses with those of one kind in one: "wheel of links 3 and 7"."""
    groups: dict[tuple[str, str], list[str]] = {}
    for use in uses:
        match = _OF_LINK.match(use)
        key = (match["what"], match["more"]) if match else (use, "")
        groups.setdefault(key, []).append(match["link"] if match else "")
    told = []
    for (what, more), links in groups.items():
        if links[0] == "":
            told.append(what if len(links) == 1 else f"{what} ({len(links)} times)")
        elif len(links) == 1:
            told.append(f"{what} of link {links[0]}{more}")
        else:
            told.append(f"{what} of links {', '.join(links[:-1])} and {links[-1]}{more}")
    return told
