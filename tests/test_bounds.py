"""Bounds round down, errors round up: what is said of them holds for the exact numbers."""

from __future__ import annotations

import math
import random
from fractions import Fraction

import pyarrow as pa
import pytest
from random_designs import random_design

from solver import Design, DesignError, Status, parse_design, solve
from solver.batch.store import parts
from solver.cli.summary import summary
from solver.design.exact import error_above, error_below, float_above, float_below
from solver.search.stop import WorkLimit
from solver.words.numbers import percent_at_least

# Saturn's moons over eleven thousand ring structures, with a front behind the ranked list.
MANY_RINGS = """
[bodies]
set = "saturn"
sense = "either"
[rings]
inner_teeth = {min = 18, max = 36}
tooth_step = {min = 2, max = 8}
blanks = {min = 0, max = 3}
[fit]
directions = "none"
[search]
rank = RANK
front = ["error", "parts", "jigs"]
"""


def exact_square(design: Design, solution) -> Fraction:
    """(1 + worst error)**2 of a solution, from its ratios and the design's periods."""
    periods = [Fraction(*ring.ratio) for ring in solution.rings if not ring.blank]
    first = design.bodies[0]
    errors = [
        max(period * first.low / body.high, body.low / (period * first.low), Fraction(1))
        for period, body in zip(periods, design.bodies, strict=True)
    ]
    return max(errors) ** 2


def square_of(percent: float) -> Fraction:
    return (1 + Fraction(percent) / 100) ** 2


def test_errors_are_the_nearest_floats_on_the_safe_side():
    rng = random.Random(7)
    tiny = [1 + Fraction(1, 10**size) for size in (17, 30, 200)]
    large = [Fraction(rng.randint(1, 9) * 10**size) for size in (20, 290, 305, 400)]
    some = [1 + Fraction(rng.randint(0, 10**size), 10 ** rng.randint(1, 40)) for size in range(40) for _ in range(5)]
    whole = [(1 + Fraction(percent) / 100) ** 2 for percent in (0, 1, 50, 100, 0.75)]
    for square in (*tiny, *large, *some, *whole):
        for unit in (1, 100):
            low, high = error_below(square, unit), error_above(square, unit)
            assert 0 <= low <= high <= math.nextafter(low, math.inf)
            assert (1 + Fraction(low) / unit) ** 2 <= square <= (1 + Fraction(high) / unit) ** 2
            exact = (1 + Fraction(low) / unit) ** 2 == square
            assert (low == high) is exact and (square not in whole or unit == 1 or exact)
        assert Fraction(float_below(square % 97)) <= square % 97 <= Fraction(float_above(square % 97))


@pytest.mark.parametrize("calls", [800, 3500, pytest.param(6000, marks=pytest.mark.deep)])
def test_a_bound_is_never_above_the_error_of_a_solution(calls):
    """The ranked list is proven after about three thousand questions; what follows is the front."""
    design = parse_design(MANY_RINGS.replace("RANK", '["error", "parts"]'))
    told = []
    answer = solve(design, WorkLimit(calls), told.append)
    assert not answer.proven and answer.status is (Status.UNKNOWN if calls < 1000 else Status.FEASIBLE)
    for solution in answer.solutions:
        square = exact_square(design, solution)
        assert square_of(answer.bound_worst_error_pct) <= square <= square_of(solution.worst_error_pct)
        assert solution.worst_error_pct == max(ring.error_pct or 0.0 for ring in solution.rings)
    if calls > 2000:  # as good as it can be
        assert square_of(math.nextafter(answer.bound_worst_error_pct, math.inf)) >= exact_square(
            design, answer.solutions[0]
        )
        best = exact_square(design, answer.solutions[0])
        assert told and all((1 + Fraction(one.bound_error)) ** 2 <= best for one in told)
        assert all(one.best_error is None or (1 + Fraction(one.best_error)) ** 2 >= best for one in told)


def test_bounds_and_errors_of_random_designs():
    compared = 0
    for seed in range(0, 340, 3):
        try:
            design = parse_design(random_design(seed))
        except DesignError:
            continue
        answer = solve(design)
        for solution in answer.solutions if design.reference == "first" else ():
            square = exact_square(design, solution)
            assert square_of(answer.bound_worst_error_pct) <= square <= square_of(solution.worst_error_pct), seed
            assert all((ring.error_pct or 0.0) <= solution.worst_error_pct for ring in solution.rings), seed
            compared += 1
    assert compared >= 80


@pytest.mark.deep
def test_the_least_envelope_is_told_in_millimetres():
    """The bound of the leading key is that of the best solution once it is proven, and never above it before."""
    design = parse_design(MANY_RINGS.replace("RANK", '["envelope", "error"]').replace("front", "# front"))
    proven = solve(design)
    least = proven.solutions[0].envelope_mm
    assert proven.status is Status.OPTIMAL and proven.least_first_key == least and least > 50
    known = []
    for calls in (500, 5000, 18_000):
        told = []
        answer = solve(design, WorkLimit(calls), told.append)
        assert answer.least_first_key is None or answer.least_first_key <= least
        assert all(one.least_value is None or one.least_value <= least for one in told)
        assert all(one.best_value is None or one.best_value >= least for one in told)
        known += [answer.least_first_key] if answer.least_first_key is not None and not answer.proven else []
        if answer.status is Status.FEASIBLE:
            assert f"radius {answer.solutions[0].envelope_mm:.3f} mm" in summary(design, answer)
    assert len(known) == 2 and max(known) == least


def test_the_text_of_a_bound_is_cut_off():
    for bound in (0.57386582, 0.57389999, 0.001, 0.00099999, 1e-9, 3.9999e-12, 0.0, 12.0):
        assert 0.99 * bound <= float(percent_at_least(bound)) <= bound
    assert (percent_at_least(0.57389999), percent_at_least(0.0)) == ("0.5738", "0.0000")


def test_tables_of_points_that_had_whole_bounds_are_still_read(tmp_path):
    schema = parts.POINT_SCHEMA
    index = schema.get_field_index("least_first_key")
    former = schema.set(index, schema.field(index).with_type(pa.int64()))
    row = dict.fromkeys(schema.names) | {
        "point_id": "a", "ordinal": 0, "settings": "{}", "title": "t", "config_sha256": "c", "answer_version": "v",
        "design": "{}", "state": "solved", "least_first_key": 20,
    }  # fmt: skip
    parts.write_parquet(tmp_path / "points.parquet", [pa.Table.from_pylist([row], schema=former)], former, {})
    for columns in (None, ["point_id", "least_first_key"]):
        table = parts.read_parquet(tmp_path / "points.parquet", schema, columns)
        assert (
            table["least_first_key"].to_pylist() == [20.0]
            and table.schema.field("least_first_key").type == pa.float64()
        )


def test_no_error_is_written_with_a_sign():
    assert str(float_above(Fraction(0))) == "0.0" and str(error_above(Fraction(1), 100)) == "0.0"
