"""The rule `run` in search, judge, proof and sheets: random designs with [wire] against exhaustive enumeration."""

from __future__ import annotations

from collections import Counter
from itertools import product

import pytest
from brute import all_trains, identity
from brute_running import only_what_runs, settled, wired_design, wired_placed_design
from enumerated import list_and_front, list_with_places, plain, teeth
from test_places import outcome

from solver import Design, solve
from solver.answer.document import ProofOutcome
from solver.answer.prove import prove
from solver.answer.solve import Unsound
from solver.check.running import meshes
from solver.design.kinematics import error_square, pairs, ring_ratios
from solver.search.order.search import search
from solver.search.prove.model import DesignModel, Narrowed, enumerate_trains
from solver.search.runs import RunningPairs
from solver.search.solves import Solves
from solver.search.stop import NoStop
from solver.sheets.gears.inventory import inventory

SOME, QUICK, DEEP = range(30, 60), range(0, 75), range(75, 300)
ENOUGH = 10  # designs that have another answer without the rule, which takes one more enumeration to know
FEW = (0, 6, 18, 24, 30, 36, 40, 42, 48, 54)  # the quickest to enumerate; 40 has third gears


def enumerated(design: Design):
    with only_what_runs():
        return list_and_front(design)[1]


def compared(seeds: range, wild: bool, form: str = "saw", short: bool = False) -> Counter:
    """Compare the search with the enumeration; what kinds of cases there were. short: teeth of third gears."""
    kinds: Counter = Counter()
    for seed in seeds:
        design = wired_design(seed, wild, form, short)
        if design is None:
            continue
        if not settled(design):
            kinds["unsettled"] += 1
            continue
        found = search(design)
        assert found.complete, seed
        best, points = enumerated(design)
        assert [(one.key, teeth(one.train)) for one in found.found] == best, (seed, wild, form)
        assert [(teeth(point.found.train), point.ties) for point in found.front] == points, (seed, wild, form)
        kinds["compared"] += 1
        kinds["found"] += bool(best)
        if kinds["other without the rule"] < ENOUGH:
            kinds["other without the rule"] += list_and_front(design)[1][0] != best
        kinds["third gears"] += any(link[3] for _, train in best for link in train[2])
    return kinds


@pytest.mark.deep
def test_the_best_that_runs_equals_enumeration_in_some_designs():
    kinds = compared(SOME, False)
    assert kinds["compared"] >= 25 and kinds["found"] >= 5 and kinds["third gears"] >= 3, kinds
    assert kinds["other without the rule"] >= 4, kinds


@pytest.mark.deep
@pytest.mark.parametrize("wild", [False, True])
def test_the_best_that_runs_equals_enumeration(wild):
    kinds = compared(QUICK, wild)
    assert kinds["compared"] >= 35 and kinds["found"] >= 15 and kinds["third gears"] >= 3, kinds
    assert kinds["other without the rule"] >= 8, kinds


@pytest.mark.deep
@pytest.mark.parametrize("wild", [False, True])
def test_the_best_that_runs_equals_enumeration_in_many_designs(wild):
    kinds = compared(DEEP, wild)
    assert kinds["compared"] >= 150 and kinds["third gears"] >= 6, kinds


@pytest.mark.deep
@pytest.mark.parametrize("wild", [False, True])
def test_the_best_with_short_teeth_on_third_gears_equals_enumeration(wild):
    kinds = compared(range(120), wild, short=True)
    assert kinds["compared"] >= 60 and kinds["third gears"] >= 2, kinds


def with_places(seeds: range, form: str = "saw", short: bool = False) -> Counter:
    kinds: Counter = Counter()
    for seed in seeds:
        design = wired_placed_design(seed, form, short)
        if design is None or not settled(design):
            continue
        with only_what_runs():
            counts, answer = list_with_places(design)
        if counts[0] < 0:
            continue
        found, (best, _) = search(design), answer
        assert found.complete and plain(outcome(found.found)) == plain(best), (seed, form)
        kinds["compared"] += 1
        kinds["found"] += bool(best)
        kinds["drives"] += bool(best) and design.drive is not None
        kinds["third gears"] += any(link[3] for one in best for link in one[1][2])
    return kinds


def proven(seeds: range, form: str = "saw") -> int:
    """How many designs have an answer; CP-SAT proves each of them again."""
    some = 0
    for seed in seeds:
        shorts = (False, True) if form == "saw" else (False,)
        placed = [wired_placed_design(seed, form, short) for short in shorts if seed % 4 == 0]
        for design in (*(wired_design(seed, False, form, short) for short in shorts), *placed):
            if design is None:
                continue
            answer = solve(design)
            proofs = prove(design, answer.solutions, answer.front, NoStop())
            assert {one.outcome for one in proofs.proofs} <= {ProofOutcome.CONFIRMED}, (seed, form)
            some += bool(answer.solutions)
    return some


