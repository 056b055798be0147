"""Designs at the edge, each of which once got, or nearly got, a wrong answer."""

from __future__ import annotations

import tracemalloc
from dataclasses import replace
from fractions import Fraction
from itertools import combinations_with_replacement, islice, product
from math import comb, floor, prod

import pytest

from solver import Design, DesignError, Status, parse_design, solve
from solver.search.options.candidates import Candidates
from solver.search.options.caps import caps_of
from solver.search.order.search import search
from solver.search.prove.model import DesignModel, Narrowed, enumerate_trains
from solver.search.reach.lattice import Lattice
from solver.search.reach.segments import Segments
from solver.search.reach.walks import paths
from solver.search.solves import Solves
from solver.search.stop import NoStop


def powers(target: Fraction, links: int, gears: str, **more: object) -> Design:
    """Two bodies with so many links between them, ring teeth all alike: only powers of one ratio can come out."""
    search = "\n".join(f"{key} = {value}" for key, value in more.items())
    return parse_design(
        f"""
[bodies]
list = [{{name = "a", period = 1}}, {{name = "b", period = "{target}"}}]
[rings]
teeth = {[3] * (links + 1)}
[arbors]
wheel_teeth = {gears}
pinion_teeth = {gears}
reverted = false
[search]
{search}
"""
    )


def test_gears_larger_than_any_ring_keep_their_rounding():
    """The model's rounding must be that of its largest gears: four factors (625/512) hit the target exactly."""
    design = powers(Fraction(625, 512) ** 4, 6, "[512, 625]")
    (structure,) = design.structures()
    part = Narrowed(structure, 0.0)
    model = DesignModel(design, part=part, smallest=True)
    trains, whole = enumerate_trains(model, 5000, Solves(1, NoStop()))
    # Of 6 links k have 625/512 and k - 4 have 512/625, the others 1 in two ways: k = 4: 15 * 2**2; k = 5: 6.
    assert whole and len(trains) == 15 * 4 + 6


@pytest.mark.deep
def test_a_crowd_without_error_that_rounding_lifts_is_still_one():
    """Nine of eighteen links one way, nine the other, in any order: 48620 trains, exact, all rounded up alike."""
    design = parse_design(
        """
[bodies]
list = [{name = "a", period = "1"}, {name = "b", period = "389972966191338519/121433985532928"}]
[rings]
inner_teeth = 28
tooth_step = 7
blanks = 17
[arbors]
wheel_teeth = [23, 24]
pinion_teeth = [16, 17]
[search]
max_error_pct = 0
keep = 5
distinct = "order"
"""
    )
    answer = solve(design)
    assert answer.status is Status.OPTIMAL and [one.worst_error_pct for one in answer.solutions] == [0.0] * 5
    (only,) = (answer := solve(replace(design, distinct="gears"))).solutions
    assert answer.status is Status.OPTIMAL and only.worst_error_pct == 0 and only.orders == comb(18, 9)


@pytest.mark.deep
def test_wide_gears_are_walked_in_little_memory():
    """14000 candidates a link over half a million cells, in the widest window."""
    design = parse_design(
        """
[bodies]
set = "saturn"
only = ["Mimas", "Titan"]
[rings]
blanks = 1
[arbors]
reverted = false
wheel_teeth = {min = 5, max = 120}
pinion_teeth = {min = 5, max = 120}
[search]
keep = 1
"""
    )
    tracemalloc.start()
    try:
        candidates = Candidates(design)
        (structure,) = design.structures()
        lattice = Lattice(design, structure, Segments(candidates, 10**5), caps_of(design))
        assert sum(1 for _ in islice(paths(lattice, lattice.most_units), 200)) == 200
        assert tracemalloc.get_traced_memory()[1] < 500_000_000
    finally:
        tracemalloc.stop()


@pytest.mark.deep
def test_structures_beyond_the_crowd_are_not_lost_at_a_finer_scale():
    """Where a coarse crowd dissolves because a body's own cap forbids it, the search goes on to all structures."""
    design = parse_design(
        """
[[bodies.list]]
name = "a"
period = "1"
[[bodies.list]]
name = "b"
period = "6586148313/19140625"
max_error_pct = "2.994406"
[[bodies.list]]
name = "c"
period = "6291842435521708032/3861966294921875"
[rings]
inner_teeth = 49
tooth_step = 4
blanks = 16
[arbors]
wheel_teeth = [9, 32]
pinion_teeth = [5, 28]
[search]
keep = 60
max_error_pct = "1000"
distinct = "order"
"""
    )

    # By counting exponents instead of trains: each link is 9/5 or 32/28, so only how many of them are 9/5 counts.
    def worst(split: int, first: int, second: int) -> Fraction | None:
        rings = [49 + 4 * i for i in range(19)]
        b = Fraction(rings[split], 49) * Fraction(9, 5) ** first * Fraction(32, 28) ** (split - first)
        c = b * Fraction(rings[18], rings[split]) * Fraction(9, 5) ** second * Fraction(32, 28) ** (18 - split - second)
        errors = [max(m / t, t / m) - 1 for m, t in ((b, design.bodies[1].low), (c, design.bodies[2].low))]
        return None if errors[0] > design.bodies[1].cap or errors[1] > 10 else max(errors)

    classes: list[tuple[Fraction, int]] = []  # which rings are bodies, how many links are 9/5: the error, the orders
    for split in range(1, 18):
        for first in range(split + 1):
            for second in range(18 - split + 1):
                error = worst(split, first, second)
                if error is not None:
                    classes.append((error, comb(split, first) * comb(18 - split, second)))
    classes.sort()
    answer = solve(design)
    wanted = sorted(error for error, orders in classes for _ in range(min(60, orders)))[:60]
    assert answer.status is Status.OPTIMAL
    assert [one.worst_error_pct for one in answer.solutions] == pytest.approx(
        [float(e) * 100 for e in wanted], rel=1e-12
    )
    answer = solve(replace(design, distinct="gears"))
    assert answer.status is Status.OPTIMAL and len(classes) == len(answer.solutions)
    assert [one.worst_error_pct for one in answer.solutions] == pytest.approx(
        [float(error) * 100 for error, _ in classes], rel=1e-12
    )
    assert sorted(one.orders for one in answer.solutions) == sorted(orders for _, orders in classes)


