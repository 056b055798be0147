"""Exhaustive enumeration, written apart from the search and the judge: every train of a small design, in order."""

from __future__ import annotations

import math
from fractions import Fraction
from functools import cache
from itertools import combinations, product

from solver.design.design import Design
from solver.design.train import Link, Train

SIDES = {"plain": (0, 0), "third-wheel": (1, 0), "third-pinion": (0, 1), "third-both": (1, 1)}
KIND_NAMES = list(SIDES)


@cache
def arbor_radius(
    inner: int, outer: int, kind: str, wheel: int, pinion: int, thirds: tuple[int, ...], gap: float
) -> int | None:
    """Least whole radius [teeth] at which the link can stand, found by trying them all."""
    on_wheel, on_pinion = SIDES[kind]
    sides = [(inner, wheel, thirds[0] if on_wheel else None), (outer, pinion, thirds[-1] if on_pinion else None)]
    for x in range(inner + outer + 4 * (wheel + pinion + sum(thirds))):
        for ring, gear, third in sides:
            if third is None:
                if x != ring + gear:
                    break
            elif (
                x - ring - gear < max(gap, 0.5)  # whole teeth: clear means at least one
                or x > ring + third + third + gear  # the triangle's three inequalities
                or ring + third > x + third + gear
                or third + gear > x + ring + third
            ):
                break
        else:
            return x
    return None


def reach_mm(design: Design, role: str) -> float:
    """How far a "ring", a "gear" at a ring, a "third" gear and the gear "behind" it stand beyond their pitch circles:
    teeth an addendum; and where gears are judged as made (of saw teeth), pins half their thickness, and third gears
    that have teeth half an addendum."""
    addendum = float(design.rings.addendum)
    if not design.wired or role == "ring":
        return addendum
    if design.wire.third == "teeth":
        return addendum / 2 if role == "third" else design.wire.pin.mm / 2
    return addendum if role == "behind" else design.wire.pin.mm / 2


def link_choices(design: Design, inner: int, outer: int) -> list[tuple[Link, int]]:
    """Every legal link between two rings, with its arbor radius (0 without places)."""
    arbors, rings = design.arbors, design.rings
    pitch = float(rings.pitch.value) * (math.pi if rings.pitch.is_module else 1)
    room = reach_mm(design, "ring") + reach_mm(design, "behind") + float(design.fit.clearance)
    gap = 2 * math.pi * room / pitch
    found = []
    for kind, (on_wheel, on_pinion) in SIDES.items():
        count = on_wheel + on_pinion
        if count > arbors.third_gears:
            continue
        for wheel, pinion in product(arbors.wheel_teeth, arbors.pinion_teeth):
            for thirds in product(arbors.third_teeth, repeat=count):
                radius = arbor_radius(inner, outer, kind, wheel, pinion, thirds, gap) if arbors.reverted else 0
                if radius is not None:
                    found.append((Link(kind, wheel, pinion, thirds), radius))
    return found


def worst_square(design: Design, ratios: list[Fraction]) -> Fraction | None:
    """(1 + worst error)**2 of bodies with these period ratios, from the definition; None: a cap is broken."""
    bodies = design.bodies
    if design.reference == "first":
        worst = Fraction(0)
        for body, ratio in zip(bodies, ratios, strict=True):
            taken = bodies[0].low * ratio
            error = max(taken / body.high - 1, body.low / taken - 1, Fraction(0))
            if body.cap is not None and error > body.cap:
                return None
            worst = max(worst, error)
        return (1 + worst) ** 2 if worst <= design.limits.max_error else None
    caps = [body.cap for body in bodies]
    q = [
        [(rj / bj.high) / (rk / bk.low) for rk, bk in zip(ratios, bodies, strict=True)]
        for rj, bj in zip(ratios, bodies, strict=True)
    ]
    values = {Fraction(1)} | {x for row in q for x in row if x > 1}
    values |= {(x / (1 + cap)) ** 2 for row in q for x in row for cap in caps if cap is not None and x > 1 + cap}

    def possible(square: Fraction) -> bool:
        reach = [square if cap is None else min(square, (1 + cap) ** 2) for cap in caps]
        return all(q[j][k] ** 2 <= reach[j] * reach[k] for j in range(len(q)) for k in range(len(q)) if q[j][k] > 1)

    least = min((value for value in values if possible(value)), default=None)
    return least if least is not None and least <= (1 + design.limits.max_error) ** 2 else None


def all_trains(design: Design) -> list[tuple[dict, Train]]:
    """Every legal train of a design, third gears and all, with its figures."""
    found: list[tuple[dict, Train]] = []
    for blanks in design.rings.blanks:
        count = len(design.bodies) + blanks
        all_rings = (
            list(product(*design.rings.teeth))
            if design.rings.teeth
            else [
                tuple(inner + i * step for i in range(count))
                for inner in design.rings.inner_teeth
                for step in design.rings.tooth_step
            ]
        )
        for middle in combinations(range(1, count - 1), len(design.bodies) - 2):
            for rings in all_rings:
                if design.arbors.reverted and any(b <= a for a, b in zip(rings, rings[1:])):
                    continue
                _add_trains(design, rings, (0, *middle, count - 1), found)
    return found


