"""Each rule stated to CP-SAT: the smallest train it allows, the smallest it forbids, and its twin in the judge."""

from __future__ import annotations

import math
from fractions import Fraction

import pytest
from ortools.sat.python import cp_model

from constraints.envelope import MaxEnvelope, envelope
from constraints.error import BodyTarget, RateBound, Rates, WithinError, reaches, scale_of, slack_of
from constraints.jigs import MaxJigs, jigs
from constraints.largest import MaxLargest, largest
from constraints.link import Choice, LinkChoices
from constraints.parts import MaxParts, parts
from constraints.places import PlaceVars
from constraints.reverted import Reverted
from constraints.run import Run
from constraints.seats import InOrder
from constraints.sense import Senses
from constraints.step import EqualSteps, RingChoice
from constraints.teeth import Teeth
from constraints.third import ThirdCount, ThirdTriangle
from constraints.total import MaxTeeth, total_teeth
from constraints.train import TrainVars
from solver import Link, Train, judge, parse_design
from solver.design.links import KINDS

SHAPES = [(kind.wheel_thirds, kind.pinion_thirds) for kind in KINDS]
ANY = (-10.0, 10.0)  # what the last body's rate may be
NAMES = [kind.name for kind in KINDS]


def choices(inner: int, outer: int, link: Link, direct=None, third=None, rules=()) -> list[Choice]:
    """The choices between two rings with the gears of this link; its third gears have the teeth that are in stock."""
    stock = sorted(set(link.thirds)) or [9]
    links = LinkChoices(SHAPES, [link.wheel], [link.pinion], stock, direct, third, rules)
    return [one for one in links.between(inner, outer) if NAMES[one.kind] == link.kind]


def trains(
    *links: Link, rings, families=None, growing=True, seats=None, counts=None, bodies=None, third=3
) -> TrainVars:
    """Variables of trains with these links. rings: the teeth that each may have; third: the least of a third gear."""
    rules = LinkChoices(
        SHAPES,
        sorted({link.wheel for link in links}),
        sorted({link.pinion for link in links}),
        sorted({third, *(teeth for link in links for teeth in link.thirds)}),
        None,
        None,
    )

    def kept(number: int, choice: Choice) -> bool:
        return (NAMES[choice.kind], choice.wheel, choice.pinion) == links[number][:3]

    links = [(link.kind, link.wheel, link.pinion, link.thirds) for link in links]
    count = len(rings)
    train = TrainVars(
        rules, rings, counts or (count,), bodies or count, lambda inner, outer: (inner, outer), families,
        growing=growing, seats=seats, keep=kept,
    )  # fmt: skip
    InOrder().post(train)
    return train


def possible(train: TrainVars | PlaceVars, *rules: object) -> bool:
    """Whether CP-SAT finds something under these rules."""
    for rule in rules:
        rule.post(train)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    status = solver.solve(train.close() if isinstance(train, TrainVars) else train.model)
    assert status in (cp_model.OPTIMAL, cp_model.FEASIBLE, cp_model.INFEASIBLE)
    return status != cp_model.INFEASIBLE


def violated(rings: tuple[int, ...], links: tuple[Link, ...], **changes: object) -> set[str]:
    """Names of the rules that the judge finds broken, under a design that allows all but for the changes."""
    settings = {
        "sense": '"either"', "thirds": 9, "wheel": "{min = 3, max = 59}", "reverted": "true", "gap": 0, "search": "",
        "table": f"teeth = {[[z] for z in rings]}",
    }  # fmt: skip
    settings |= changes
    bodies = "\n".join(f'[[bodies.list]]\nname = "b{i}"\nperiod = {2 + i}' for i in range(len(rings)))
    design = parse_design(
        f"""[bodies]
sense = {settings["sense"]}
{bodies}
[rings]
{settings["table"]}
module = 2
addendum = 0
[arbors]
wheel_teeth = {settings["wheel"]}
pinion_teeth = {{min = 3, max = 59}}
third_gears = {settings["thirds"]}
third_teeth = {{min = 3, max = 59}}
reverted = {settings["reverted"]}
[fit]
clearance = {settings["gap"]}
[search]
max_error_pct = 1000
{settings["search"]}
"""
    )
    train = Train(rings, tuple(range(len(rings))), links)
    return {violation.rule for violation in judge(design, train).violations}


PLAIN = Link("plain", 13, 7)