@pytest.mark.deep
def test_the_best_with_short_teeth_that_fits_equals_enumeration():
    kinds = with_places(range(60), short=True)
    assert kinds["compared"] >= 40 and kinds["third gears"] >= 6 and kinds["drives"] >= 6, kinds


@pytest.mark.deep
def test_the_best_that_runs_and_fits_equals_enumeration():
    kinds = with_places(range(25))
    assert kinds["compared"] >= 8 and kinds["found"] >= 3, kinds


@pytest.mark.deep
def test_the_best_that_runs_and_fits_equals_enumeration_in_many_designs():
    kinds = with_places(range(25, 290))
    assert kinds["found"] >= 60 and kinds["drives"] >= 10 and kinds["third gears"] >= 5, kinds


# -- the second proof, and faults that are planted ---------------------------------------------------------------------


@pytest.mark.deep
@pytest.mark.parametrize("seeds", [range(0, 15), range(15, 150)])
def test_cp_sat_proves_the_same_rule(seeds):
    assert proven(seeds) >= len(seeds) // 8


@pytest.mark.slow
@pytest.mark.parametrize(
    "seeds", [FEW, pytest.param([seed for seed in range(100) if seed not in FEW], marks=pytest.mark.deep)]
)
def test_the_rules_alone_define_the_model(seeds):
    """CP-SAT without any window lists exactly the trains that enumeration finds, and chooses no third gear that does
    not run, where the smallest do not stand for all."""
    third = 0
    for seed, short in product(seeds, (False, True)):
        design = wired_design(seed, short=short)
        if design is None or not settled(design):
            continue
        with only_what_runs():
            wanted = {identity(train) for _, train in all_trains(design)}
        if len(wanted) > 300:
            continue
        found = set()
        for structure in design.structures():
            part = Narrowed(structure, float(design.limits.max_error))
            for smallest in (design.limits.max_jigs is None, False):
                model = DesignModel(design, part=part, smallest=smallest)
                if not smallest:
                    model.measure("teeth")  # asks for third gears
                trains, whole = enumerate_trains(model, 20_000, Solves(1, NoStop()))
                assert whole, seed
                for train in trains:
                    if error_square(pairs(design), ring_ratios(train), train.seats) is not None:
                        found.add(train.identity())
                    assert not any(mesh.fault for mesh in meshes(design, train)), (seed, train)
                    third += any(link.thirds for link in train.links)
        assert found == wanted, seed
    assert third >= max(1, len(seeds) // 12), third


def first_with(seeds: range, wanted) -> Design:
    return next(design for seed in seeds if (design := wired_design(seed)) is not None and wanted(design))


def best_is_other_without(design: Design) -> bool:
    best = list_and_front(design)[1][0]
    return bool(best) and enumerated(design)[0] != best


def test_a_filter_that_lets_through_what_does_not_run_is_caught_by_the_judge(monkeypatch):
    design = first_with(range(100), best_is_other_without)
    solve(design)
    for name in ("ring_runs", "third_runs", "gears_run"):
        monkeypatch.setattr(RunningPairs, name, lambda runs, one, other: True)
    monkeypatch.setattr(RunningPairs, "thirds", lambda runs, among, ring, gear: among)
    with pytest.raises(Unsound, match="run: "):
        solve(design)


def test_a_filter_that_keeps_out_what_runs_is_caught_by_the_proof(monkeypatch):
    design = first_with(range(100), lambda design: design.rank[0] == "error" and len(enumerated(design)[0]) > 1)
    best = solve(design).solutions[0]
    gone = best.links[0].wheel
    honest = RunningPairs.ring_runs
    with monkeypatch.context() as patched:
        patched.setattr(RunningPairs, "ring_runs", lambda runs, ring, gear: gear != gone and honest(runs, ring, gear))
        answer = solve(design)
    if answer.solutions and answer.solutions[0].worst_error_pct <= best.worst_error_pct:
        pytest.skip("another train is as good")
    assert prove(design, answer.solutions, answer.front, NoStop()).better is not None


# -- sheets ------------------------------------------------------------------------------------------------------------


def stand_still(seeds: range, form: str = "saw") -> int:
    """Solve designs with wire; no pair of gears of what is found may be one that the sheets say does not run."""
    drawn = 0
    for seed in seeds:
        for design in (wired_design(seed, False, form), wired_placed_design(seed, form)):
            answer = None if design is None or design.fit.directions is None else search(design)
            for one in answer.found[:2] if answer is not None else ():
                said = [remark.text for remark in inventory(design, one.train).remarks if not remark.runs]
                # How far tips reach beyond rings.addendum is a matter of the fit; into hubs or roots, of running.
                still = [text for text in said if text.startswith(("jams", "slips")) or " into the " in text]
                assert not still, (seed, form, said)
                drawn += 1
    return drawn


@pytest.mark.deep
def test_what_is_found_runs_by_the_sheets_too():
    assert stand_still(range(25)) >= 8


@pytest.mark.deep
def test_what_is_found_runs_by_the_sheets_too_in_many_designs():
    assert stand_still(range(25, 360)) >= 100
