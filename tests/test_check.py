"""The judge stands alone and refuses what is wrong; nothing leaves the program past it."""

from __future__ import annotations

import ast
import dataclasses
import subprocess
import sys

import house
import pytest
from commands import ROOT
from shipped import shipped

import solver.answer.solve as answer_module
from solver import Design, Train, judge, solve
from solver.answer.solve import Unsound, answer_of
from solver.check.exact_pi import PI_HIGH, PI_LOW
from solver.check.judge import Refused
from solver.design import exact
from solver.search.order.search import search


@pytest.fixture
def demo() -> Design:
    return shipped("saturn-hall")[0]


@pytest.fixture
def best(demo) -> Train:
    return shipped("saturn-hall")[1].trains(demo)[0]


def changed(train: Train, link: int, **teeth: object) -> Train:
    links = list(train.links)
    links[link] = dataclasses.replace(links[link], **teeth)
    return dataclasses.replace(train, links=tuple(links))


@pytest.mark.slow
def test_the_best_train_is_sound(demo, best):
    assert judge(demo, best).sound


@pytest.mark.deep
def test_every_change_of_one_tooth_is_refused(demo, best):
    for index, link in enumerate(best.links):
        for change in ({"wheel": link.wheel + 1}, {"pinion": link.pinion + 1}, {"wheel": 25}, {"pinion": 4}):
            assert not judge(demo, changed(best, index, **change)).sound, (index, change)
    for index in range(len(best.rings)):
        rings = tuple(z + (i == index) for i, z in enumerate(best.rings))
        assert "step" in {v.rule for v in judge(demo, dataclasses.replace(best, rings=rings)).violations}


def test_malformed_trains_are_no_trains(demo, best):
    for broken in (
        dataclasses.replace(best, rings=best.rings[:-1]),
        dataclasses.replace(best, links=best.links[:-1]),
        dataclasses.replace(best, seats=best.seats[:-1]),
        dataclasses.replace(best, seats=(1, *best.seats[1:])),
        dataclasses.replace(best, seats=(*best.seats[:2], best.seats[1], *best.seats[3:])),
        changed(best, 0, kind="belt"),
        changed(best, 0, thirds=(5,)),
        changed(best, 0, wheel=0),
    ):
        with pytest.raises(Refused):
            judge(demo, broken)


@pytest.mark.slow
def test_a_corrupted_solution_never_becomes_an_answer(demo):
    result = search(demo)
    first = result.found[0]
    result.found[0] = dataclasses.replace(first, train=changed(first.train, 3, wheel=first.train.links[3].wheel + 1))
    with pytest.raises(Unsound, match="reverted"):
        answer_of(demo, result)


@pytest.mark.slow
def test_a_wrong_figure_never_becomes_an_answer(demo):
    result = search(demo)
    first = result.found[0]
    result.found[0] = dataclasses.replace(
        first, figures=dataclasses.replace(first.figures, jigs=first.figures.jigs - 1)
    )
    with pytest.raises(Unsound, match="differ"):
        answer_of(demo, result)


@pytest.mark.slow
def test_every_solution_of_every_answer_is_judged(demo, monkeypatch):
    seen = []

    def spy(design, train):
        seen.append(train)
        return judge(design, train)

    monkeypatch.setattr(answer_module, "judge", spy)
    answer = solve(demo)
    assert seen == answer.trains(demo)


def imports_of(package: str) -> set[str]:
    """Every name that is imported in the package and below it."""
    found = set()
    for module in house.modules():
        if module != package and not module.startswith(f"{package}."):
            continue
        for node in ast.walk(house.tree(module)):
            if isinstance(node, ast.Import):
                found |= {alias.name for alias in node.names}
            elif isinstance(node, ast.ImportFrom):
                found.add(node.module or "")
    return found


def test_the_judge_imports_neither_the_solver_nor_the_search():
    data = ("design", "links", "train", "train_data", "errors")
    allowed = tuple(f"solver.design.{name}" for name in data)
    for name in imports_of("solver.check"):
        assert not name.startswith(("ortools", "constraints", "numpy")), name
        assert not name.startswith("solver") or name in allowed or name.startswith("solver.check"), name


def test_the_rules_know_nothing_of_the_rest():
    for name in imports_of("constraints"):
        assert not name.startswith("solver"), name


def test_the_design_knows_nothing_of_the_search():
    for name in imports_of("solver.design"):
        assert not name.startswith(("solver.search", "solver.check", "solver.batch", "solver.cli", "ortools")), name


def test_the_search_stands_on_what_is_below_it():
    """Each package of the search imports, at any time, only those before it in this list."""
    floors = ("place", "options", "reach", "prove", "order", "why")
    for number, floor in enumerate(floors):
        allowed = tuple(f"solver.search.{name}." for name in floors[: number + 1])
        for name in imports_of(f"solver.search.{floor}"):
            common = name.startswith("solver.search.") and name.count(".") == 2
            data = name.startswith("solver.design.") or (floor == "why" and name.startswith("solver.files."))
            assert not name.startswith("solver") or common or data or name.startswith(allowed), (floor, name)
    for module in (one for one in house.modules() if house.package_of(one) == "solver.search"):
        for node in ast.walk(house.tree(module)):
            name = (node.module or "") if isinstance(node, ast.ImportFrom) else ""
            below = name.startswith(("solver.design.", "solver.forms"))
            assert not name.startswith("solver") or below or name.count(".") == 2, name


def test_judging_loads_no_solver():
    others = "('ortools', 'constraints', 'solver.search')"
    code = f"import sys, solver.check.judge; sys.exit(any(name.startswith({others}) for name in sys.modules))"
    assert subprocess.run([sys.executable, "-c", code], cwd=ROOT).returncode == 0


def test_both_fences_hold_pi():
    # Machin's formula in the judge, digits from memory in the search: they must agree.
    assert PI_LOW < exact.PI_HIGH and exact.PI_LOW < PI_HIGH
    assert 0 < PI_HIGH - PI_LOW < 1e-35 and 0 < exact.PI_HIGH - exact.PI_LOW < 1e-45
    assert PI_LOW <= exact.PI_LOW and exact.PI_HIGH <= PI_HIGH


def test_a_link_kind_is_data():
    """A kind that reverses twice at one side is refused; the registry says what it can hold."""
    from solver.design.links import LinkKind

    assert LinkKind("two", 1, 1).parts == 7 and not LinkKind("two", 1, 1).reverses
    with pytest.raises(ValueError, match="a side has"):
        LinkKind("three", 2, 1)