def test_teeth():
    rule = Teeth(frozenset({13}), frozenset({7}), frozenset())
    assert choices(18, 24, PLAIN, rules=[rule])
    assert not choices(18, 24, Link("plain", 12, 7), rules=[rule])
    assert not choices(18, 24, Link("plain", 13, 6), rules=[rule])
    assert not choices(18, 24, Link("third-wheel", 13, 7, (5,)), rules=[rule])
    assert "teeth" not in violated((18, 24), (PLAIN,), wheel="13")
    assert "teeth" in violated((18, 24), (PLAIN,), wheel="12")


def test_step():
    families = [(18, 24, 30), (18, 25, 32)]
    for outer, possible_too in ((30, True), (32, False)):
        train = trains(PLAIN, PLAIN, rings=[[18], [24, 25], [30, 32]], families=families)
        train.model.add(train.rings[1] == 24)
        train.model.add(train.rings[2] == outer)
        assert possible(train, EqualSteps()) == possible_too
    constant = {"table": "inner_teeth = 18\ntooth_step = 6"}
    assert "step" not in violated((18, 24), (PLAIN,), **constant)
    assert "step" in violated((18, 25), (PLAIN,), **constant)


def test_step_with_a_choice_for_each_ring():
    for outer, growing, possible_too in ((19, True, True), (18, True, False), (18, False, True)):
        train = trains(PLAIN, rings=[[18], [18, 19]], growing=growing)
        train.model.add(train.rings[1] == outer)
        assert possible(train, RingChoice(growing)) == possible_too
    both = {"table": "teeth = [18, [18, 19]]"}
    assert "step" in violated((18, 18), (PLAIN,), **both)
    assert "step" not in violated((18, 18), (PLAIN,), reverted="false", **both)
    assert "step" in violated((18, 20), (PLAIN,), reverted="false", **both)


def test_bodies_ride_in_order():
    for seats, possible_too in (((0, 1, 3), True), ((0, 2, 3), True), ((0, 1, 2), False), ((1, 2, 3), False)):
        train = trains(*[PLAIN] * 3, rings=[[18], [24], [30], [36]], families=[(18, 24, 30, 36)], bodies=3)
        for body, ring in enumerate(seats):
            train.model.add(train.seat(body) == ring)
        assert possible(train) == possible_too


def test_rings_beyond_the_last_body_have_idle_links():
    for count, busy in ((3, 2), (4, 3)):
        train = trains(
            *[PLAIN] * 3, rings=[[18], [24], [30], [36]], families=[(18, 24, 30, 36)], bodies=3, counts=(3, 4)
        )
        train.model.add(train.seat(-1) == count - 1)
        train.model.add(sum(1 - link.idle for link in train.links) == busy)
        train.model.add(sum(link.column("wheel") for link in train.links) == 13 * busy)
        assert possible(train)


def test_reverted():
    # wheel - pinion is the step between the rings: r(18) + r(13) = r(24) + r(7)
    (choice,) = choices(18, 24, PLAIN, direct=Reverted())
    assert choice.arbor == 31
    assert not choices(18, 24, Link("plain", 14, 7), direct=Reverted())
    assert "reverted" not in violated((18, 24), (PLAIN,))
    assert "reverted" in violated((18, 24), (Link("plain", 14, 7),))


@pytest.mark.parametrize(
    ("kind", "wheel", "pinion", "third", "allowed"),
    [
        # The arbor stands at 24 + 9 = 33 teeth; the wheel of 12 would touch ring 18 at 30, so it is 3 clear of it:
        # third gears from 2 * 2 >= 3 teeth on close the triangle.
        ("third-wheel", 12, 9, (3,), True),
        # Wheel 15 would touch ring 18 at 33 teeth, where the arbor stands: it is not clear.
        ("third-wheel", 15, 9, (9,), False),
        ("third-wheel", 14, 9, (9,), True),
        # Wheel 5 is 10 teeth clear: 2 * 5 just reaches, 2 * 4 does not.
        ("third-wheel", 5, 9, (5,), True),
        ("third-wheel", 5, 9, (4,), False),
        # The mirror image: the arbor at 18 + 13 = 31, the pinion of 6 would touch ring 24 at 30.
        ("third-pinion", 13, 6, (3,), True),
        ("third-pinion", 13, 7, (3,), False),
        # Both sides: the wheel reaches 18 + 13 = 31, the pinion 24 + 7 = 31, so the arbor stands at 32 or beyond.
        ("third-both", 13, 7, (3, 3), True),
        # Wheel at 18 + 4 = 22, pinion at 24 + 13 = 37: the arbor at 38 is 16 beyond the wheel's ring.
        ("third-both", 4, 13, (8, 3), True),
        ("third-both", 4, 13, (7, 3), False),
    ],
)
def test_third_triangle(kind, wheel, pinion, third, allowed):
    link = Link(kind, wheel, pinion, third)
    found = choices(18, 24, link, Reverted(), ThirdTriangle(gap=1))
    assert (
        any(all(need <= teeth for need, teeth in zip(least_thirds(one), third, strict=True)) for one in found)
        == allowed
    )
    assert (not {"third", "reverted"} & violated((18, 24), (link,))) == allowed


