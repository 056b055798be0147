"""Each rule stated to CP-SAT: the smallest train it allows, the smallest it forbids, and its twin in the judge."""

from __future__ import annotations

from fractions import Fraction

import pytest
from ortools.sat.python import cp_model

from constraints.envelope import MaxEnvelope, envelope
from constraints.error import RateBound, Rates
from constraints.jigs import MaxJigs, jigs
from constraints.largest import MaxLargest, largest
from constraints.parts import MaxParts, parts
from constraints.places import PlaceVars
from constraints.reverted import Reverted
from constraints.sense import SenseOfBody, SenseOfRings
from constraints.step import EqualSteps, RingChoice
from constraints.teeth import Teeth
from constraints.third import NoPlaces, ThirdCount, ThirdSmallest, ThirdTriangle
from constraints.total import MaxTeeth, total_teeth
from constraints.train import TrainVars
from solver import Link, Train, judge, parse_design
from solver.design.links import KINDS
from solver.search.prove.logs import log_of

SHAPES = [(kind.wheel_thirds, kind.pinion_thirds) for kind in KINDS]
NAMES = [kind.name for kind in KINDS]


def fixed(rings: tuple[int, ...], *links: Link) -> TrainVars:
    """Variables of which only this train is possible."""
    teeth = set(range(3, 60))
    train = TrainVars.build(
        [teeth] * len(rings), [teeth] * len(links), [teeth] * len(links), teeth, [SHAPES] * len(links), 10**13
    )
    for ring, value in zip(train.rings, rings):
        train.model.add(ring.value == value)
    for variables, link in zip(train.links, links):
        kind = KINDS[NAMES.index(link.kind)]
        train.model.add(variables.kind_index == NAMES.index(link.kind))
        train.model.add(variables.wheel.value == link.wheel)
        train.model.add(variables.pinion.value == link.pinion)
        train.model.add(variables.wheel_third.value == (link.thirds[0] if kind.wheel_thirds else 0))
        train.model.add(variables.pinion_third.value == (link.thirds[-1] if kind.pinion_thirds else 0))
    return train


def possible(train: TrainVars | PlaceVars, *rules: object) -> bool:
    """Whether CP-SAT finds something under these rules."""
    for rule in rules:
        rule.post(train)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    status = solver.solve(train.model)
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
    rule = Teeth((13,), (7,), ())
    assert possible(fixed((18, 24), PLAIN), rule)
    assert not possible(fixed((18, 24), Link("plain", 12, 7)), rule)
    assert not possible(fixed((18, 24), Link("plain", 13, 6)), rule)
    assert not possible(fixed((18, 24), Link("third-wheel", 13, 7, (5,))), rule)
    assert "teeth" not in violated((18, 24), (PLAIN,), wheel="13")
    assert "teeth" in violated((18, 24), (PLAIN,), wheel="12")


def test_step():
    assert possible(fixed((18, 24), PLAIN), EqualSteps(18, 6))
    assert not possible(fixed((18, 25), PLAIN), EqualSteps(18, 6))
    constant = {"table": "inner_teeth = 18\ntooth_step = 6"}
    assert "step" not in violated((18, 24), (PLAIN,), **constant)
    assert "step" in violated((18, 25), (PLAIN,), **constant)


def test_step_with_a_choice_for_each_ring():
    assert possible(fixed((18, 19), PLAIN), RingChoice(((18,), (18, 19)), growing=True))
    assert not possible(fixed((18, 18), PLAIN), RingChoice(((18,), (18, 19)), growing=True))
    assert possible(fixed((18, 18), PLAIN), RingChoice(((18,), (18, 19)), growing=False))
    assert not possible(fixed((18, 20), PLAIN), RingChoice(((18,), (18, 19)), growing=False))
    both = {"table": "teeth = [18, [18, 19]]"}
    assert "step" in violated((18, 18), (PLAIN,), **both)
    assert "step" not in violated((18, 18), (PLAIN,), reverted="false", **both)
    assert "step" in violated((18, 20), (PLAIN,), reverted="false", **both)


