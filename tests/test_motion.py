"""A solution in motion: exact rates, teeth that mesh at every moment, true positions."""

from __future__ import annotations

import json
import random
from dataclasses import replace
from fractions import Fraction
from functools import cache
from math import atan2, hypot, pi

import pytest
from shapely import Polygon
from shapely.affinity import rotate, translate

from solver import Design, parse_design
from solver.answer.document import SolutionAnswer
from solver.answer.solve import solve
from solver.design.links import KIND_BY_NAME
from solver.service.page.motion import GearMotion, Motion, RingMotion, motion
from solver.service.page.outline import outline, path

MOONS = """
[[bodies.list]]
name = "Mimas"
period = 1
[[bodies.list]]
name = "Tethys"
period = 2
sense = "{sense}"
[[bodies.list]]
name = "Titan"
period = {last}
sense = "either"
[rings]
inner_teeth = 24
tooth_step = 4
{rings}
[arbors]
{arbors}
[search]
keep = 6
{search}
"""


def design_of(
    head: str = "[bodies]", sense: str = "same", last: str = "4.4", rings: str = "", arbors: str = "", search: str = "",
    fit: str = "",
) -> Design:  # fmt: skip
    moons = MOONS.format(sense=sense, last=last, rings=rings, arbors=arbors, search=search)
    return parse_design(f"{head}\n{moons}\n{fit}")


THIRDS = "third_gears = 3"
CASES = {
    "plain": lambda: design_of(),
    "module": lambda: design_of(rings="module = 3\naddendum = 3"),
    "reversed": lambda: design_of(sense="reverse", arbors=THIRDS),
    "third at the wheel": lambda: design_of(sense="reverse", last="2.2", arbors=THIRDS),
    "no places": lambda: design_of(sense="reverse", last="2.2", arbors=THIRDS, fit='[fit]\ndirections = "none"'),
    "ratios alone": lambda: design_of(arbors="reverted = false"),
    "ratios with thirds": lambda: design_of(sense="reverse", arbors=f"{THIRDS}\nreverted = false"),
    "blank": lambda: design_of(rings="blanks = 1"),
    "free rate": lambda: design_of('[bodies]\nreference = "best"'),
    "drive": lambda: design_of(fit="[drive]\nmotor_rpm = 2\nthird_gears = 1"),
}


@cache
def solved(case: str) -> tuple[Design, tuple[SolutionAnswer, ...]]:
    design = CASES[case]()
    solutions = tuple(solve(design).solutions)
    assert solutions, f"the case {case} has no solution"
    return design, solutions


@cache
def moving(case: str) -> tuple[Motion, ...]:
    design, solutions = solved(case)
    return tuple(motion(design, solution) for solution in solutions)


def parts(one: Motion) -> dict[str, RingMotion | GearMotion]:
    return {part.id: part for part in (*one.rings, *one.gears)}


def rate(part: RingMotion | GearMotion) -> Fraction:
    return Fraction(int(part.rate[0]), int(part.rate[1]))


def middle(part: RingMotion | GearMotion) -> tuple[float, float]:
    return (part.x, part.y) if isinstance(part, GearMotion) else (0.0, 0.0)


def drawn(part: RingMotion | GearMotion, turns: float) -> Polygon:
    """The outline of a part after so many turns of ring 0, where it stands."""
    shape = Polygon(outline(part.teeth, part.pitch_radius, part.tip_radius))
    angle = 360 * ((part.phase_turns + part.rate_float * turns) % 1)
    return translate(rotate(shape, angle, origin=(0, 0)), *middle(part))


@pytest.mark.slow
@pytest.mark.parametrize("case", CASES)
def test_rings_turn_at_the_answers_ratios(case: str) -> None:
    _, solutions = solved(case)
    for solution, one in zip(solutions, moving(case), strict=True):
        for ring, told in zip(one.rings, solution.rings, strict=True):
            assert abs(rate(ring)) == 1 / Fraction(*told.ratio)
            assert (rate(ring) < 0) == (told.sense == "reverse")
            assert ring.rate_float == float(rate(ring))


@pytest.mark.parametrize("case", CASES)
def test_every_mesh_runs_at_one_speed_and_an_arbor_turns_as_one(case: str) -> None:
    for one in moving(case):
        named = parts(one)
        for first, second in one.meshes:
            assert rate(named[first]) * named[first].teeth == -rate(named[second]) * named[second].teeth
        for link in range(len(one.rings) - 1):
            assert rate(named[f"wheel-{link}"]) == rate(named[f"pinion-{link}"])