def least_thirds(choice: Choice) -> list[int]:
    return [teeth for teeth in (choice.wheel_third, choice.pinion_third) if teeth]


def test_third_clearance_is_measured_between_tip_circles():
    # Module 2: a clearance of 3 mm is 3 teeth of pitch radius (1 mm each). The wheel of 12 is just that clear.
    link = Link("third-wheel", 12, 9, (6,))
    assert choices(18, 24, link, Reverted(), ThirdTriangle(gap=3))
    assert not choices(18, 24, link, Reverted(), ThirdTriangle(gap=4))
    assert "third" not in violated((18, 24), (link,), gap=3)
    assert "third" in violated((18, 24), (link,), gap=3.001)


def test_third_count():
    links = (Link("third-both", 13, 7, (3, 3)), Link("third-wheel", 12, 9, (3,)))
    assert possible(trains(*links, rings=[[18], [24], [30]]), ThirdCount(3))
    assert not possible(trains(*links, rings=[[18], [24], [30]]), ThirdCount(2))
    assert "third" not in violated((18, 24), links[:1], thirds=2)
    assert "third" in violated((18, 24), links[:1], thirds=1)


def test_the_least_third_gear_that_closes_the_triangle_is_told():
    links = LinkChoices(SHAPES, [5], [9], list(range(3, 60)), Reverted(), ThirdTriangle(gap=1))
    (choice,) = [one for one in links.between(18, 24) if NAMES[one.kind] == "third-wheel"]
    assert (choice.wheel_third, choice.pinion_third) == (5, 0)


def test_a_third_gear_may_be_larger_where_that_saves_a_jig():
    link = Link("third-wheel", 12, 9, (9,))
    for smallest, most in ((False, 4), (True, 5)):
        train = trains(link, rings=[[18], [24]], third=3)
        train.smallest = smallest
        train.model.minimize(jigs(train))
        solver = cp_model.CpSolver()
        assert solver.solve(train.close()) == cp_model.OPTIMAL and solver.objective_value == most


def test_without_places_a_third_gear_needs_no_triangle():
    link = Link("third-wheel", 50, 9, (3,))
    assert choices(18, 24, link)
    assert "third" not in violated((18, 24), (link,), reverted="false")


@pytest.mark.parametrize(
    ("kind", "thirds", "reverse"), [("plain", (), False), ("third-wheel", (5,), True), ("third-both", (5, 5), False)]
)
def test_sense(kind, thirds, reverse):
    link = Link(kind, 13, 7, thirds)
    assert possible(trains(link, rings=[[18], [24]]), Senses([None, reverse]))
    assert not possible(trains(link, rings=[[18], [24]]), Senses([None, not reverse]))
    assert ("sense" in violated((18, 24), (link,), sense='"same"')) == reverse


def test_the_rate_of_a_ring():
    # T[1]/T[0] = 13 * 24 / (18 * 7) = 52/21
    exact = round(10**8 * math.log(52 / 21))
    for above, below, most, possible_too in (
        (1, 0, exact + 1, True),
        (1, 0, exact - 2, False),
        (0, 1, 1 - exact, True),
        (0, 1, -exact - 2, False),
    ):
        train = trains(PLAIN, rings=[[18], [24]], seats=(0, 1))
        assert scale_of(train, ANY, 0.1) == 10**8
        assert possible(train, Rates(10**8, ANY), RateBound(above, below, most)) == possible_too


