"""Every way to place one train, enumerated apart from the search: which of them its maker prefers, and which may be.

Built on `brute_places`, in plain floats; angles and wishes in Fractions. Rollers are asked for where nothing has posts,
so that each ring is held, or not, by itself.
"""

from __future__ import annotations

import math
from fractions import Fraction
from functools import cache
from itertools import combinations

import brute_places
from brute import SIDES
from brute_places import NEAR, Lengths, Motor, TooMany, TooNear, enough, legal, link_places, motor_places, rings_legal

MOST_WAYS = 40_000


def every_way(design, train, radii, motor=None):
    """Every legal placement as [(direction, (arbor, thirds))], in the order in which places are preferred."""
    lengths, seen = Lengths(design), [0]
    if not rings_legal(design, lengths, train.rings):
        return

    def place(chosen):
        seen[0] += 1
        if seen[0] > MOST_WAYS:
            raise TooMany
        at = len(chosen)
        if at and not legal(design, lengths, train, [spots for _, spots in chosen], motor):
            return
        if at and at <= len(train.links) and not wished(design, at - 1, *chosen[-1]):
            return
        if at == len(train.links) + (motor is not None):
            if design.fit.rollers is None or all(held(design, lengths, train, chosen, motor)):
                yield chosen
            return
        for direction in design.fit.directions:
            if at == len(train.links):
                ways = motor_places(lengths, train.rings[motor.ring], motor, direction)
            else:
                ways = link_places(lengths, *train.rings[at : at + 2], train.links[at], radii[at], direction)
            for spots in ways:
                yield from place([*chosen, (direction, spots)])

    yield from place([])


# -- what is wished ----------------------------------------------------------------------------------------------------


def within(begin, end, angle):
    """Whether an angle is on the way counterclockwise from one to another."""
    return (angle - begin) % 360 <= (end - begin) % 360


def wished(design, link, direction, spots):
    """Whether a link may stand there."""
    for one in design.fit.link_places:
        if one.link == link and not within(one.sector.begin, one.sector.end, direction):
            return False
    for sector in design.fit.keep_free:
        if within(sector.begin, sector.end, direction):
            return False
        for x, y in spots[1]:
            angle = math.degrees(math.atan2(y, x))
            for edge in (sector.begin, sector.end):
                if abs((angle - float(edge) + 180) % 360 - 180) < NEAR:
                    raise TooNear
            if within(float(sector.begin), float(sector.end), angle):
                return False
    return True


class WithWishes:
    """Places of `brute_places` are only legal where they are as wished, too."""

    def __enter__(self):
        self.kept = brute_places.legal

        def both(design, lengths, train, placed, motor=None):
            at = len(placed) - 1
            if at < len(train.links):
                arbor = placed[-1][0]
                angle = math.degrees(math.atan2(arbor[1], arbor[0]))
                direction = min(design.fit.directions, key=lambda one: abs((float(one) - angle + 180) % 360 - 180))
                if not wished(design, at, direction, placed[-1]):
                    return False
            return self.kept(design, lengths, train, placed, motor)

        brute_places.legal = both

    def __exit__(self, *_):
        brute_places.legal = self.kept


# -- what is preferred -------------------------------------------------------------------------------------------------


def angles_between(way, links):
    """The angles between neighbouring arbors, the least first."""
    stood = sorted(Fraction(direction) for direction, _ in way[:links])
    gaps = [after - before for before, after in zip(stood, stood[1:])]
    return sorted([*gaps, 360 - sum(gaps)])


def centre(train, way, motor, mass=lambda teeth: teeth * teeth):
    """The centre of mass [mm] of gears off the axis as discs: (x, y), in Fractions."""
    parts = []
    for link, (_, (arbor, thirds)) in zip(train.links, way):
        parts += [(mass(link.wheel), arbor), (mass(link.pinion), arbor)]
        parts += [(mass(third), spot) for third, spot in zip(link.thirds, thirds)]
    if motor is not None:
        shaft, thirds = way[-1][1]
        parts.append((mass(motor.pinion), shaft))
        parts += [(mass(motor.third), spot) for spot in thirds]
    whole = sum(weight for weight, _ in parts)
    return tuple(sum(weight * Fraction(round(1000 * at[i]), 1000) for weight, at in parts) / whole for i in (0, 1))


