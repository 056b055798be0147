"""Exhaustive enumeration over teeth, places and drives, written apart from the search and the judge, in plain floats.

Every legal choice of teeth, and of a drive where one is asked for, is taken in rank order, and every way to place it
tried in turn: directions in order, third gears left of the arbor first, the drive last. Where a distance is too near
its limit for floats, the design is given up (`TooNear`).
"""

from __future__ import annotations

import math
from fractions import Fraction
from functools import cache, partial
from itertools import product

from brute import SIDES, all_trains, full_order, identity, key_of, reach_mm

from solver.design.design import Design
from solver.design.train import Train

NEAR = 1e-6  # mm
MOST_CHOICES, MOST_REFUSED = 100_000, 8_000  # where there is a drive


class TooNear(Exception):
    """A distance that floats cannot judge."""


class TooMany(Exception):
    """More choices of links and drives than are worth trying."""


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
        self.gear, self.third, self.behind = (reach_mm(design, role) for role in ("gear", "third", "behind"))
        self.gap = (self.add + self.behind + self.clear) / self.tooth

    def size(self, teeth: int, behind: bool) -> float:
        """Tip radius of a gear on an arbor, at its ring or behind a third gear."""
        return teeth * self.tooth + (self.behind if behind else self.gear)


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


class Motor:
    """A motor's ring, speed, pinion, third gear (or None) and radius [teeth], and how far it is from what is wished."""

    def __init__(self, off, ring, rpm, pinion, third, radius, teeth) -> None:
        self.ring, self.rpm, self.pinion, self.third, self.radius = ring, rpm, pinion, third, radius
        self.order = (off, third is not None, ring, rpm, pinion, third or 0, radius)
        self.reach = max(radius + pinion, teeth + 2 * third if third else 0)


def motors_of(design: Design, lengths: Lengths, train: Train) -> list[Motor]:
    """Every motor that may turn the train."""
    drive, found = design.drive, []
    ratios, reverse = [Fraction(1)], [False]
    for i, link in enumerate(train.links):
        ratios.append(ratios[-1] * Fraction(link.wheel * train.rings[i + 1], train.rings[i] * link.pinion))
        reverse.append(reverse[-1] ^ (len(link.thirds) == 1))
    for ring, teeth in enumerate(train.rings):
        if drive.ring != "any" and ring != (0 if drive.ring == "inner" else len(train.rings) - 1):
            continue
        for rpm, pinion in product(drive.motor_rpm, drive.pinion_teeth):
            off = Fraction(1)
            if drive.turn is not None:
                body, wished = drive.turn
                taken = 60 / rpm * Fraction(teeth, pinion) * ratios[train.seats[body]] / ratios[ring]
                off = max(taken / wished, wished / taken)
            # Counting meshes from the motor: one alone turns about, and ring 0 turns counterclockwise.
            if drive.reverse_ok or not reverse[ring]:
                found.append(Motor(off, ring, rpm, pinion, None, teeth + pinion, teeth))
            if drive.third_gears and (drive.reverse_ok or reverse[ring]):
                for third in design.arbors.third_teeth:
                    for radius in range(teeth + pinion, teeth + pinion + 2 * third + 1):
                        if radius - teeth - pinion >= max(lengths.gap, 0.5):
                            found.append(Motor(off, ring, rpm, pinion, third, radius, teeth))
    return found


def motor_places(lengths: Lengths, teeth: int, motor: Motor, direction):
    """Every way the motor can stand in a direction: (shaft, [third gear's spot])."""
    turn = math.radians(float(direction))
    shaft = rounded(motor.radius * lengths.tooth, turn)
    if motor.third is None:
        yield shaft, []
        return
    a, b, c = motor.radius, teeth + motor.third, motor.pinion + motor.third
    off = math.acos(max(-1, min(1, (a * a + b * b - c * c) / (2 * a * b))))
    for side in (1, -1) if off else (1,):
        yield shaft, [rounded(b * lengths.tooth, turn + side * off)]


def things(design: Design, lengths: Lengths, train: Train, placed, motor=None):
    """Discs (owner, level, spot, radius) and posts (owner, levels, spot) of a placed train without its rollers; where
    more is placed than there are links, the last is the motor."""
    count, plate = len(train.rings), design.fit.plate
    discs, posts = [], []

    def post(owner, bottom, top, spot):
        levels = {"inner": range(bottom), "outer": range(top + 1, count)}.get(plate, range(0))
        if len(levels):
            posts.append((owner, levels, spot))

    for i, (link, (arbor, thirds)) in enumerate(zip(train.links, placed)):
        on_wheel, on_pinion = SIDES[link.kind]
        discs.append((i, i, arbor, lengths.size(link.wheel, on_wheel)))
        discs.append((i, i + 1, arbor, lengths.size(link.pinion, on_pinion)))
        post(i, i, i + 1, arbor)
        for number, (third, spot) in enumerate(zip(link.thirds, thirds)):
            level = i if on_wheel and number == 0 else i + 1
            discs.append((i, level, spot, third * lengths.tooth + lengths.third))
            post(i, level, level, spot)
    if len(placed) > len(train.links):
        shaft, thirds = placed[-1]
        sizes = [
            lengths.size(motor.pinion, bool(thirds)),
            *(motor.third * lengths.tooth + lengths.third for _ in thirds),
        ]
        for size, spot in zip(sizes, [shaft, *thirds]):
            discs.append((len(train.links), motor.ring, spot, size))
            post(len(train.links), motor.ring, motor.ring, spot)
    return discs, posts