@pytest.mark.parametrize("case", CASES)
def test_every_gear_is_in_a_mesh_and_so_many_meshes_close_no_loop(case: str) -> None:
    for one in moving(case):
        assert {second for _, second in one.meshes} == {gear.id for gear in one.gears}
        assert len(one.meshes) == len(one.gears) == len(parts(one)) - len(one.rings)


def _gap_meets_tooth(one: Motion, turns: float) -> None:
    named = parts(one)
    for pair in one.meshes:
        first, second = named[pair[0]], named[pair[1]]
        (x, y), (to_x, to_y) = middle(first), middle(second)
        assert hypot(to_x - x, to_y - y) == pytest.approx(first.pitch_radius + second.pitch_radius, abs=2e-3)
        line = atan2(to_y - y, to_x - x) / (2 * pi)
        from_tooth = first.teeth * (line - first.phase_turns - first.rate_float * turns)
        other = second.teeth * (line + 0.5 - second.phase_turns - second.rate_float * turns)
        assert (from_tooth + other) % 1 == pytest.approx(0.5, abs=1e-6), f"{pair} after {turns} turns"


@pytest.mark.parametrize("case", CASES)
def test_a_tooth_meets_a_gap_at_every_moment(case: str) -> None:
    seed = 20
    rng = random.Random(seed)
    for one in moving(case):
        for turns in (0.0, *(rng.uniform(-50, 50) for _ in range(20))):
            _gap_meets_tooth(one, turns)


@pytest.mark.parametrize("case", CASES)
def test_drawn_teeth_never_cut_into_each_other(case: str) -> None:
    rng = random.Random(21)
    one = moving(case)[0]
    named = parts(one)
    for turns in (0.0, *(rng.uniform(-50, 50) for _ in range(8))):
        for pair in one.meshes:
            first, second = named[pair[0]], named[pair[1]]
            pitch = 2 * pi * first.pitch_radius / first.teeth
            tooth = pitch * (first.tip_radius - first.pitch_radius) / 2
            shared = drawn(first, turns).intersection(drawn(second, turns)).area
            assert shared < 0.02 * tooth, f"{pair} share {shared / tooth:.3f} of a tooth after {turns} turns"


def test_wheel_and_pinion_share_their_middle_unless_ratios_alone_were_asked_for() -> None:
    for case in CASES:
        for one in moving(case):
            named = parts(one)
            together = [
                middle(named[f"wheel-{link}"]) == pytest.approx(middle(named[f"pinion-{link}"]), abs=2e-3)
                for link in range(len(one.rings) - 1)
            ]
            assert one.one_arbor == (not case.startswith("ratios"))
            assert all(together) or not one.one_arbor
            assert one.placed == (case != "no places" and one.one_arbor)


def test_the_cases_have_every_kind_of_link() -> None:
    kinds = {link.kind for case in CASES for solution in solved(case)[1] for link in solution.links}
    assert kinds == set(KIND_BY_NAME)
    for ratios_or_not in ("no places", "ratios with thirds"):
        made_up = {link.kind for solution in solved(ratios_or_not)[1] for link in solution.links}
        assert {"third-wheel", "third-pinion"} <= made_up


@pytest.mark.parametrize("case", ["plain", "reversed", "blank", "drive"])
def test_true_positions_follow_the_target_periods(case: str) -> None:
    design, _ = solved(case)
    for one in moving(case):
        bodies = [ring for ring in one.rings if ring.body is not None]
        assert [ring.name for ring in bodies] == [body.name for body in design.bodies]
        for ring, body in zip(bodies, design.bodies, strict=True):
            assert ring.body is not None
            true = Fraction(int(ring.body.true_rate[0]), int(ring.body.true_rate[1]))
            assert abs(true) == design.bodies[0].low / body.low
            assert (true < 0) == (rate(ring) < 0)
            assert float(true / rate(ring)) - 1 == pytest.approx(ring.body.period_error_pct / 100, abs=1e-12)
            assert ring.body.period == str(body.low)
        assert bodies[0].body is not None and bodies[0].body.true_rate == ("1", "1")


