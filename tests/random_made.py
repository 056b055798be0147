"""Random designs that say what exists already, the same for the same seed: TOML text, from `random_designs`."""

from __future__ import annotations

import random
import re
from dataclasses import replace
from itertools import pairwise, product
from math import comb, prod

import brute
from random_classes import random_class_design, random_placed_class_design
from random_designs import random_design

from solver import Design, DesignError, parse_design
from solver.design.train import Train
from solver.search.order.search import search

SORTS = ("jigs", "gears", "links", "rings")
MOST_WALKS = 40_000  # about, through all links of a design that is enumerated


def random_made_design(sort: str, seed: int) -> str | None:
    """A design with a table [made]: of jigs, gears in the drawer, links that stay, or rings that do; None where the
    dice hold nothing."""
    rng = random.Random(f"made {sort} {seed}")
    text, trains = _with_trains(rng)
    design = parse_design(text)
    if sort in ("jigs", "gears"):
        return _with_counts(rng, sort, text, design)
    _, train = rng.choice(trains)
    lines = held_lines(rng, sort, design, train)
    return _asking(rng, text, ("jigs", "new_gears")) + "\n".join(lines) + "\n" if lines else None


def random_made_class_design(sort: str, seed: int) -> str:
    """Likewise of a design with blank rings, where the links between two bodies can stand in more than one order: most
    with so many that two of them are open beside one that stays."""
    rng = random.Random(f"made classes {sort} {seed}")
    while True:
        text = re.sub(r"(?m)^max_jigs.*\n", "", random_class_design(rng.randrange(10**6)))
        design = _with_blanks(rng, text)
        if design is None or _walks(design) > MOST_WALKS:
            continue
        if sort in ("jigs", "gears"):
            return _with_counts(rng, sort, text, design)
        trains = [train for _, train in brute.all_trains(design)]
        lines = held_lines(rng, sort, design, rng.choice(trains), 0.3) if len(trains) > 1 else []
        if lines:
            return _asking(rng, text, ("jigs", "new_gears")) + "\n".join(lines) + "\n"


def random_made_placed_design(seed: int) -> str:
    """Likewise with places, of a train that has some."""
    rng = random.Random(f"made placed classes {seed}")
    while True:
        text = random_placed_class_design(rng.randrange(10**6))
        design = _with_blanks(rng, text)
        if design is None or _walks(design) > MOST_WALKS:
            continue
        found = search(replace(design, distinct="order", keep=12)).found
        sort = rng.choice(("links", "links", "rings"))
        lines = held_lines(rng, sort, design, rng.choice(found).train, 0.3) if found else []
        if lines:
            for number in range(max(design.rings.blanks) + len(design.bodies) - 1):
                if rng.random() < 0.2:
                    begin = rng.randrange(360)
                    lines += ["[[fit.link]]", f"link = {number}", f"span = [{begin}, {(begin + 200) % 360}]"]
            return text + "\n".join(lines) + "\n"


def _with_blanks(rng: random.Random, text: str) -> Design | None:
    """A design whose bodies can have two blank rings between two of them, or now and then any; None: it is neither."""
    try:
        design = parse_design(text)
    except DesignError:
        return None
    return design if rng.random() < 0.15 or (len(design.bodies) == 2 and max(design.rings.blanks) > 1) else None


def _walks(design: Design) -> int:
    """About how many ways through all links an enumeration of them takes."""
    total, bodies = 0, len(design.bodies)
    for blanks in design.rings.blanks:
        rings = design.rings
        steps = product(rings.inner_teeth, rings.tooth_step)
        equal = (tuple(inner + step * at for at in range(bodies + blanks)) for inner, step in steps)
        for choice in product(*rings.teeth) if rings.teeth else equal:
            links = (len(brute.link_choices(design, *pair)) for pair in pairwise(choice))
            total += prod(links) * comb(bodies + blanks - 2, blanks)
    return total