@pytest.mark.parametrize("families", [None, [(18, 24), (18, 30)]])
@pytest.mark.parametrize("exact", [True, False])
def test_error(families, exact):
    # Targets 2 and 3: 52/21 is 65.079 % too much where the first is exact, sqrt(104/63) - 1 where the rate is free.
    error = float(Fraction(104, 63)) if exact else math.sqrt(104 / 63)
    targets = [BodyTarget(Fraction(2), Fraction(2)), BodyTarget(Fraction(3), Fraction(3))]
    for least, possible_too in ((error, True), (error - 1e-6, False)):
        train = trains(PLAIN, rings=[[18], [24, 30]], families=families)
        train.model.add(train.rings[1] == 24)
        rules = [RingChoice(True) if families is None else EqualSteps(), Rates(10**8, ANY)]
        rules.append(WithinError(targets, exact, Fraction(least) - 1, 10**8))
        assert possible(train, *rules) == possible_too


@pytest.mark.parametrize("exact", [True, False])
def test_error_of_ranges_and_own_caps(exact):
    # 52/21 = 2.476: within 1.2 to 1.25 times 2 to 2.1 (2.4 to 2.5 of the first) it has no error at all.
    ranged = [BodyTarget(Fraction(10), Fraction(21, 2)), BodyTarget(Fraction(24), Fraction(26))]
    assert possible(
        trains(PLAIN, rings=[[18], [24]]), Rates(10**8, ANY), WithinError(ranged, exact, Fraction(0), 10**8)
    )
    capped = [BodyTarget(Fraction(2), Fraction(2)), BodyTarget(Fraction(3), Fraction(3), Fraction(1, 10))]
    assert not possible(
        trains(PLAIN, rings=[[18], [24]]), Rates(10**8, ANY), WithinError(capped, True, Fraction(1), 10**8)
    )


def test_bounds_are_rounded_outwards():
    """What rounding can put off is allowed for: many links that make up an exact ratio are within no error."""
    links = [Link("plain", 13, 7), Link("plain", 7, 13)] * 6
    rings = [[18 + i] for i in range(13)]
    train = trains(*links, rings=rings)
    targets = [
        BodyTarget(
            Fraction(18 + i) * (Fraction(13, 7) if i % 2 else 1), Fraction(18 + i) * (Fraction(13, 7) if i % 2 else 1)
        )
        for i in range(13)
    ]
    assert slack_of(12) >= 12 * 0.5 + 2
    assert possible(train, Rates(10**8, ANY), WithinError(targets, True, Fraction(0), 10**8))


def test_the_scale_keeps_enforced_sums_small():
    train = trains(*[PLAIN] * 3, rings=[[18], [24], [30], [36]], families=[(18, 24, 30, 36)], bodies=3)
    for last in (ANY, (0.5, 0.6)):
        widest = max(abs(end) for reach in reaches(train, last) for end in reach)
        assert scale_of(train, last, 0.1) * widest < 2**30


def test_what_a_ring_can_reach_is_bounded_from_both_ends():
    # Each link takes 13/7 or is idle: rings of 18, 24, 30, 36; the last body at ln 2 on ring 2 or 3.
    train = trains(*[PLAIN] * 3, rings=[[18], [24], [30], [36]], families=[(18, 24, 30, 36)], bodies=3, counts=(3, 4))
    step, two = math.log(13 / 7), math.log(2)
    found = reaches(train, (two, two))
    assert found[0] == (0, 0)
    assert found[1] == pytest.approx((step + math.log(24 / 18), step + math.log(24 / 18)))
    assert found[2][0] == pytest.approx(2 * step + math.log(30 / 18))
    assert any(len(seats) > 1 for seats in train.seats)


def test_the_judge_and_the_error():
    # The judge: targets 2 and 3, so the error is (52/21) / (3/2) - 1 = 65.079365... %
    assert "error" not in violated((18, 24), (PLAIN,), search="", reverted="true")
    design = "max_error_pct = {}"
    text = {"at": Fraction(5207936508, 80000000), "below": Fraction(6507936, 100000)}
    assert text["below"] < (Fraction(52, 21) / Fraction(3, 2) - 1) * 100 < text["at"]
    for name, limit in text.items():
        found = violated_with_limit(design.format(f'"{limit}"'))
        assert ("error" in found) == (name == "below")


def violated_with_limit(line: str) -> set[str]:
    design = parse_design(
        f"""[bodies]
list = [{{name = "a", period = 2}}, {{name = "b", period = 3}}]
[rings]
teeth = [18, 24]
[search]
{line}
"""
    )
    return {violation.rule for violation in judge(design, Train((18, 24), (0, 1), (PLAIN,))).violations}


