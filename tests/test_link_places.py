"""Single links in a direction or a part of the circle, and sectors that are kept free: the rule `place`."""

from __future__ import annotations

import random
import re
from collections import Counter
from dataclasses import replace

from brute_arrange import WithWishes
from brute_places import TooMany, TooNear, ranked_with_places
from enumerated import placed as told
from enumerated import plain, teeth
from random_designs import random_placed_design

from solver import Design, DesignError, judge, parse_design
from solver.search.order.search import search


def wishing(seed: int) -> str:
    """A design of which some links may not stand everywhere."""
    rng, text = random.Random(f"wished {seed}"), random_placed_design(seed)
    links = text.count('name = "body') + int(text.split("blanks = ")[1][0]) - 1
    if links < 4:
        text = re.sub(r"directions = \d+\n", f"directions = {rng.choice((4, 6, 8))}\n", text)
    design = parse_design(text)
    directions = [float(one) for one in design.fit.directions]
    lines = []
    if rng.random() < 0.7:
        begin = rng.randrange(360)
        some = [[begin, (begin + rng.choice((0, 20, 40, 90))) % 361]]
        if rng.random() < 0.2:
            some.append(
                [round(rng.choice(directions), 6), round(rng.choice(directions) + rng.choice((0, 40)), 6) % 361]
            )
        lines.append(f"keep_free = {[one for one in some if one != [0, 360]]}")
    more = []
    for link in rng.sample(range(links), rng.randint(0 if lines else 1, min(links, 2))):
        more += ["[[fit.link]]", f"link = {link}"]
        if rng.random() < 0.3:
            more.append(f'direction = "{rng.choice(design.fit.directions)}"')
        else:
            begin = rng.randrange(360)
            more.append(f"span = [{begin}, {(begin + rng.choice((120, 200, 300))) % 360}]")
    text = text.replace("[fit]\n", "[fit]\n" + "".join(line + "\n" for line in lines))
    return text + "\n".join(more) + "\n"


def outcome(found) -> list:
    """What a search found, as `enumerated.placed` has it."""
    listed = []
    for one in found:
        stood, drive = one.train.placement, one.train.placement.drive
        every = [*stood.links, *([drive.at] if drive else [])]
        listed.append(
            (
                one.key, teeth(one.train), tuple(place.radius for place in stood.links),
                [(place.direction, place.arbor, place.thirds) for place in every],
                drive and (drive.ring, drive.rpm, drive.pinion, (*drive.thirds, None)[0]),
            )
        )  # fmt: skip
    return listed


def compare(design: Design) -> Counter:
    """Compare the search under wishes with the enumeration; what kind of case it was."""
    try:
        with WithWishes():
            best, _ = ranked_with_places(design, design.keep)
    except (TooNear, TooMany):
        return Counter(given_up=1)
    result = search(design)
    wanted = [told(*entry) for entry in best]
    assert result.complete and plain(outcome(result.found)) == plain(wanted), design.canonical_text()
    for one in result.found:
        assert judge(design, one.train).sound
    free = replace(design, fit=replace(design.fit, link_places=(), keep_free=()))
    return Counter(
        compared=1, found=bool(best), changed=outcome(search(free).found) != outcome(result.found),
        thirds=any(link.thirds for _, train, *_ in best for link in train.links), drive=design.drive is not None,
        spans=bool(design.fit.link_places), sectors=bool(design.fit.keep_free), plate=design.fit.plate != "none",
    )  # fmt: skip


def compared(seeds: range) -> Counter:
    seen: Counter = Counter()
    for seed in seeds:
        try:
            design = parse_design(wishing(seed))
        except DesignError as fault:
            assert "holds none of" in str(fault), str(fault)
            seen["refused"] += 1
            continue
        seen += compare(design)
    return seen
