"""The benchmarks run on tiny designs and their proofs agree; how fast they are is not the tests' business."""

from __future__ import annotations

import math
import re
import subprocess
import sys
from dataclasses import replace

import pytest
from commands import ROOT

from benchmarks import explain, fit, growth, placed, report, run, service, turns
from benchmarks.cases import BY_NAME as CASES
from benchmarks.cases import goal_of
from benchmarks.hand import best_by_hand, worst_error
from benchmarks.ways import BY_NAME as WAYS
from benchmarks.ways import Outcome, Point, Unsupported, didp, rounding
from benchmarks.ways.common import Clock, Problem
from solver import load_design, solve
from solver.search.options.candidates import Candidates

LIMIT = 30.0  # seconds; the tiny designs take far less

pytestmark = pytest.mark.slow


SOME = ("demo", "jigs", "range-1")  # the others in deep tests


@pytest.fixture(
    scope="module", params=[pytest.param(name, marks=[pytest.mark.deep] * (name not in SOME)) for name in CASES]
)
def case(request):
    return CASES[request.param]


@pytest.fixture(scope="module")
def reference(case):
    """A proven outcome of the tiny design: ours."""
    return WAYS["ours"].run(case.design(smoke=True), LIMIT)


@pytest.mark.parametrize("way", list(WAYS))
def test_every_way_runs_and_proofs_agree(case, reference, way):
    if reason := WAYS[way].available():
        pytest.skip(reason)
    design = case.design(smoke=True)
    goal, links = goal_of(design), len(design.structures()[-1].rings) - 1
    try:
        outcome = WAYS[way].run(design, LIMIT)
    except Unsupported as fault:
        pytest.skip(f"{way}: {fault}")
    assert reference.proven and reference.points
    assert outcome.proven or way in ("evolution", "by hand")
    if outcome.proven:
        assert report.same(goal, links, outcome, reference), (outcome.points, reference.points)
    elif goal == "error" and outcome.points:
        assert math.log1p(outcome.points[0].error) >= math.log1p(reference.points[0].error) - rounding(links)


@pytest.mark.parametrize("name", ["solar-2-thirds", "four-gears", "twelve"])
def test_options_in_blocks_and_one_by_one_have_one_least_error(name, monkeypatch):
    pytest.importorskip("didppy")
    problem = Problem.of(CASES[name].design(smoke=True))
    assert max(map(len, problem.classes)) > didp.FEW
    found = []
    for few in (didp.FEW, 10**6):
        monkeypatch.setattr(didp, "FEW", few)
        program = didp.Program(problem, didp.SCALES[0])
        assert (program.block is None) == (few == 10**6)
        _, units, proven = program.run(Clock(LIMIT))
        assert proven
        found.append(units)
    assert found[0] == found[1] > 0


def test_a_proof_is_written_where_one_is_asked_for():
    pytest.importorskip("pumpkin_solver")
    outcome = WAYS["Pumpkin, proof"].run(CASES["demo"].design(smoke=True), LIMIT)
    (size,) = re.findall(r"for a proof of ([\d.]+) MB", outcome.note)
    assert outcome.proven and float(size) > 0


def test_cases_are_what_they_say():
    sizes = {name: case.design(smoke=False).structure_count() for name, case in CASES.items()}
    assert sizes["range-0"] == sizes["range-1"] == sizes["range-2"] == 11_172
    assert sizes["demo"] == 56 and sizes["trappist"] == 21
    assert {len(CASES[f"links-{links}"].design(smoke=False).bodies) - 1 for links in (20, 40)} == {20, 40}
    assert [make().structure_count() for (what, _), make in growth.designs().items() if what == "structures"] == list(
        growth.RANGES
    )


@pytest.mark.parametrize("name", ["range-2", "solar-2-thirds", "four-gears", "jigs"])
def test_the_peers_problem_has_every_structure_and_every_ratio(name):
    design = replace(CASES[name].design(smoke=True), rank=("jigs",))  # by jigs, so that no option is merged
    plain = replace(design, arbors=replace(design.arbors, third_gears=0))
    problem, candidates = Problem.of(plain), Candidates(plain)
    structures = design.structures()
    spelled = sum(math.prod(map(len, structure.rings)) for structure in structures)
    assert len(list(problem.structures())) == spelled
    for family in problem.families:
        for link, (inner, outer) in enumerate(zip(family.rings, family.rings[1:])):
            listed = {(one.kind, one.wheel, one.pinion) for one in candidates.between(inner, outer)}
            options = problem.classes[family.classes[link]]
            assert {(o.choice.kind, o.choice.wheel, o.choice.pinion) for o in options} == listed


