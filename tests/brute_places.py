"""Exhaustive enumeration over teeth and places, written apart from the search and the judge, in plain floats.

Every legal choice of teeth is taken in rank order, and every way to place it tried in turn: directions in order, third
gears left of the arbor first. Where a distance is too near its limit for floats, the design is given up (`TooNear`).
"""

from __future__ import annotations

import math
from itertools import combinations, product

from brute import SIDES, all_trains, full_order, key_of

from solver.design.design import Design
from solver.design.train import Train

NEAR = 1e-6  # mm


class TooNear(Exception):
    """A distance that floats cannot judge."""


def enough(have: float, need: float) -> bool:
    if abs(have - need) < NEAR:
        raise TooNear
    return have > need


class Lengths:
    """What the design's lengths are, in mm as floats."""

    def __init__(self, design: Design) -> None:
        rings, fit = design.rings, design.fit
        self.tooth = float(rings.pitch.value) / (2 if rings.pitch.is_module else 2 * math.pi)
        self.add, self.rim, self.clear = float(rings.addendum), float(rings.rim), float(fit.clearance)
        self.post, self.fit, self.spacing = float(fit.post_radius), fit, float(rings.level_spacing)
        self.gap = (2 * self.add + self.clear) / self.tooth


def rounded(radius: float, turn: float) -> tuple[float, float]:
    return round(1000 * radius * math.cos(turn)) / 1000, round(1000 * radius * math.sin(turn)) / 1000


def link_places(lengths: Lengths, inner, outer, link, radius, direction):
    """Every way the link can stand in a direction: (arbor, [third gears' spots])."""
    turn = math.radians(float(direction))
    on_wheel, on_pinion = SIDES[link.kind]
    thirds = [(inner, link.wheel, link.thirds[0])] if on_wheel else []
    thirds += [(outer, link.pinion, link.thirds[-1])] if on_pinion else []
    arbor = rounded(radius * lengths.tooth, turn)
    ways = []
    for ring, gear, third in thirds:
        a, b, c = radius, ring + third, gear + third
        off = math.acos(max(-1, min(1, (a * a + b * b - c * c) / (2 * a * b))))
        ways.append([rounded(b * lengths.tooth, turn + side * off) for side in ((1, -1) if off else (1,))])
    for chosen in product(*ways):
        yield arbor, list(chosen)


def radii_of(design: Design, lengths: Lengths, inner, outer, link) -> list[int]:
    """Every whole radius at which the link can stand."""
    on_wheel, on_pinion = SIDES[link.kind]
    sides = [
        (inner, link.wheel, link.thirds[0] if on_wheel else None),
        (outer, link.pinion, link.thirds[-1] if on_pinion else None),
    ]
    found = []
    for x in range(1, inner + outer + 4 * (link.wheel + link.pinion + sum(link.thirds))):
        for ring, gear, third in sides:
            if third is None:
                if x != ring + gear:
                    break
            elif x - ring - gear < max(lengths.gap, 0.5) or x > ring + gear + 2 * third:
                break
        else:
            found.append(x)
    return found


def things(design: Design, lengths: Lengths, train: Train, placed):
    """Discs (owner, level, spot, radius) and posts (owner, levels, spot) of a placed train without its rollers."""
    count, plate = len(train.rings), design.fit.plate
    discs, posts = [], []

    def post(owner, bottom, top, spot):
        levels = {"inner": range(bottom), "outer": range(top + 1, count)}.get(plate, range(0))
        if len(levels):
            posts.append((owner, levels, spot))

    for i, (link, (arbor, thirds)) in enumerate(zip(train.links, placed)):
        on_wheel, _ = SIDES[link.kind]
        discs.append((i, i, arbor, link.wheel * lengths.tooth + lengths.add))
        discs.append((i, i + 1, arbor, link.pinion * lengths.tooth + lengths.add))
        post(i, i, i + 1, arbor)
        for number, (third, spot) in enumerate(zip(link.thirds, thirds)):
            level = i if on_wheel and number == 0 else i + 1
            discs.append((i, level, spot, third * lengths.tooth + lengths.add))
            post(i, level, level, spot)
    return discs, posts


