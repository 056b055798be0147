"""Of a train's places those that its maker prefers, against every way to place it."""

from __future__ import annotations

import random
import re
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

import pytest
from brute_arrange import angles_between, motor_of, preferred
from brute_places import TooMany, TooNear
from random_designs import BACKWARDS, random_placed_design
from shipped import shipped
from wide import as_many

from solver import Design, DesignError, parse_design, solve
from solver.answer.solve import Solving
from solver.cli.summary import summary
from solver.search.place import arranging
from solver.search.stop import FirstOf, NoStop, Termination, WorkLimit


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
        if solution.arranged == "open":
            seen["open"] += 1
            continue
        every = [*stood.links, *([stood.drive.at] if stood.drive else [])]
        found = [(one.direction, [one.arbor, *one.thirds]) for one in every]
        wanted = [(one, [(round(1000 * x), round(1000 * y)) for x, y in (arbor, *rest)]) for one, (arbor, rest) in way]
        assert found == wanted, (design.canonical_text(), found, wanted)
        first = solve(replace(design, fit=replace(design.fit, arrange="first")))
        same = first.solutions[solution.rank - 1].links
        seen += Counter(
            compared=1, choice=values > 1, moved=same != solution.links, thirds=any(one.thirds for one in train.links),
            plate=design.fit.plate != "none", frame=design.fit.frame is not None, drive=motor is not None,
            rollers=design.fit.rollers is not None, links=len(train.links) > 2,
        )  # fmt: skip
    return seen


def compared(arrange: str, seeds: range, text: Callable[[int, str], str] = drawn) -> Counter:
    seen: Counter = Counter()
    for seed in seeds:
        try:
            design = parse_design(text(seed, arrange))
        except DesignError:
            continue
        some = compare(replace(design, keep=min(design.keep, 3)))
        seen += some + Counter(designs=some["compared"] > 0, rows=some["compared"] > 1)
    return seen


def turned(seed: int, arrange: str) -> str:
    """A design with a drive and rollers, whose solutions have different gears."""
    rng = random.Random(f"turned {seed}")
    text = random_placed_design(seed)
    if "[drive]" not in text:
        pinions = sorted(rng.sample(range(4, 12), 3))
        text += f'[drive]\nmotor_rpm = [2, 5]\npinion_teeth = {pinions}\nring = "{rng.choice(("any", "outer"))}"\n'
    text = re.sub(r"keep = \d", "keep = 4", text).replace('distinct = "order"', 'distinct = "gears"')
    text = re.sub(r"max_envelope = .*", "", text)
    text = re.sub(r'(plate|stands) = ".*"', r'\1 = "none"', text).replace('arrange = "first"', f'arrange = "{arrange}"')
    links = text.count("name =") + int((re.search(r"blanks = (\d)", text) or "00")[1]) - 1
    many = rng.choice({1: (3, 8, 24), 2: (3, 5, 8)}.get(links, (3, 4, 5)))
    degrees = sorted(rng.sample(range(0, 360, rng.choice((1, 5, 15))), many))
    text = re.sub(r"directions = .*", f"directions = {rng.choice((many, degrees))}", text)
    rollers = f"rollers = {{count = 3, radius = {rng.choice((1, 2))}, reach = {rng.choice((40, 60, 90))}}}"
    return text.replace("[fit]\n", f"[fit]\n{rollers}\n")


@pytest.mark.deep
@pytest.mark.parametrize("arrange", ["spread", "balanced"])
def test_rows_with_rollers_and_a_drive_equal_enumeration(arrange):
    seen = compared(arrange, range(10, 20), turned)
    assert seen["rows"] >= 4 and seen["moved"] >= 6, seen


@pytest.mark.deep
@pytest.mark.parametrize("arrange", ["spread", "balanced"])
@pytest.mark.parametrize("first", range(20, as_many(60, 220), 40))
def test_more_rows_with_rollers_and_a_drive_equal_enumeration(arrange, first):
    seen = compared(arrange, range(first, first + 40), turned)
    assert seen["rows"] >= 12 and seen["moved"] >= 20, seen


@pytest.mark.deep
@pytest.mark.parametrize("arrange", ["spread", "balanced"])
def test_the_places_that_are_shown_equal_enumeration(arrange):
    seen = compared(arrange, range(20))
    assert seen["designs"] >= 9 and seen["choice"] >= 10 and seen["moved"] >= 5, seen


@pytest.mark.deep
@pytest.mark.parametrize("arrange", ["spread", "balanced"])
@pytest.mark.parametrize("first", range(20, as_many(48, 188), 28))
def test_the_places_that_are_shown_of_more_designs_equal_enumeration(arrange, first):
    seen = compared(arrange, range(first, first + 28))
    assert seen["designs"] >= 12 and min(seen[what] for what in ("thirds", "plate", "frame", "drive", "rollers")), seen