def preferred(design, train, radii, motor=None):
    """The way that is preferred; and how many different values there were to choose from."""
    best, values = None, set()
    for way in every_way(design, train, radii, motor):
        if design.fit.arrange == "spread":
            value = tuple(-one for one in angles_between(way, len(train.links)))
        elif design.hung:
            value = math.floor(centre(train, way, motor)[1])
        else:
            x, y = centre(train, way, motor)
            value = math.isqrt(int(x * x + y * y))
        values.add(value)
        if best is None or value < best[0]:
            best = value, way
    return None if best is None else best[1], len(values)


# -- rollers, where nothing has posts ----------------------------------------------------------------------------------


def held(design, lengths, train, chosen, motor):
    """Of each ring whether it can have its rollers beside what stands on its level."""
    count = len(train.rings)
    discs, meshes = [[] for _ in range(count)], [[] for _ in range(count)]
    for i, (link, (_, (arbor, thirds))) in enumerate(zip(train.links, chosen)):
        on_wheel, on_pinion = SIDES[link.kind]
        rest = iter(zip(link.thirds, thirds))
        for level, gear, behind in ((i, link.wheel, on_wheel), (i + 1, link.pinion, on_pinion)):
            discs[level].append((arbor, lengths.size(gear, behind)))
            if behind:
                third, spot = next(rest)
                discs[level].append((spot, third * lengths.tooth + lengths.third))
            meshes[level].append(spot if behind else arbor)
    if motor is not None:
        shaft, thirds = chosen[-1][1]
        discs[motor.ring].append((shaft, lengths.size(motor.pinion, bool(thirds))))
        discs[motor.ring] += [(spot, motor.third * lengths.tooth + lengths.third) for spot in thirds]
        meshes[motor.ring].append(thirds[0] if thirds else shaft)
    for level, teeth in enumerate(train.rings):
        yield ring_held(design.fit, lengths, teeth, tuple(discs[level]), tuple(meshes[level]))


@cache
def _grid(far):
    return [brute_places.rounded(far, math.radians(5 * index)) for index in range(72)]


def ring_held(fit, lengths, teeth, discs, meshes):
    """Whether some rollers on a grid of five degrees hold a ring."""
    radius, reach = float(fit.rollers.radius), float(fit.rollers.reach)
    far = teeth * lengths.tooth - lengths.rim - radius
    if far <= 0:
        return False
    spots = _grid(far)
    free = [
        index
        for index, spot in enumerate(spots)
        if all(enough(math.dist(spot, at), size + radius + lengths.clear) for at, size in discs)
    ]
    near = []
    for x, y in meshes:
        angle = math.degrees(math.atan2(y, x))
        near.append({index for index in free if abs((5 * index - angle + 180) % 360 - 180) <= reach + 1e-9})
    if not all(near):
        return False
    for many in fit.rollers.count:
        for some in combinations(free, many):
            gaps = [b - a for a, b in zip(some, [*some[1:], some[0] + 72])]
            if max(gaps) >= 36 or not all(one & set(some) for one in near):
                continue
            if all(enough(math.dist(spots[a], spots[b]), 2 * radius + lengths.clear) for a, b in combinations(some, 2)):
                return True
    return False


def motor_of(design, train):
    """The motor of a placed train as the enumeration has it; None: there is none."""
    drive = train.placement.drive
    if drive is None:
        return None
    third = drive.thirds[0] if drive.thirds else None
    return Motor(Fraction(1), drive.ring, drive.rpm, drive.pinion, third, drive.at.radius, train.rings[drive.ring])