@pytest.mark.parametrize("percent", ["9.9", "9.995", "9.9999"])
def test_a_crowd_just_beyond_the_limit_is_no_solution(percent):
    design = powers(Fraction(5, 4) ** 4 * Fraction(11, 10), 10, "[20, 25]", max_error_pct=percent)
    assert solve(design).status is Status.INFEASIBLE


@pytest.mark.slow
def test_a_crowd_exactly_at_the_limit_is_one():
    design = powers(Fraction(5, 4) ** 4 * Fraction(11, 10), 10, "[20, 25]", max_error_pct=10, keep=3)
    answer = solve(design)
    assert answer.status is Status.OPTIMAL and len(answer.solutions) == 3
    assert answer.solutions[0].worst_error_pct == pytest.approx(10, rel=1e-12)
    # The crowd is put in order by the later keys; one ring size and two gear sizes are the fewest jigs there can be.
    assert [solution.jigs for solution in answer.solutions] == [3, 3, 3]


def test_allowing_third_gears_never_loses_a_plain_train_however_large_the_clearance():
    text = """
[bodies]
set = "jupiter"
sense = "either"
[rings]
inner_teeth = 30
tooth_step = 4
[arbors]
third_gears = {}
[fit]
clearance = {}
"""
    found = []
    for thirds, clearance in ((0, 1000), (2, 1000), (2, 1000000)):
        design = parse_design(text.format(thirds, clearance))
        (structure,) = design.structures()
        part = Narrowed(structure, 0.3)
        model = DesignModel(design, part=part, smallest=True)
        trains, whole = enumerate_trains(model, 5000, Solves(1, NoStop()))
        assert whole and all(link.kind == "plain" for train in trains for link in train.links)
        found.append({train.identity() for train in trains})
    assert found[0] and found[0] == found[1] == found[2]


def test_a_train_full_of_third_gears_is_found():
    """Bodies that turn in turns: every link needs a third gear, each of its own size or shared."""
    bodies = "\n".join(
        f'[[bodies.list]]\nname = "b{i}"\nperiod = {1.5**i:.4f}\nsense = "{"reverse" if i % 2 else "same"}"'
        for i in range(9)
    )
    text = f"""
{bodies}
[rings]
inner_teeth = 24
tooth_step = 6
addendum = 0
[arbors]
wheel_teeth = {{min = 8, max = 14}}
pinion_teeth = {{min = 8, max = 14}}
third_gears = 8
[fit]
clearance = 0
[search]
keep = 2
time_limit_s = 600
"""
    answer = solve(parse_design(text))
    assert answer.status is Status.OPTIMAL
    assert [ring.sense for ring in answer.solutions[0].rings] == ["same", "reverse"] * 4 + ["same"]


def test_an_empty_window_of_periods_of_thirty_digits():
    """Periods are read digit by digit: two that differ in the thirtieth are not the same."""
    design = parse_design(
        """
[[bodies.list]]
name = "a"
period = "1.00000000000000000000000000000"
[[bodies.list]]
name = "b"
period = "2.47619047619047619047619047619"
[rings]
teeth = [18, 24]
"""
    )
    best = solve(design).solutions[0]
    assert best.rings[1].ratio == (52, 21)
    assert 0 < best.worst_error_pct < 1e-25


