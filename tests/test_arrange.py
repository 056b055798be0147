"""Of a train's places those that its maker prefers, against every way to place it."""

from __future__ import annotations

import random
import re
from collections import Counter
from dataclasses import replace

from brute_arrange import motor_of, preferred
from brute_places import TooMany, TooNear
from random_designs import BACKWARDS, random_placed_design

from solver import Design, DesignError, parse_design, solve


def drawn(seed: int, arrange: str) -> str:
    """A design with places, more directions than two links need, and often rollers."""
    rng = random.Random(f"arranged {seed}")
    text = random_placed_design(seed)
    if seed % 8 == 7:
        text = BACKWARDS.format(
            period=round(rng.uniform(1.3, 2.5), 3), inner=rng.randint(14, 24), step=rng.randint(3, 6), addendum=1,
            clearance=0.5, directions=3, plate=rng.choice(("none", "inner")), rank='["error"]', cap="",
            pinion=4, more=6, seconds=20,
        )  # fmt: skip
    links = text.count("name =") + int((re.search(r"blanks = (\d)", text) or "00")[1]) - 1
    many = rng.choice({1: (3, 8, 24), 2: (3, 6, 8)}.get(links, (3, 5, 6)))
    degrees = sorted(rng.sample(range(0, 360, rng.choice((1, 5, 15))), many))
    text = re.sub(r"directions = .*", f"directions = {rng.choice((many, many, degrees))}", text)
    text = text.replace('arrange = "first"', f'arrange = "{arrange}"')
    if rng.random() < 0.4:
        text = re.sub(r'(plate|stands) = ".*"', r'\1 = "none"', text)
        rollers = f"rollers = {{count = 3, radius = {rng.choice((1, 2))}, reach = {rng.choice((40, 60, 90))}}}"
        text = text.replace("[fit]\n", f"[fit]\n{rollers}\n")
    return text


def compare(design: Design) -> Counter:
    """Compare the places of the first solutions with the enumeration's; what kinds of cases they were."""
    answer, seen = solve(design), Counter()
    for solution, train in list(zip(answer.solutions, answer.trains(design), strict=True))[:3]:
        assert train.placement is not None
        motor, stood = motor_of(design, train), train.placement
        try:
            way, values = preferred(design, train, [place.radius for place in stood.links], motor)
        except (TooNear, TooMany):
            seen["given up"] += 1
            continue
        assert way is not None
        every = [*stood.links, *([stood.drive.at] if stood.drive else [])]
        found = [(one.direction, [one.arbor, *one.thirds]) for one in every]
        wanted = [(one, [(round(1000 * x), round(1000 * y)) for x, y in (arbor, *rest)]) for one, (arbor, rest) in way]
        assert found == wanted and solution.arranged == "proven", (design.canonical_text(), found, wanted)
        first = solve(replace(design, fit=replace(design.fit, arrange="first")))
        same = replace(solution, arranged=None) if False else first.solutions[solution.rank - 1].links
        seen += Counter(
            compared=1, choice=values > 1, moved=same != solution.links, thirds=any(one.thirds for one in train.links),
            plate=design.fit.plate != "none", frame=design.fit.frame is not None, drive=motor is not None,
            rollers=design.fit.rollers is not None, links=len(train.links) > 2,
        )  # fmt: skip
    return seen


def compared(arrange: str, seeds: range) -> Counter:
    seen: Counter = Counter()
    for seed in seeds:
        try:
            design = parse_design(drawn(seed, arrange))
        except DesignError:
            continue
        some = compare(replace(design, keep=min(design.keep, 3)))
        seen += some + Counter(designs=some["compared"] > 0)
    return seen