def test_reverted():
    # wheel - pinion is the step between the rings: r(18) + r(13) = r(24) + r(7)
    assert possible(fixed((18, 24), PLAIN), Reverted())
    assert not possible(fixed((18, 24), Link("plain", 14, 7)), Reverted())
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
    assert possible(fixed((18, 24), link), Reverted(), ThirdTriangle(gap=1)) == allowed
    assert (not {"third", "reverted"} & violated((18, 24), (link,))) == allowed


def test_third_clearance_is_measured_between_tip_circles():
    # Module 2: a clearance of 3 mm is 3 teeth of pitch radius (1 mm each). The wheel of 12 is just that clear.
    link = Link("third-wheel", 12, 9, (6,))
    assert possible(fixed((18, 24), link), Reverted(), ThirdTriangle(gap=3))
    assert not possible(fixed((18, 24), link), Reverted(), ThirdTriangle(gap=4))
    assert "third" not in violated((18, 24), (link,), gap=3)
    assert "third" in violated((18, 24), (link,), gap=3.001)


def test_third_count():
    links = (Link("third-both", 13, 7, (3, 3)), Link("third-wheel", 12, 9, (3,)))
    assert possible(fixed((18, 24, 30), *links), ThirdCount(3))
    assert not possible(fixed((18, 24, 30), *links), ThirdCount(2))
    assert "third" not in violated((18, 24), links[:1], thirds=2)
    assert "third" in violated((18, 24), links[:1], thirds=1)


def test_smallest_third_gear_stands_for_all():
    smallest = ThirdSmallest(tuple(range(3, 60)))
    rules = (Reverted(), ThirdTriangle(gap=1), smallest)
    assert possible(fixed((18, 24), Link("third-wheel", 5, 9, (5,))), *rules)
    assert not possible(fixed((18, 24), Link("third-wheel", 5, 9, (6,))), *rules)


def test_without_places_a_third_gear_needs_no_triangle():
    link = Link("third-wheel", 50, 9, (3,))
    assert possible(fixed((18, 24), link), NoPlaces())
    assert "third" not in violated((18, 24), (link,), reverted="false")


@pytest.mark.parametrize(
    ("kind", "thirds", "reverse"), [("plain", (), False), ("third-wheel", (5,), True), ("third-both", (5, 5), False)]
)
def test_sense(kind, thirds, reverse):
    link = Link(kind, 13, 7, thirds)
    assert possible(fixed((18, 24), link), SenseOfRings(), SenseOfBody(1, reverse))
    assert not possible(fixed((18, 24), link), SenseOfRings(), SenseOfBody(1, not reverse))
    assert ("sense" in violated((18, 24), (link,), sense='"same"')) == reverse


def test_error():
    rates = Rates({z: log_of(z) for z in range(3, 60)})
    # T[1]/T[0] = 13 * 24 / (18 * 7) = 52/21
    exact = log_of(52) - log_of(21)
    assert possible(fixed((18, 24), PLAIN), rates, RateBound(1, 0, exact), RateBound(0, 1, -exact))
    assert not possible(fixed((18, 24), PLAIN), rates, RateBound(1, 0, exact - 1))
    assert not possible(fixed((18, 24), PLAIN), rates, RateBound(0, 1, -exact - 1))
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


@pytest.mark.parametrize(("key", "limit", "measure", "value"), MEASURES, ids=[item[0] for item in MEASURES])
def test_limits_and_what_counts(key, limit, measure, value):
    link = Link("third-wheel", 12, 9, (12,))
    base = (Reverted(), ThirdTriangle(gap=1))
    assert possible(fixed((18, 24), link), *base, limit(value))
    assert not possible(fixed((18, 24), link), *base, limit(value - 1))
    train = fixed((18, 24), link)
    for rule in base:
        rule.post(train)
    train.model.minimize(measure(train))
    solver = cp_model.CpSolver()
    assert solver.solve(train.model) == cp_model.OPTIMAL
    assert solver.objective_value == value
    # Module 2: a tooth of pitch radius is 1 mm, the addendum 0.
    assert f"max_{key}" not in violated((18, 24), (link,), search=f"max_{key} = {value}")
    assert f"max_{key}" in violated((18, 24), (link,), search=f"max_{key} = {value - 1}")
