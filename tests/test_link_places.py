"""Single links in a direction or a part of the circle, and sectors that are kept free: the rule `place`."""

from __future__ import annotations

import random
import re
from collections import Counter
from dataclasses import replace
from fractions import Fraction

import pytest
from brute_arrange import WithWishes, wished
from brute_places import TooMany, TooNear, ranked_with_places
from enumerated import placed as told
from enumerated import plain, teeth
from random_designs import random_placed_design
from wide import as_many

from solver import Design, DesignError, judge, parse_design, solve
from solver.answer.document import ProofOutcome, Status
from solver.answer.prove import prove
from solver.design.wishes import LinkSpan, Sector
from solver.files.load import design_from_data
from solver.files.text import data_of
from solver.search.order.search import search
from solver.search.stop import NoStop
from solver.search.why.explain import explain
from solver.search.why.knobs import knobs_of

JUDGED = (0, 3, 4, 7, 8, 11, 12, 15, 16, 20, 24, 28)  # random designs whose trains are judged by other wishes


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


@pytest.mark.deep
def test_where_links_may_stand_equals_enumeration():
    seen = compared(range(13))
    assert seen["compared"] >= 9 and seen["found"] >= 4 and seen["changed"] >= 2, seen


@pytest.mark.deep
@pytest.mark.parametrize("first", range(12, as_many(38, 168), 26))
def test_where_links_of_more_designs_may_stand_equals_enumeration(first):
    seen = compared(range(first, first + 26))
    assert seen["compared"] >= 16 and seen["found"] >= 4, seen


# -- one design, looked at ---------------------------------------------------------------------------------------------


def moons(fit: str = "", more: str = "") -> str:
    return f"""
[bodies]
set = "saturn"
only = ["Mimas", "Tethys", "Titan"]
[rings]
inner_teeth = 30
tooth_step = 5
blanks = 2
[fit]
frame = {{shape = "square", side = 260}}
{fit}
[search]
keep = 2
{more}
"""


def directions(text: str) -> list[list[Fraction]]:
    design = parse_design(text)
    return [[at.direction for at in train.placement.links] for train in solve(design).trains(design)]


def test_a_link_stands_where_it_is_told_and_nothing_in_what_is_kept_free():
    for arrange in ("first", "spread", "balanced"):
        fit = f'arrange = "{arrange}"\nkeep_free = [[350, 100], [200, 210]]\n'
        found = directions(moons(f"{fit}link = [{{link = 1, direction = 270}}, {{link = 3, span = [300, 150]}}]"))
        assert found
        for one in found:
            assert one[1] == 270 and (one[3] - 300) % 360 <= 210
            assert not any((at - 350) % 360 <= 110 or 200 <= at <= 210 for at in one)


def test_a_table_for_each_link_says_the_same():
    one = moons('arrange = "first"\nlink = [{link = 1, direction = 270}, {link = 0, span = [90, 180]}]')
    other = moons(
        'arrange = "first"', "[[fit.link]]\nlink = 0\nspan = [90, 180]\n[[fit.link]]\nlink = 1\ndirection = 270"
    )
    assert parse_design(one) == parse_design(other) != parse_design(moons('arrange = "first"'))


def test_the_hash_tells_what_is_asked_of_places():
    """A silent file spreads its arbors; only files that ask for nothing of the kind are called as before."""
    texts = ["", 'arrange = "spread"', 'arrange = "first"', 'arrange = "balanced"', "keep_free = [[10, 20]]"]
    hashes = [parse_design(moons(fit)).sha256() for fit in texts]
    assert hashes[0] == hashes[1] and len(set(hashes)) == 4
    for key in ("arrange", "link_places", "keep_free"):
        assert (f'"{key}"' in parse_design(moons('arrange = "first"')).canonical_text()) is False


TOLD = '[bodies]\nset = "jupiter"\n[rings]\ninner_teeth = 24\ntooth_step = 5\n[fit]\n'
NOWHERE = TOLD + "keep_free = [[10, 20], [80, 100]]\nlink = [{link = 2, direction = 90}]"