@pytest.mark.deep
def test_one_case_is_told_in_tables_and_pictures(tmp_path):
    assert (
        run.main(
            ["--smoke", "--no-growth", "--cases", "trappist", "--ways", "ours", "by hand", "--into", str(tmp_path)]
        )
        == 0
    )
    text = (tmp_path / "RESULTS.md").read_text(encoding="utf-8")
    assert "## trappist" in text and "| ours |" in text and "proven best" in text


@pytest.mark.deep
@pytest.mark.parametrize("more", [[], ["--fork"]])
def test_some_ways_on_some_cases_have_a_file_of_their_own(tmp_path, more):
    words = ["--smoke", "--no-growth", "--cases", "trappist", "--ways", "by hand", "--name", "SOME", "--cpu"]
    # In a process of its own: one that has begun threads must not be forked.
    begun = [sys.executable, "-m", "benchmarks.run", *words, *more, "--into", str(tmp_path)]
    subprocess.run(begun, cwd=ROOT, env=growth.surroundings(), check=True, capture_output=True)
    text = (tmp_path / "SOME.md").read_text(encoding="utf-8")
    assert not (tmp_path / "RESULTS.md").exists()
    assert "CPU time beside ours" in text and "| Gecode |" not in text
    (left,) = re.findall(r"^Left out: (.*)\.$", text, re.MULTILINE)
    assert left.split(", ") == [name for name in CASES if name != "trappist"]
    (seconds,) = re.findall(r"^\| by hand \| [\d.]+ \| ([\d.]+) \|", text, re.MULTILINE)
    assert float(seconds) > 0


def test_a_wrong_proof_is_told():
    right = Outcome((Point(0.072756, 9, 13),), True, 1.0)
    wrong = replace(right, points=(Point(0.08, 9, 13),))
    rows = [run.Row("trappist", "ours", right, ""), run.Row("trappist", "CP-SAT", wrong, "")]
    assert report.disagreements(rows[:1], smoke=True) == []
    assert len(report.disagreements(rows, smoke=True)) == 1


def test_growth_is_measured_in_a_process_of_its_own():
    point = growth.point("links", growth.LINKS[0], LIMIT)
    assert point.status == "optimal" and point.megabytes > 1


@pytest.mark.deep
def test_the_hand_method_is_never_better_than_the_proven_best():
    design = load_design(ROOT / "runs" / "configs" / "saturn-hall.toml")
    best = solve(design).solutions[0].worst_error_pct / 100
    train = best_by_hand(design)
    assert train is not None and worst_error(design, train) >= best - 1e-15


def test_random_designs_with_places_are_told():
    found = list(placed.measure(range(8, 11)))
    assert [one.seed for one in found] == [8, 9, 10] and all(one.proven for one in found)
    told = placed.report(found)
    assert told.startswith("3 of 3 decided") and told.count("\nseed ") == 3 and "infeasible" in told


@pytest.mark.deep
def test_what_fit_costs_is_told():
    found = fit.measure(smoke=True)
    assert all(point.proven for points in found.values() for point in points.values())
    for points in found.values():
        errors = [points[way].error_pct for way in fit.WAYS]
        assert errors == sorted(errors)  # a rule more never makes the best better
    assert "frame and neighbours" in fit.report(found)


@pytest.mark.deep
def test_what_explaining_takes_is_told():
    assert len(explain.cases()) == 67
    found = explain.measure(smoke=True)
    assert all(told.named and not told.wrong and told.work_s > 0 for told in found.values())
    text = explain.report(found)
    assert f"named: {len(found)} of {len(found)}" in text and "wrong: 0" in text
    assert all(f"| {name} |" in text for name in found)


@pytest.mark.deep
def test_the_service_under_load_loses_nothing():
    figures = service.measure(service.SMOKE)
    asked = [
        figures.limit,
        figures.reads,
        figures.beside,
        figures.calm,
        figures.fresh,
        *(one.asked for one in figures.submitted),
    ]
    assert all(one.ms and one.lost == 0 for one in asked)
    assert [len(one.jobs) for one in figures.submitted] == [2, 2]
    assert figures.found == figures.complete == 4
    assert figures.watched.ends == figures.watched.streams == 8
    assert "| **found again after a restart** | **4 of 4** |" in service.report(figures)


@pytest.mark.deep
def test_the_service_is_timed_with_many_jobs_and_between_others():
    figures = turns.measure(turns.SMOKE)
    times = (figures.start, figures.busy_start, figures.end, figures.busy_end, figures.crowded, figures.crowd)
    assert all(0 < time < 100 for time in times)
    assert [len(one) for one in (figures.alone, figures.neighbours, figures.beside)] == [1, 1, 1]
    assert "start with 3 open jobs and 3 that are over" in turns.report(figures)


def test_no_two_submissions_are_one_job():
    texts = [text for batch in (0, 1) for text in service.submissions(service.Size(), batch)]
    meant = {text.partition("[bodies]")[2] for text in texts}  # without the title
    assert len(meant) == len(texts) == 40
