"""Enumeration where the order of links between two bodies tells no solutions apart: what `brute.py` and
`brute_places.py` list, seen by classes."""

from __future__ import annotations

from dataclasses import replace
from itertools import permutations, product

from brute import full_order, identity, key_of, link_choices, ranked
from brute_places import ranked_with_places

from solver.design.design import Design
from solver.design.train import Link, Train


def gears(train: Train) -> tuple:
    """What makes two solutions the same: rings, seats, and between each two bodies the links, in whichever order."""
    rings, seats, links = identity(train)
    return rings, seats, tuple(tuple(sorted(links[a:b])) for a, b in zip(seats, seats[1:]))


def first_of_classes(listed, train_of):
    """Of a list in order the first of each class, and how many orders of each are in it."""
    firsts, counts = {}, {}
    for entry in listed:
        same = gears(train_of(entry))
        firsts.setdefault(same, entry)
        counts[same] = counts.get(same, 0) + 1
    return list(firsts.values()), counts


def ranked_classes(design: Design, trains):
    """All classes in rank order, as (key, train), and how many orders of each there are."""
    return first_of_classes(ranked(design, trains), lambda entry: entry[1])


def front_of_classes(design: Design, trains):
    """The Pareto front as of `brute.front`, where classes are counted."""
    keys = design.front
    first = "error" if "error" in keys else keys[0]
    keys = (first, *(key for key in keys if key != first))
    order = full_order((*keys, *(key for key in full_order(design.rank) if key not in keys)))
    groups: dict[tuple, list] = {}
    for figures, train in trains:
        groups.setdefault(tuple(figures[key] for key in keys), []).append((figures, train))
    return [
        (values, min(some, key=lambda item: key_of(*item, order))[1], len({gears(train) for _, train in some}))
        for values, some in sorted(groups.items())
        if not any(other != values and all(a <= b for a, b in zip(other, values)) for other in groups)
    ]


def placed_classes(design: Design):
    """The first classes that have a place, as of `ranked_with_places`, as many as the design asks for; and how many
    orders of each have one, where all were looked at."""
    every, _ = ranked_with_places(replace(design, distinct="order"), 10**6)
    firsts, counts = first_of_classes(every, lambda entry: entry[1])
    return firsts[: design.keep], counts


def orders(design: Design, train: Train) -> int:
    """In how many orders the links of a train can stand by the rules of single links, by trying all of them."""
    found = set()
    stretches = [train.links[a:b] for a, b in zip(train.seats, train.seats[1:])]
    for chosen in product(*(set(permutations([(x.kind, x.wheel, x.pinion) for x in some])) for some in stretches)):
        links = [one for some in chosen for one in some]
        for index, link in enumerate(links):
            allowed = {
                (one.kind, one.wheel, one.pinion): one
                for one, _ in link_choices(design, *train.rings[index : index + 2])
            }
            if link not in allowed:
                break
        else:
            found.add(tuple(links))
    return len(found)


__all__ = ["Link", "front_of_classes", "gears", "orders", "placed_classes", "ranked_classes"]