@pytest.mark.deep
def test_nine_bodies_of_thirty_digits_and_ratios_of_thousands():
    """Every train of four choices a link, 65536 of them, with Fractions: the first ten agree."""
    ratios = [Fraction(wheel, pinion) for wheel in (399, 400) for pinion in (7, 9)]
    periods, period = [Fraction(1)], Fraction(1)
    for link in range(8):
        period *= 50 + Fraction(3 * link + 1, 7)
        periods.append(Fraction(f"{float(period):.6f}7182818284590452353602874713"))
    names = "".join(f'[[bodies.list]]\nname = "b{i}"\nperiod = "{period}"\n' for i, period in enumerate(periods))
    design = parse_design(
        f"""
{names}
[rings]
teeth = {[[20]] * 9}
[arbors]
wheel_teeth = [399, 400]
pinion_teeth = [7, 9]
reverted = false
[search]
max_error_pct = 100
keep = 10
rank = ["error"]
"""
    )
    errors = []
    for chosen in product(ratios, repeat=8):
        model, worst = Fraction(1), Fraction(0)
        for ratio, target in zip(chosen, periods[1:]):
            model *= ratio
            worst = max(worst, model / target - 1, target / model - 1)
            if worst > 1:
                break
        else:
            errors.append(worst)
    answer = solve(design)
    assert answer.status is Status.OPTIMAL
    first = [float(100 * worst) for worst in sorted(errors)[:10]]
    assert [one.worst_error_pct for one in answer.solutions] == pytest.approx(first, rel=1e-13)


def test_ratios_of_a_million_between_neighbours():
    """Four links of about 32 between neighbours: all 2**24 trains, by products that tie; blanks anywhere."""
    link = sorted({Fraction(wheel, pinion) for wheel in (399, 400) for pinion in (12, 13)})
    periods = [Fraction(1), Fraction("1043210.123456789012345678901"), Fraction("1083210987654.321098765432109877")]
    names = "".join(f'[[bodies.list]]\nname = "b{i}"\nperiod = "{period}"\n' for i, period in enumerate(periods))
    design = parse_design(
        f"""
{names}
[rings]
teeth = {[[20]] * 9}
[arbors]
wheel_teeth = [399, 400]
pinion_teeth = [12, 13]
reverted = false
[search]
keep = 1
"""
    )
    products = {
        count: {prod(chosen, start=Fraction(1)) for chosen in combinations_with_replacement(link, count)}
        for count in range(1, 8)
    }
    best = min(
        max(first / periods[1], periods[1] / first, first * rest / periods[2], periods[2] / (first * rest)) - 1
        for count in range(1, 8)
        for first in products[count]
        if 0.5 < first / periods[1] < 2
        for rest in products[8 - count]
    )
    answer = solve(design)
    assert answer.status is Status.OPTIMAL
    assert answer.solutions[0].worst_error_pct == pytest.approx(float(100 * best), rel=1e-13)


def test_neighbours_too_far_apart_are_proven_impossible():
    """Ratios of a million between nine neighbours with no blank between: a clear no, not a wrong yes."""
    names = "".join(f'[[bodies.list]]\nname = "b{i}"\nperiod = "{10 ** (6 * i)}"\n' for i in range(9))
    text = f"""
{names}
[rings]
inner_teeth = 30
tooth_step = 4
blanks = {{}}
[arbors]
wheel_teeth = {{{{min = 5, max = 400}}}}
pinion_teeth = {{{{min = 5, max = 400}}}}
[search]
max_error_pct = 1000
"""
    assert solve(parse_design(text.format(0))).status is Status.INFEASIBLE
    with pytest.raises(DesignError, match="ring structures; at most"):
        parse_design(text.format(40))


def test_sums_far_beyond_two_to_the_thirty_first_stay_exact():
    """28 links of 1000/10: scaled logarithms of 1.3e11. One gear of 999 teeth too few or too many is told apart."""
    links = 28
    design = parse_design(
        f"""
[bodies]
list = [{{name = "a", period = 1}}, {{name = "b", period = "{100 ** (links - 1) * 999 // 10}"}}]
[rings]
teeth = {[[3]] * (links + 1)}
[arbors]
wheel_teeth = [999, 1000]
pinion_teeth = [10]
reverted = false
[search]
max_error_pct = 0
"""
    )
    (structure,) = design.structures()
    part = Narrowed(structure, 0.0)
    model = DesignModel(design, part=part, smallest=True)
    trains, whole = enumerate_trains(model, 200, Solves(1, NoStop()))
    assert whole and len(trains) == links
    assert all(sorted(link.wheel for link in train.links)[:2] == [999, 1000] for train in trains)


def test_a_link_of_very_many_teeth_is_proven_best():
    """Of every two rings and every pinion the best wheel is beside the wished ratio: a loop knows them all."""
    design = parse_design(
        """
[bodies]
sense = "either"
[[bodies.list]]
name = "a"
period = 1
[[bodies.list]]
name = "b"
period = "2.718281828459045235360287471352662497757"
[rings]
teeth = [{min = 50, max = 53}, {min = 50, max = 53}]
[arbors]
wheel_teeth = {min = 3, max = 300}
pinion_teeth = {min = 3, max = 300}
reverted = false
""",
    )
    target, best = design.bodies[1].low, Fraction(10)
    for inner, outer, pinion in product(range(50, 54), range(50, 54), range(3, 301)):
        near = floor(target * inner * pinion / outer)
        for wheel in (near, near + 1):
            if 3 <= wheel <= 300:
                ratio = Fraction(outer * wheel, inner * pinion) / target
                best = min(best, max(ratio, 1 / ratio))
    result = search(design)
    assert result.complete and result.found[0].figures.error_square == best**2