@pytest.mark.deep
@pytest.mark.parametrize("first", range(0, as_many(28, 112), 28))
def test_on_a_table_the_balance_is_about_the_axis(first, monkeypatch):
    monkeypatch.setattr(Design, "hung", property(lambda self: False))
    seen = compared("balanced", range(first, first + 28))
    assert seen["designs"] >= 14 and seen["moved"] >= 10, seen


# -- one design, looked at ---------------------------------------------------------------------------------------------


def four_moons(fit: str) -> Design:
    return parse_design(
        '[bodies]\nset = "jupiter"\n[rings]\ninner_teeth = 24\ntooth_step = 5\n[search]\nkeep = 3\n'
        f"[fit]\ndirections = 12\n{fit}"
    )


def stood(design: Design) -> list[list[Fraction]]:
    return [[at.direction for at in train.placement.links] for train in solve(design).trains(design)]


def test_three_arbors_stand_in_thirds_of_the_circle_unless_told():
    assert stood(four_moons("")) == stood(four_moons('arrange = "spread"')) == [[0, 120, 240]] * 3
    for one in stood(four_moons('arrange = "first"')):
        assert one[0] == 0 and min(angles_between([(at, None) for at in one], 3)) < 120


def test_in_balance_all_hang_as_low_as_they_can():
    for one in stood(four_moons('arrange = "balanced"')):
        assert all(240 <= at <= 300 for at in one)


def test_what_is_not_settled_in_time_is_said(monkeypatch):
    """Without steps the places that were found first are shown, and the summary says that others may be preferred."""
    design = four_moons("rollers = {radius = 3}")
    monkeypatch.setattr(arranging, "MOST_STEPS", 3)
    monkeypatch.setattr(arranging, "FEWER_STEPS", 3)
    answer = solve(design)
    assert {one.arranged for one in answer.solutions} == {"open"}
    assert summary(design, answer).endswith(
        "solutions in order; whether fit.arrange prefers other places is open for 3 of them"
    )
    first = solve(replace(design, fit=replace(design.fit, arrange="first")))
    assert [one.links for one in answer.solutions] == [one.links for one in first.solutions]


def test_a_search_that_is_interrupted_shows_the_places_it_found():
    design = four_moons("")
    search, asked = Solving(design), WorkLimit(0)
    assert search.so_far(Termination.INTERRUPT).solutions == []
    answer = solve(design, asked)
    assert all(one.arranged == "open" for one in answer.solutions)


@pytest.mark.parametrize("asked", [0, 1, 4, 12, 30, 80, 200])
@pytest.mark.parametrize("arrange", ["spread", "balanced"])
def test_a_stop_while_places_are_arranged_leaves_an_answer(arrange, asked, monkeypatch):
    """What is arranged by then is shown so, the rest where it was found; all is judged, and as good as without."""
    design = four_moons(f'rollers = {{radius = 3}}\narrange = "{arrange}"')
    stop, begun = WorkLimit(asked), []
    arranged = arranging.Arranger.arranged

    def noted(*given):
        begun.append(True)
        return arranged(*given)

    monkeypatch.setattr(arranging.Arranger, "arranged", noted)
    answer = solve(design, FirstOf(NoStop(), lambda: stop() if begun else None))
    told = [one.arranged for one in answer.solutions]
    first = solve(replace(design, fit=replace(design.fit, arrange="first")))
    assert len(told) == 3 and told == sorted(told, reverse=True) and (asked or told[0] == "open")
    for one, other in zip(answer.solutions, first.solutions, strict=True):
        assert one.worst_error_pct == other.worst_error_pct
        assert one.arranged == "proven" or one.links == other.links


def test_a_list_with_a_row_left_open_is_not_waited_for(monkeypatch):
    design, given = four_moons("rollers = {radius = 3}"), []
    arranged = arranging.Arranger.arranged

    def spent(self, train, steps):
        given.append(steps)
        return arranged(self, train, 3 if len(given) == 2 else steps)

    monkeypatch.setattr(arranging.Arranger, "arranged", spent)
    answer = solve(design)
    assert [one.arranged for one in answer.solutions] == ["proven", "open", "proven"]
    assert given == [arranging.MOST_STEPS, arranging.MOST_STEPS, arranging.FEWER_STEPS]


def test_the_demo_is_spread_all_around():
    """Every angle is 30 or 45 degrees: of nine arbors in directions of 15 degrees no least angle is larger, and the sum
    of three of 30 and six of 45 is a full turn, so that no more of them can be."""
    design, answer = shipped("saturn-hall")
    for solution, train in zip(answer.solutions, answer.trains(design), strict=True):
        stands = [(at.direction, None) for at in train.placement.links]
        assert solution.arranged == "proven" and angles_between(stands, 9) == [30] * 3 + [45] * 6
        assert all(len(ring.rollers) >= 3 for ring in solution.rings) and solution.drive is not None