def key_of(figures: dict, train: Train, keys: tuple[str, ...]) -> tuple:
    """The place of a train in the order of these keys; ties go by the teeth themselves."""
    return (
        *(figures[name] for name in keys),
        train.rings,
        train.seats,
        tuple(KIND_NAMES.index(link.kind) for link in train.links),
        tuple(link.wheel for link in train.links),
        tuple(link.pinion for link in train.links),
        tuple(z for link in train.links for z in link.thirds),
    )


def full_order(keys: tuple[str, ...]) -> tuple[str, ...]:
    return keys + tuple(key for key in ("error", "jigs", "envelope") if key not in keys)


def identity(train: Train) -> tuple:
    """What makes two solutions the same: all but third gears."""
    return train.rings, train.seats, tuple((link.kind, link.wheel, link.pinion) for link in train.links)


def ranked(design: Design, trains: list[tuple[dict, Train]] | None = None) -> list[tuple[tuple, Train]]:
    """All different trains of a design in rank order, each with its sort key."""
    best: dict[tuple, tuple[tuple, Train]] = {}
    for figures, train in all_trains(design) if trains is None else trains:
        key = key_of(figures, train, full_order(design.rank))
        known = best.get(identity(train))
        if known is None or key < known[0]:
            best[identity(train)] = (key, train)
    return sorted(best.values(), key=lambda item: item[0])


def front(design: Design, trains: list[tuple[dict, Train]]) -> list[tuple[tuple, Train, int]]:
    """The Pareto front over the design's front keys: (values, first train, how many different trains have them)."""
    keys = design.front
    first = "error" if "error" in keys else keys[0]
    keys = (first, *(key for key in keys if key != first))
    order = full_order((*keys, *(key for key in full_order(design.rank) if key not in keys)))
    groups: dict[tuple, list[tuple[dict, Train]]] = {}
    for figures, train in trains:
        groups.setdefault(tuple(figures[key] for key in keys), []).append((figures, train))
    best = [
        values
        for values in groups
        if not any(other != values and all(a <= b for a, b in zip(other, values)) for other in groups)
    ]
    return [
        (
            values,
            min(groups[values], key=lambda item: key_of(*item, order))[1],
            len({identity(train) for _, train in groups[values]}),
        )
        for values in sorted(best)
    ]


def _add_trains(design, rings, places, found):
    """Walk link by link; a branch is only cut where a body breaks a bound that no later link can mend."""
    per_link = [link_choices(design, a, b) for a, b in zip(rings, rings[1:])]
    riders = {place: index for index, place in enumerate(places)}
    limits = design.limits
    slowest = float(1 + limits.max_error) ** 2 * 1.000001

    def walk(index, links, radii, ratios, reverse, thirds):
        if index == len(per_link):
            finish(links, radii, ratios)
            return
        for link, radius in per_link[index]:
            used = thirds + len(link.thirds)
            if used > design.arbors.third_gears:
                continue
            ratio = ratios[-1] * Fraction(link.wheel * rings[index + 1], rings[index] * link.pinion)
            turned = reverse ^ (len(link.thirds) % 2 == 1)
            body = riders.get(index + 1)
            if body is not None:
                wanted = design.bodies[body]
                if wanted.sense != "either" and (wanted.sense == "reverse") != turned:
                    continue
                first = design.bodies[0]
                if not float(wanted.low / first.high) / slowest <= ratio <= float(wanted.high / first.low) * slowest:
                    continue
            walk(index + 1, [*links, link], [*radii, radius], [*ratios, ratio], turned, used)

    def finish(links, radii, ratios):
        square = worst_square(design, [ratios[place] for place in places])
        if square is None:
            return
        gears = [z for link in links for z in (link.wheel, link.pinion, *link.thirds)]
        parts = len(rings) + sum({0: 3, 1: 5, 2: 7}[len(link.thirds)] for link in links)
        reach = max(rings) if design.arbors.reverted else 0
        for i, (link, radius) in enumerate(zip(links, radii)):
            if design.arbors.reverted:
                on_wheel, on_pinion = SIDES[link.kind]
                reach = max(reach, radius + link.wheel, radius + link.pinion)
                reach = max(reach, rings[i] + 2 * link.thirds[0]) if on_wheel else reach
                reach = max(reach, rings[i + 1] + 2 * link.thirds[-1]) if on_pinion else reach
        figures = {
            "error": square,
            "parts": parts,
            "jigs": len(set(rings)) + len(set(gears)),
            "teeth": sum(rings) + sum(gears),
            "largest": max(gears),
            "envelope": reach,
        }
        for key in ("parts", "jigs", "teeth", "largest"):
            most = getattr(limits, f"max_{key}")
            if most is not None and figures[key] > most:
                return
        if limits.max_envelope is not None:
            pitch = float(design.rings.pitch.value) * (math.pi if design.rings.pitch.is_module else 1)
            if reach * pitch / (2 * math.pi) + float(design.rings.addendum) > float(limits.max_envelope):
                return
        found.append((figures, Train(tuple(rings), places, tuple(links))))

    walk(0, [], [], [Fraction(1)], False, 0)
