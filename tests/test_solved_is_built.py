"""Whatever is solved of gears as made, the sheets can make and it turns: no remark that it does not run or fit."""

from collections import Counter
from dataclasses import replace
from fractions import Fraction

import pytest
from brute_running import wired_design, wired_placed_design

from solver import solve
from solver.sheets.gears.inventory import inventory

pytestmark = pytest.mark.deep

ALL_ROUND = tuple(Fraction(15 * index) for index in range(24))


def built(seeds: range, forms: tuple[str, ...]) -> Counter:
    kinds: Counter = Counter()
    for seed in seeds:
        for form in forms:
            designs = [wired_design(seed, form=form)]
            if form == "saw" and seed % 3 == 0:
                designs.append(wired_placed_design(seed))
            for design in designs:
                if design is None:
                    continue
                if design.fit.directions is None:  # sheets need places
                    design = replace(design, fit=replace(design.fit, directions=ALL_ROUND))
                answer = solve(replace(design, time_limit_s=5.0, keep=min(design.keep, 3)))
                kinds["designs"] += 1
                for train in answer.trains(design):
                    stock = inventory(design, train)
                    wrong = [remark for remark in stock.remarks if not remark.runs]
                    assert not wrong, (seed, form, train, wrong)
                    kinds["trains"] += 1
                    kinds["third gears"] += any(link.thirds for link in train.links)
    return kinds


def test_sheets_have_nothing_against_what_was_solved():
    kinds = built(range(6), ("saw", "curved", "cycloidal", "involute"))
    assert kinds["designs"] >= 15 and kinds["trains"] >= 4, kinds


@pytest.mark.parametrize("form", ["saw", "curved", "cycloidal", "involute"])
def test_sheets_have_nothing_against_what_was_solved_in_many_designs(form):
    kinds = built(range(6, 110), (form,))
    assert kinds["designs"] >= 75 and kinds["trains"] >= 18, kinds