def held_lines(rng: random.Random, sort: str, design: Design, train: Train, share: float = 0.5) -> list[str]:
    """Links or rings of a train, and now and then both, as they stand in [made]; one in twenty is not of the train."""
    lines = list[str]()
    if sort == "links":
        for number, link in enumerate(train.links):
            if rng.random() < share:
                wheel = link.wheel if rng.random() < 0.95 else rng.choice(design.arbors.wheel_teeth)
                lines += ["[[made.links]]", f"link = {number}", f"wheel = {wheel}", f"pinion = {link.pinion}"]
                lines.append(f'kind = "{link.kind}"')
                if link.thirds and rng.random() < 0.7:
                    lines.append(f"thirds = {list(link.thirds)}")
    if sort == "rings" or rng.random() < 0.3:
        for number, teeth in enumerate(train.rings):
            if rng.random() < 0.5:
                lines += ["[[made.rings]]", f"ring = {number}"]
                rider = train.seats.index(number) if number in train.seats else None
                if rng.random() < 0.6:
                    lines.append("blank = true" if rider is None else f'body = "body {rider}"')
                    if rng.random() < 0.5:
                        lines.append(f"teeth = {teeth}")
                else:
                    lines.append(f"teeth = {teeth}")
    return lines


def _with_trains(rng: random.Random) -> tuple[str, list[tuple[dict, Train]]]:
    """A random design without a limit to its jigs, and its trains, of which there are some."""
    while True:
        text = random_design(rng.randrange(10**6), wild=rng.random() < 0.5)
        text = re.sub(r"(?m)^max_jigs.*\n", "", text)
        try:
            if trains := brute.all_trains(parse_design(text)):
                return text, trains
        except DesignError:
            continue


def _with_counts(rng: random.Random, sort: str, text: str, design: Design) -> str:
    counts = sorted({*design.arbors.wheel_teeth, *design.arbors.pinion_teeth, *design.arbors.third_teeth})
    rings = sorted(design.ring_counts) or [30]

    def some(among: list[int], most: int) -> list[int]:
        return sorted(rng.sample(among, rng.randint(0, min(most, len(among)))))

    lines = ["[made]"]
    if sort == "jigs":
        lines += [f"ring_jigs = {some(rings, 3)}", f"gear_jigs = {some(counts, 5)}"]
        lines += [f"rings = [{', '.join(f'{{teeth = {z}}}' for z in some(rings, 2))}]"]
    if sort == "gears" or rng.random() < 0.3:
        gears = ", ".join(f"{{teeth = {z}, count = {rng.choice((1, 1, 2, 3))}}}" for z in some(counts, 5))
        lines.append(f"gears = [{gears}]")
    text = _asking(rng, text, ("jigs",) if sort == "jigs" else ("new_gears",))
    return text + "\n".join(lines) + "\n"


def _asking(rng: random.Random, text: str, keys: tuple[str, ...]) -> str:
    """The design that ranks by one of these keys, or has it on its front or under a cap."""
    key = rng.choice(keys)
    way = rng.choice(("rank", "rank", "front", "cap", "cap"))
    text = re.sub(r"(?m)^front.*\n", "", text)
    if way == "rank":
        ranked = re.search(r"(?m)^rank = \[(.*)\]", text)
        assert ranked is not None
        others = [one for one in ranked.group(1).replace('"', "").split(", ") if one != key]
        others.insert(rng.randint(0, len(others)), key)
        told = ", ".join(f'"{one}"' for one in others)
        text = text.replace(ranked.group(0), f"rank = [{told}]")
    elif way == "front":
        other = rng.choice(("error", "error", "parts", "teeth"))
        text += f'front = ["{other}", "{key}"]\n'
    elif way == "cap":
        text += f"max_{key} = {rng.choice((1, 2, 3, 4, 5) if key == 'new_gears' else (2, 4, 6))}\n"
    return text