def test_either_of_two_wishes_may_be_dropped():
    """A link cannot stand where nothing may."""
    data = data_of(NOWHERE, "moons")
    design = design_from_data(data, "moons")
    assert solve(design).status is Status.INFEASIBLE
    knobs = [knob for knob in knobs_of(data, design, lambda data, key: None) if knob.rule == "place"]
    told = [(knob.field, knob.now, knob.most, knob.says(1)) for knob in knobs]
    assert told == [
        ("fit.link[0].direction", "90", 1, "anywhere"),
        ("fit.keep_free[0]", "10 to 20", 1, "none"),
        ("fit.keep_free[1]", "80 to 100", 1, "none"),
    ]
    for knob, fits in zip(knobs, (True, False, True), strict=True):
        edited = data_of(NOWHERE, "moons")
        knob.edit(edited, 1)
        assert bool(solve(design_from_data(edited, "moons")).solutions) is fits, knob.field


@pytest.mark.deep
def test_what_leaves_nothing_a_place_is_explained():
    found = explain(data_of(NOWHERE, "moons"))
    fields = {"fit.keep_free[1]": "none", "fit.link[0].direction": "anywhere"}
    assert {one.field for one in found.conflict if one.rule == "place"} == set(fields)
    changes = {change.field: change.then for one in found.loosenings for change in one.changes}
    assert fields.items() <= changes.items()


# -- the judge ---------------------------------------------------------------------------------------------------------


@pytest.mark.deep
def test_the_judge_says_what_the_enumeration_says():
    """Placed trains, judged by other wishes than those they were placed by."""
    rng, seen = random.Random(5), Counter()
    for seed in JUDGED:
        design = parse_design(random_placed_design(seed))
        for one in search(replace(design, keep=2, time_limit_s=20.0)).found[:2]:
            for _ in range(12):
                begin, end = Fraction(rng.randrange(360)), Fraction(rng.randrange(361))
                sector = Sector(begin, end)
                asked = (LinkSpan(rng.randrange(len(one.train.links)), sector),) if rng.random() < 0.5 else ()
                fit = replace(design.fit, link_places=asked, keep_free=() if asked else (sector,))
                other = replace(design, fit=fit)
                stood = [(at.direction, (at.arbor, at.thirds)) for at in one.train.placement.links]
                kept = all(wished(other, link, *at) for link, at in enumerate(stood))
                broken = [fault for fault in judge(other, one.train).violations if fault.rule == "place"]
                assert bool(broken) != kept, (seed, sector, asked, broken)
                seen[kept, any(at.thirds for at in one.train.placement.links)] += 1
    assert min(seen[kept, thirds] for kept in (True, False) for thirds in (True, False)) >= 10, seen


def test_on_an_edge_is_in_it():
    design = parse_design(moons('arrange = "first"\nlink = [{link = 0, direction = 90}]'))
    (train, *_) = solve(design).trains(design)
    for begin, end, kept in ((90, 120, False), (60, 90, False), (91, 89, True), (89, 91, False), (0, 89, True)):
        fit = replace(design.fit, keep_free=(Sector(Fraction(begin), Fraction(end)),))
        faults = judge(replace(design, fit=fit), train).violations
        assert ("link 0" not in {one.where for one in faults if one.rule == "place"}) is kept, (begin, end)


def test_from_360_to_360_degrees_is_one_direction():
    """As from 0 to 0: search and judge keep that one free, or have a link there, and no other."""
    assert any(at == 0 for one in directions(moons('arrange = "first"')) for at in one)
    for zero in ("[0, 0]", "[360, 360]", "[360, 0]"):
        free = directions(moons(f'arrange = "first"\nkeep_free = [{zero}]'))
        assert free and not any(at == 0 for one in free for at in one)
        there = directions(moons(f'arrange = "first"\nlink = [{{link = 1, span = {zero}}}]'))
        assert there and all(one[1] == 0 for one in there)


@pytest.mark.deep
def test_cp_sat_agrees_on_where_links_may_stand():
    seen = Counter()
    for seed in (1, 3, 4, 7, 8, 11, 12, 15, 16, 20):
        try:
            design = parse_design(wishing(seed))
        except DesignError:
            continue
        answer = solve(design)
        assert answer.proven
        proofs = prove(design, answer.solutions, answer.front, NoStop()).proofs
        assert {one.outcome for one in proofs} == {ProofOutcome.CONFIRMED}, wishing(seed)
        seen["places"] += any(one.places for one in proofs)
        seen["all"] += 1
    assert seen["all"] >= 7, seen
