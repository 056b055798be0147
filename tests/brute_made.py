"""Enumeration of designs that say what exists already: all trains without that, counted and sifted afterwards."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import brute

from solver.design.design import Design
from solver.design.train import Train


def all_trains(design: Design) -> list[tuple[dict, Train]]:
    """Every legal train, with its figures, `new_gears` among them."""
    limits = replace(design.limits, max_jigs=None, max_new_gears=None)
    bare = replace(design, made=None, limits=limits)
    found = []
    for figures, train in brute.all_trains(bare):
        if not stays(design, train):
            continue
        gears = [z for link in train.links for z in (link.wheel, link.pinion, *link.thirds)]
        figures = figures | {
            "jigs": len([z for z in set(train.rings) if z not in ring_jigs(design)])
            + len([z for z in set(gears) if z not in gear_jigs(design)]),
            "new_gears": (Counter(gears) - Counter(drawer(design))).total(),
        }
        if design.limits.max_jigs is not None and figures["jigs"] > design.limits.max_jigs:
            continue
        most = design.limits.max_new_gears
        if most is not None and figures["new_gears"] > most:
            continue
        found.append((figures, train))
    return found


def drawer(design: Design) -> list[int]:
    """The gears that there are."""
    if design.made is None:
        return []
    there = [teeth for teeth, many in design.made.gears for _ in range(many)]
    for link in design.made.links:
        there += [link.wheel, link.pinion, *(link.thirds or ())]
    return there


def ring_jigs(design: Design) -> list[int | None]:
    made = design.made
    return [] if made is None else [*made.ring_jigs, *made.rings, *(one.teeth for one in made.held)]


def gear_jigs(design: Design) -> list[int]:
    return [] if design.made is None else [*design.made.gear_jigs, *drawer(design)]


def stays(design: Design, train: Train) -> bool:
    """Whether what is built is where it was."""
    if design.made is None:
        return True
    for one in design.made.held:
        if one.ring >= len(train.rings) or (one.teeth is not None and train.rings[one.ring] != one.teeth):
            return False
        if one.body is not None and train.seats[one.body] != one.ring:
            return False
        if one.blank and one.ring in train.seats:
            return False
    for fixed in design.made.links:
        if fixed.link >= len(train.links):
            return False
        link = train.links[fixed.link]
        if (link.kind, link.wheel, link.pinion) != (fixed.kind, fixed.wheel, fixed.pinion):
            return False
        if fixed.thirds is not None and fixed.thirds != link.thirds:
            return False
    return True