def legal(design: Design, lengths: Lengths, train: Train, placed) -> bool:
    """Whether nothing touches that should not, without rollers; links may be placed only in part."""
    discs, posts = things(design, lengths, train, placed)
    frame, clear, rings = design.fit.frame, lengths.clear, train.rings
    if frame is not None:
        for _, _, (x, y), radius in discs:
            if frame.round:
                if not enough(float(frame.width) / 2 - clear, math.hypot(x, y) + radius):
                    return False
            elif not (
                enough(float(frame.width) / 2 - clear, abs(x) + radius)
                and enough(float(frame.height) / 2 - clear, abs(y) + radius)
            ):
                return False
    for one, other in combinations(discs, 2):
        share = one[0] != other[0] and one[1] == other[1]
        if share and not enough(math.dist(one[2], other[2]), one[3] + other[3] + clear):
            return False
    for index, (_, levels, spot) in enumerate(posts):
        far = math.hypot(*spot)
        for level in levels:
            tip, hole = rings[level] * lengths.tooth + lengths.add, rings[level] * lengths.tooth - lengths.rim
            outside, inside = enough(far, tip + lengths.post + clear), enough(hole - lengths.post - clear, far)
            if not (outside or inside):
                return False
            for disc in discs:
                if disc[1] == level and not enough(math.dist(disc[2], spot), disc[3] + lengths.post + clear):
                    return False
        for _, others, by in posts[:index]:
            if set(levels) & set(others) and not enough(math.dist(spot, by), 2 * lengths.post + clear):
                return False
    return stands_clear(design, lengths, train, discs, posts)


def stands_clear(design: Design, lengths: Lengths, train: Train, discs, posts) -> bool:
    """Whether the circle of each body's stand meets nothing on the levels it passes."""
    count, rings, room = len(train.rings), train.rings, lengths.post + lengths.clear
    swept = []
    for ring in train.places:
        levels = {"inner": range(ring), "outer": range(ring + 1, count)}.get(design.fit.stands, range(0))
        radius = rings[ring] * lengths.tooth - lengths.rim / 2
        for level in levels:
            near, far = rings[level] * lengths.tooth - lengths.rim, rings[level] * lengths.tooth + lengths.add
            if not (enough(near, radius + room) or enough(radius - room, far)):
                return False
        round_things = [(spot, size) for _, level, spot, size in discs if level in levels]
        round_things += [(spot, lengths.post) for _, passed, spot in posts if set(passed) & set(levels)]
        for spot, size in round_things:
            away = math.hypot(*spot)
            if not (enough(away, radius + size + room) or enough(radius - size - room, away)):
                return False
        for others, by in swept:
            if set(others) & set(levels) and not enough(radius - by, 2 * lengths.post + lengths.clear):
                return False
        swept.append((levels, radius))
    return True


def rings_legal(design: Design, lengths: Lengths, rings) -> bool:
    """Whether the rings fit the frame by themselves."""
    frame = design.fit.frame
    if frame is None:
        return True
    if frame.depth is not None and len(rings) * design.rings.level_spacing > frame.depth:
        return False
    room = float(min(frame.width, frame.height)) / 2 - lengths.clear
    return all(enough(room, teeth * lengths.tooth + lengths.add) for teeth in rings)


def first_place(design: Design, lengths: Lengths, train: Train, radii):
    """The first legal placement as [(direction, arbor, thirds)], or None."""
    if not rings_legal(design, lengths, train.rings):
        return None

    def place(chosen):
        at = len(chosen)
        if at and not legal(design, lengths, train, [spots for _, spots in chosen]):
            return None
        if at == len(train.links):
            return chosen
        inner, outer = train.rings[at], train.rings[at + 1]
        for direction in design.fit.directions:
            for spots in link_places(lengths, inner, outer, train.links[at], radii[at], direction):
                found = place([*chosen, (direction, spots)])
                if found:
                    return found
        return None

    return place([])


def ranked_with_places(design: Design, keep: int):
    """The first `keep` different trains that have a place, as (key, train, radii, placement), and how many trains with
    a better key had none."""
    lengths, found, refused = Lengths(design), {}, 0
    trains = []
    for figures, train in all_trains(design):
        choices = [
            radii_of(design, lengths, train.rings[i], train.rings[i + 1], link) for i, link in enumerate(train.links)
        ]
        for radii in product(*choices):
            reach = max(
                train.rings[-1],
                *(
                    max(
                        radius + max(link.wheel, link.pinion),
                        train.rings[i] + 2 * link.thirds[0] if SIDES[link.kind][0] else 0,
                        train.rings[i + 1] + 2 * link.thirds[-1] if SIDES[link.kind][1] else 0,
                    )
                    for i, (link, radius) in enumerate(zip(train.links, radii))
                ),
            )
            limit = design.limits.max_envelope
            if limit is not None and reach * lengths.tooth + lengths.add > float(limit):
                continue
            key = key_of({**figures, "envelope": reach}, train, full_order(design.rank))
            trains.append((key, radii, train))
    for key, radii, train in sorted(trains, key=lambda item: item[:2]):
        if train.identity() in found:
            continue
        placed = first_place(design, lengths, train, radii)
        if placed is None:
            refused += 1
        else:
            found[train.identity()] = (key, train, radii, placed)
            if len(found) == keep:
                break
    return list(found.values()), refused