def legal(design: Design, lengths: Lengths, train: Train, placed, motor=None) -> bool:
    """Whether the last thing that was placed touches nothing that it should not; links may be placed only in part."""
    discs, posts = things(design, lengths, train, placed, motor)
    frame, clear, rings, new = design.fit.frame, lengths.clear, train.rings, len(placed) - 1
    new_discs = [disc for disc in discs if disc[0] == new]
    if frame is not None:
        for _, _, (x, y), radius in new_discs:
            if frame.round:
                if not enough(float(frame.width) / 2 - clear, math.hypot(x, y) + radius):
                    return False
            elif not (
                enough(float(frame.width) / 2 - clear, abs(x) + radius)
                and enough(float(frame.height) / 2 - clear, abs(y) + radius)
            ):
                return False
    for one, other in product(new_discs, discs):
        share = one[0] != other[0] and one[1] == other[1]
        if share and not enough(math.dist(one[2], other[2]), one[3] + other[3] + clear):
            return False
    for index, (owner, levels, spot) in enumerate(posts):
        far = math.hypot(*spot)
        for level in levels:
            if owner == new:
                tip, hole = rings[level] * lengths.tooth + lengths.add, rings[level] * lengths.tooth - lengths.rim
                outside, inside = enough(far, tip + lengths.post + clear), enough(hole - lengths.post - clear, far)
                if not (outside or inside):
                    return False
            for disc in discs if owner == new else new_discs:
                if disc[1] == level and not enough(math.dist(disc[2], spot), disc[3] + lengths.post + clear):
                    return False
        for by_owner, others, by in posts[:index]:
            share = new in (owner, by_owner) and set(levels) & set(others)
            if share and not enough(math.dist(spot, by), 2 * lengths.post + clear):
                return False
    return stands_clear(design, lengths, train, new_discs, [post for post in posts if post[0] == new])


def stands_clear(design: Design, lengths: Lengths, train: Train, discs, posts) -> bool:
    """Whether the circle of each body's stand meets nothing on the levels it passes."""
    count, rings, room = len(train.rings), train.rings, lengths.post + lengths.clear
    swept = []
    for ring in train.seats:
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


def first_place(design: Design, lengths: Lengths, train: Train, radii, motor=None):
    """The first legal placement as [(direction, arbor, thirds)], that of the motor last, or None."""
    if not rings_legal(design, lengths, train.rings):
        return None

    def place(chosen):
        at = len(chosen)
        if at and not legal(design, lengths, train, [spots for _, spots in chosen], motor):
            return None
        if at == len(train.links) + (motor is not None):
            return chosen
        for direction in design.fit.directions:
            if at == len(train.links):
                ways = motor_places(lengths, train.rings[motor.ring], motor, direction)
            else:
                ways = link_places(lengths, *train.rings[at : at + 2], train.links[at], radii[at], direction)
            for spots in ways:
                found = place([*chosen, (direction, spots)])
                if found:
                    return found
        return None

    return place([])


def ranked_with_places(design: Design, keep: int):
    """The first `keep` different trains that have a place, as (key, train, radii, placement, motor), and how many
    choices with a better key had none.

    Of one train that choice of third gears, radii and motor counts which comes first: by the motor's reach where the
    envelope is a rank key, else by the wish once the links are chosen.
    """
    lengths, found, refused, choices = Lengths(design), {}, 0, []
    compact, limit, order = (
        "envelope" in (*design.rank, *design.front),
        design.limits.max_envelope,
        full_order(design.rank),
    )
    radii = cache(partial(radii_of, design, lengths))
    known = {}  # motors of trains, whose third gears matter to none
    for figures, train in all_trains(design):
        every = [radii(*train.rings[i : i + 2], link) for i, link in enumerate(train.links)]
        if design.drive is not None and identity(train) not in known:
            known[identity(train)] = motors_of(design, lengths, train)
        motors = [None] if design.drive is None else known[identity(train)]
        for chosen in product(*every):
            own = max(
                train.rings[-1],
                *(
                    max(
                        radius + max(link.wheel, link.pinion),
                        train.rings[i] + 2 * link.thirds[0] if SIDES[link.kind][0] else 0,
                        train.rings[i + 1] + 2 * link.thirds[-1] if SIDES[link.kind][1] else 0,
                    )
                    for i, (link, radius) in enumerate(zip(train.links, chosen))
                ),
            )
            for motor in motors:
                reach = own if motor is None else max(own, motor.reach)
                if limit is not None and reach * lengths.tooth + lengths.add > float(limit):
                    continue
                key = key_of({**figures, "envelope": reach}, train, order)
                first = key if compact else key_of({**figures, "envelope": own}, train, order)
                choices.append((first, chosen, () if motor is None else motor.order, key, train, motor))
        if len(choices) > MOST_CHOICES and design.drive is not None:
            raise TooMany
    choices.sort(key=lambda choice: choice[:3])
    bare = {}  # without a motor: where that has no place, it has none with one
    for first, chosen, _, key, train, motor in choices:
        if len(found) >= keep and sorted(entry[0] for entry in found.values())[keep - 1] <= first:
            break
        if identity(train) in found:
            continue
        if (train, chosen) not in bare:
            bare[train, chosen] = first_place(design, lengths, train, chosen)
        placed = bare[train, chosen]
        if placed is not None and motor is not None:
            placed = first_place(design, lengths, train, chosen, motor)
        if placed is None:
            refused += 1
            if refused > MOST_REFUSED and design.drive is not None:
                raise TooMany
        else:
            found[identity(train)] = (key, train, chosen, placed, motor)
    return sorted(found.values(), key=lambda entry: entry[0])[:keep], refused
