"""How far the posts and rings of a model bend under what they carry, as the rule `sag` reckons it."""

from __future__ import annotations

from dataclasses import dataclass

from solver.design.links import KIND_BY_NAME
from solver.design.supports import Supports
from solver.search.place.shapes import link_shape
from solver.search.roller_gaps import GRID, stood
from solver.search.sagging import Sagging
from solver.sheets.gears.inventory import Inventory


@dataclass(frozen=True)
class Bend:
    """A part, what it carries [g] besides its own weight, how far it bends [mm]."""

    what: str
    grams: float
    bend_mm: float


@dataclass(frozen=True)
class Bending:
    """posts: none where they are not fixed to a plate, or stand upright. limit_mm: as far as anything may bend, or as
    it would be unless told where the file has no supports. judged: whether it is a rule of this design. flat: whether
    rings lie. Of rings none are told where they have no rollers, or these no places."""

    posts: tuple[Bend, ...]
    rings: tuple[Bend, ...]
    limit_mm: float
    judged: bool
    flat: bool


def bending_of(stock: Inventory) -> Bending:
    """How far everything bends; a design without supports is taken to hang on a wall."""
    design, train = stock.design, stock.train
    sag, count = Sagging(design), len(train.rings)
    body_on = {ring: body for body, ring in enumerate(train.seats)}
    posts = list[Bend]()
    if sag.posts_bend:
        for index, link in enumerate(train.links):
            sides = link_shape(index, train.rings[index], train.rings[index + 1], link, 0).sides
            posts.append(Bend(f"arbor of link {index}", sag.link_grams(sides), sag.arbor_bend_mm(sides, count)))
            at_wheel = KIND_BY_NAME[link.kind].wheel_thirds
            for number, teeth in enumerate(link.thirds):
                name = f"third gear of link {index} ({'wheel' if number < at_wheel else 'pinion'} side)"
                posts.append(_third(sag, name, index + (number >= at_wheel), teeth, count))
        drive = train.placement.drive if train.placement is not None else None
        if drive is not None:
            posts += [_third(sag, "third gear of the motor", drive.ring, teeth, count) for teeth in drive.thirds]
        for ring, teeth in enumerate(train.rings if sag.rollers else ()):
            grams = sag.roller_load_grams(ring, teeth, count, body_on.get(ring))
            bend = sag.roller_bend_mm(ring, teeth, count, body_on.get(ring))
            posts.append(Bend(f"each roller of ring {ring}", grams, bend))
    rings = []
    rollers = train.placement.rollers if train.placement is not None else ()
    for ring, (teeth, places) in enumerate(zip(train.rings, rollers, strict=False)):
        carried = sag.body_grams(body_on.get(ring), ring, count)
        row = [round(one.direction * GRID / 360) for one in places]
        rings.append(Bend(_ring(ring, row), carried, sag.stood_bend_mm(teeth, carried, row)))
    limit = float((design.supports or Supports()).sag(design.rings.addendum))
    judged = design.supports is not None
    return Bending(tuple(posts), tuple(rings), limit, judged, not sag.hung)


def _ring(ring: int, row: list[int]) -> str:
    widest, even = stood(row)
    return f"ring {ring}, {len(row)} rollers" + (
        "" if even is not None else f", the widest gap {360 * widest // GRID}°"
    )


def _third(sag: Sagging, name: str, level: int, teeth: int, count: int) -> Bend:
    return Bend(name, sag.gear_grams(teeth, sag.roles.third), sag.third_bend_mm(level, teeth, count))