MEASURES = [
    # 2 rings, a link with one third gear: 3 gears and 2 arbors
    ("parts", MaxParts, parts, 7),
    # rings 18, 24; gears 12, 9, 12: 2 + 2 sizes
    ("jigs", MaxJigs, jigs, 4),
    ("teeth", MaxTeeth, total_teeth, 18 + 24 + 12 + 9 + 12),
    ("largest", MaxLargest, largest, 12),
    # arbor at 24 + 9 = 33, wheel 12: 45; the third gear reaches 18 + 2 * 12 = 42
    ("envelope", MaxEnvelope, envelope, 45),
]


def placed_train(link: Link, smallest: bool) -> TrainVars:
    """Variables of that link alone between rings of 18 and 24 teeth."""
    links = LinkChoices(SHAPES, [link.wheel], [link.pinion], list(link.thirds), Reverted(), ThirdTriangle(gap=1))
    train = TrainVars(
        links, [[18], [24]], (2,), 2, lambda inner, outer: (outer - inner,), smallest=smallest,
        keep=lambda number, choice: NAMES[choice.kind] == link.kind,
    )  # fmt: skip
    InOrder().post(train)
    return train


def only(link: Link) -> Choice:
    (choice,) = choices(18, 24, link, Reverted(), ThirdTriangle(gap=1))
    return choice


def placed(link: Link, smallest: bool, rule: object) -> bool:
    return possible(placed_train(link, smallest), *([rule] if hasattr(rule, "post") else []))


@pytest.mark.parametrize(("key", "limit", "measure", "value"), MEASURES, ids=[item[0] for item in MEASURES])
def test_limits_and_what_counts(key, limit, measure, value):
    link = Link("third-wheel", 12, 9, (12,))
    for smallest in (True, False):
        for most, possible_too in ((value, True), (value - 1, False)):
            rule = limit(most)
            allowed = rule.allows if hasattr(rule, "allows") else lambda *_: True
            assert (placed(link, smallest, rule) if allowed(18, 24, only(link)) else False) == possible_too
        train = placed_train(link, smallest)
        train.model.minimize(measure(train))
        solver = cp_model.CpSolver()
        assert solver.solve(train.close()) == cp_model.OPTIMAL
        assert solver.objective_value == value
    # Module 2: a tooth of pitch radius is 1 mm, the addendum 0.
    assert f"max_{key}" not in violated((18, 24), (link,), search=f"max_{key} = {value}")
    assert f"max_{key}" in violated((18, 24), (link,), search=f"max_{key} = {value - 1}")


# -- run ---------------------------------------------------------------------------------------------------------------

WIRED = """
[bodies]
list = [{name = "a", period = 1}, {name = "b", period = 2, sense = "either"}]
[rings]
teeth = [24, 30]
addendum = 4.8
[arbors]
wheel_teeth = {min = 3, max = 20}
pinion_teeth = {min = 3, max = 20}
third_gears = 1
[fit]
clearance = 0
directions = "none"
[search]
max_error_pct = 1000
[wire]
third = "pins"
"""


@pytest.mark.parametrize(
    ("link", "runs"),
    [
        (Link("plain", 12, 6), True),
        (Link("plain", 11, 5), False),  # the tips of the ring reach into the hub of five pins
        (Link("third-wheel", 12, 6, (8,)), True),
        (Link("third-wheel", 12, 5, (8,)), False),
    ],
)
def test_run(link, runs):
    design = parse_design(WIRED)
    fits = not [one for one in judge(design, Train((24, 30), (0, 1), (link,))).violations if one.rule == "run"]
    assert fits == runs
    works = {(24, 12): True, (24, 11): True, (24, 8): True, (30, 6): True, (30, 5): False}
    both = lambda ring, gear: works[ring, gear]  # noqa: E731
    rule = Run(both, both, lambda behind, third: (behind, third) == (12, 8))
    assert bool(choices(24, 30, link, rules=[rule])) == runs


def test_the_third_gear_that_is_chosen_runs():
    """Of third gears from 4 to 9 only even ones run; nothing else keeps it from being the largest."""
    rule = Run(lambda ring, gear: True, lambda ring, third: third % 2 == 0, lambda behind, third: True)
    links = LinkChoices(SHAPES, [12], [6], list(range(4, 10)), None, None, [rule], rule)
    train = TrainVars(links, [[24], [30]], (2,), 2, lambda inner, outer: (inner, outer))
    link = train.links[0]
    train.model.maximize(link.third_teeth("wheel") + link.third_teeth("pinion"))
    train.model.add(link.column("thirds") == 1)
    solver = cp_model.CpSolver()
    assert solver.solve(train.close()) == cp_model.OPTIMAL and round(solver.objective_value) == 8