def test_a_free_common_rate_is_read_back_from_the_answer() -> None:
    for one in moving("free rate"):
        for ring in one.rings:
            assert ring.body is not None
            slow = ring.body.true_rate_float / ring.rate_float - 1
            assert slow == pytest.approx(ring.body.period_error_pct / 100, abs=1e-12)
        errors = [abs(ring.body.period_error_pct) for ring in one.rings if ring.body is not None]
        assert max(errors) > 0, "with three bodies something is left"


def test_a_body_within_its_range_has_no_error_and_one_outside_is_as_far_off_as_the_nearer_end() -> None:
    near = design_of(last="6").bodies
    design, solutions = solved("plain")
    taken = Fraction(*solutions[0].rings[2].ratio)
    for low, high, expected in ((taken - 1, taken + 1, taken), (taken + 1, taken + 2, taken + 1)):
        ranged = replace(near[2], low=low, high=high)
        one = motion(replace(design, bodies=(*near[:2], ranged)), solutions[0])
        assert one.rings[2].body is not None
        assert Fraction(*map(int, one.rings[2].body.true_rate)) == 1 / expected
        assert one.rings[2].body.period == f"{low}..{high}"


def test_a_free_rate_with_every_body_in_its_range_stays_in_all_of_them() -> None:
    design, solutions = solved("plain")
    exact = solutions[0].model_copy(
        update={
            "rings": [
                ring.model_copy(update={"error_pct": 0.0, "period_error_pct": 0.0}) for ring in solutions[0].rings
            ]
        }
    )
    wide = tuple(
        replace(body, low=Fraction(*ring.ratio) * 3, high=Fraction(*ring.ratio) * 4)
        for body, ring in zip(design.bodies, exact.rings)
    )
    one = motion(replace(design, bodies=wide, reference="best"), exact)
    assert 3 < float(one.reference.time) < 4
    assert all(ring.body is not None and ring.body.true_rate_float == ring.rate_float for ring in one.rings)


def test_days_are_told_where_a_set_that_ships_has_the_bodies() -> None:
    design = parse_design('[bodies]\nset = "saturn"\nonly = ["Mimas", "Tethys"]\n[search]\nkeep = 1\n')
    one = motion(design, solve(design).solutions[0])
    assert (one.reference.name, one.reference.time, one.reference.unit) == ("Mimas", "471211/500000", "days")
    assert moving("plain")[0].reference.unit is None
    assert moving("drive")[0].reference.seconds == solved("drive")[1][0].drive.ring_seconds[0]  # type: ignore[union-attr]


def test_every_body_starts_straight_up() -> None:
    for case in CASES:
        assert {ring.phase_turns for one in moving(case) for ring in one.rings} == {0.25}


def test_the_document_survives_json_and_keeps_numbers_that_javascript_could_not() -> None:
    one = moving("reversed")[0]
    text = one.model_dump_json()
    assert json.loads(text)["schema"] == "ringwright.motion/1"
    assert Motion.model_validate_json(text) == one
    assert all(isinstance(number, str) for ring in one.rings for number in ring.rate)


def test_where_teeth_have_no_height_they_are_drawn_with_one_and_it_is_told() -> None:
    design, solutions = solved("plain")
    flat = replace(design, rings=replace(design.rings, addendum=Fraction(0), rim=Fraction(0)))
    one = motion(flat, solutions[0])
    assert one.teeth_made_up and not moving("plain")[0].teeth_made_up
    assert all(ring.inner_radius < ring.pitch_radius < ring.tip_radius for ring in one.rings)


def test_an_outline_has_its_teeth_at_its_radii() -> None:
    corners = outline(7, 10.0, 12.0)
    assert len(corners) == 21 and corners[0] == (12.0, 0.0)
    assert [round(hypot(*corner), 9) for corner in corners[:3]] == [12.0, 7.6, 7.6]
    assert Polygon(corners).is_valid


def test_a_path_closes_where_it_began_however_many_teeth_there_are() -> None:
    text = path(outline(997, 100.0, 101.0), 5.0)
    numbers = [float(number) for number in text.removeprefix("M").removesuffix("z").replace("l", " ").split()]
    x, y = sum(numbers[0::2]), sum(numbers[1::2])
    last = outline(997, 100.0, 101.0)[-1]
    assert (x, y) == pytest.approx((last[0] * 5, last[1] * 5), abs=0.006)
