"""Explanations: limits planted to leave nothing are named, and each loosening is the least that is enough."""

from __future__ import annotations

import random
import tomllib
from copy import deepcopy

import pytest
from brute import all_trains
from test_broken_files import run

from benchmarks.explain import hall
from benchmarks.planted import WANTED, feasible_data, first_cases, planted
from solver import DesignError, solve
from solver.answer.document import Status
from solver.files.load import design_from_data
from solver.files.text import exact_float
from solver.search.stop import NoStop
from solver.search.why import asking
from solver.search.why.explain import Explaining, explain
from solver.search.why.knobs import knobs_of


def fits(data: dict) -> bool:
    """Whether a file's data has a solution, by a whole solve with its judged answer."""
    try:
        answer = solve(design_from_data(data, "design"))
    except DesignError:
        return False
    assert answer.status in (Status.OPTIMAL, Status.INFEASIBLE)
    return answer.status is Status.OPTIMAL


@pytest.mark.deep
@pytest.mark.parametrize("part", range(4))
def test_planted_limits_are_named_and_loosenings_are_the_least(part):
    assert check(first_cases(WANTED)[part::4]) >= 15


def check(seeds: list[int]) -> int:
    """Check explanations; how many loosenings they had."""
    loosened = 0
    for seed in seeds:
        data, fields = planted(feasible_data(seed), random.Random(seed))
        told = f"seed {seed}, planted {sorted(fields)}"
        assert all_trains(design_from_data(data, "design")) == [], told  # by enumeration, apart from the search
        explanation = explain(data)
        assert not explanation.feasible and explanation.termination == "proved", told
        assert fields <= {one.field for one in explanation.conflict}, (told, explanation)
        for item in explanation.loosenings:
            loosened += 1
            assert fits(item.data), (told, item)
            assert item.tighter is None or not fits(item.tighter), (told, item)
            assert {field for _, field, _, _ in item.changes} & {one.field for one in explanation.conflict}, told
        assert explanation == explain(data), told
    return loosened


def test_a_design_that_fits_needs_no_explanation():
    assert explain({"bodies": {"set": "jupiter"}, "rings": {"inner_teeth": 30, "tooth_step": 4}}).feasible


@pytest.mark.deep
def test_the_command_says_what_to_change(tmp_path, monkeypatch, capsys):
    file = tmp_path / "tight.toml"
    file.write_text(
        '[bodies]\nset = "jupiter"\nonly = ["Io", "Europa", "Ganymede"]\n[rings]\ninner_teeth = 30\ntooth_step = 4\n'
        "[search]\nmax_error_pct = 0.1\ntime_limit_s = 10000\n"
    )
    code, out, err = run(monkeypatch, capsys, "explain", str(file))
    assert (code, err) == (0, "")
    assert "These limits cannot be met together" in out and "search.max_error_pct 0.1 → " in out
    code, out, err = run(monkeypatch, capsys, "solve", str(file), "--no-save")
    assert code == 3 and "ringwright explain" in out + err


RATIOS_ONLY = """
[[bodies.list]]
name = "a"
period = 1
[[bodies.list]]
name = "b"
period = "{}"
max_error_pct = {}
[rings]
teeth = [30, {}]
[arbors]
wheel_teeth = 10
pinion_teeth = 10
reverted = false
[search]
max_error_pct = {}
"""


def changes(text: str) -> list[list[tuple[str, str, str]]]:
    explanation = explain(tomllib.loads(text, parse_float=exact_float))
    assert not explanation.feasible
    return [[(field, now, then) for _, field, now, then in item.changes] for item in explanation.loosenings]


def test_each_of_two_loosened_together_is_the_least():
    """17/7 needs a wheel of 17 and a pinion of 7 teeth where only 10 are allowed."""
    found = changes(RATIOS_ONLY.format("17/7", 0, 30, 0))
    assert [("arbors.wheel_teeth.max", "10", "17"), ("arbors.pinion_teeth.min", "10", "7")] in found


@pytest.mark.slow
def test_ends_of_one_range_are_loosened_together():
    text = """
[[bodies.list]]
name = "a"
period = 1
[[bodies.list]]
name = "b"
period = "17/10"
max_error_pct = 0
[[bodies.list]]
name = "c"
period = "238/100"
max_error_pct = 0
[rings]
teeth = [30, 30, 60]
[arbors]
wheel_teeth = 10
pinion_teeth = 10
reverted = false
[search]
max_error_pct = 0
"""
    assert [("arbors.wheel_teeth.max", "10", "17"), ("arbors.wheel_teeth.min", "10", "7")] in changes(text)


def test_a_bodys_own_cap_as_tight_as_the_overall_one_is_named():
    """8 % off: one of two caps of 5 %, neither of which is enough alone, belongs to the conflict."""
    text = RATIOS_ONLY.format("108/100", 5, 30, 5)
    named = explain(tomllib.loads(text, parse_float=exact_float)).conflict
    assert {one.field for one in named} & {"bodies.list[1].max_error_pct", "search.max_error_pct"}


def test_what_goes_on_is_told_before_the_first_question(monkeypatch):
    """A person who waits sees what is asked before it is asked."""
    happened = []
    explaining = Explaining(hall(depth=39), "hall", lambda words: happened.append(words))
    monkeypatch.setattr(asking, "any_train", lambda design, stop: happened.append(None))
    explaining.run(NoStop())
    assert happened[0] == "whether anything fits as it stands" and happened[1] is None


def test_a_cap_is_loosened_as_far_as_a_file_may_say_and_then_taken_off():
    """A file that may not be was taken for one that has no solution, and its cap for the least that will do."""
    data = hall()
    data["search"] |= {"max_jigs": 2, "max_parts": 9, "max_envelope": 100, "max_new_gears": 4}
    knobs = [
        knob for knob in knobs_of(data, design_from_data(data, "hall"), lambda data, key: None) if "max_" in knob.rule
    ]
    limits = ["search.max_parts", "search.max_jigs", "search.max_envelope", "search.max_new_gears"]
    assert [knob.field for knob in knobs] == limits
    for knob in knobs:
        key = knob.field.removeprefix("search.")
        for degree, there in ((knob.most - 1, True), (knob.most, False)):
            loosened = deepcopy(data)
            knob.edit(loosened, degree)
            assert (key in loosened["search"]) == there
            design_from_data(loosened, "hall")


def test_as_many_gears_may_be_made_as_the_design_without_the_limit_needs():
    data = hall()
    data["search"]["max_new_gears"] = 4

    def best(loosened, key):
        assert "max_new_gears" not in loosened["search"]
        return {"new_gears": 9}.get(key)

    (knob,) = (one for one in knobs_of(data, design_from_data(data, "hall"), best) if one.rule == "max_new_gears")
    assert knob.least is not None
    assert (knob.field, knob.now, knob.least(data), knob.says(5)) == ("search.max_new_gears", "4", 5, "9")
