"""Rule `sag` of rings where their rollers stand: search, CP-SAT and judge allow what enumeration allows."""

from __future__ import annotations

import random
from collections import Counter
from dataclasses import replace
from fractions import Fraction
from itertools import combinations

import pytest
from test_places import holds, rolling
from test_sag import TWO, two

from constraints.places import PlaceVars
from constraints.roller import RollersHold
from solver import judge, parse_design, solve
from solver.answer.document import ProofOutcome
from solver.answer.prove import prove
from solver.answer.solve import Unsound
from solver.check import rolled
from solver.check.sag import bends, limit_mm
from solver.search.order.search import search
from solver.search.place.measures import Measures, apart
from solver.search.place.place_model import rollers_of
from solver.search.place.rollers import Wheelhouse
from solver.search.place.shapes import RingStack
from solver.search.place.tables import RuleTables
from solver.search.roller_gaps import GRID, RollerGaps
from solver.search.sagging import Sagging
from solver.search.solves import Solves
from solver.search.stop import NoStop


def within(some: tuple[int, ...], gaps: RollerGaps) -> bool:
    """From the rule's own words, by the judge's notion of what stands evenly."""
    between = rolled.gaps_of(Fraction(5 * at) for at in some)
    return max(between) <= 5 * gaps.widest or (rolled.evenly(between) and len(some) in gaps.even)


def drawn(rng: random.Random) -> tuple[RollerGaps, int, tuple[float, ...]]:
    """How rollers may stand, in which directions, and meshes."""
    gaps = RollerGaps(rng.choice((0, 17, 18, 22, 24, 26, 30)), tuple(n for n in (3, 4) if rng.random() < 0.7))
    some = set(rng.sample(range(GRID), rng.randint(3, 12)))
    if rng.random() < 0.7:
        some |= {(rng.randrange(18) + at) % GRID for at in range(0, GRID, rng.choice((18, 24)))}
    meshes = tuple(rng.uniform(0, 360) for _ in range(rng.randint(1, 2)))
    return gaps, sum(1 << at for at in some), meshes


@pytest.mark.deep
def test_rollers_hold_a_ring_stiff_enough_exactly_where_enumeration_says_so():
    rng = random.Random(6)
    kinds: Counter = Counter()
    for _ in range(250):
        design = rolling(rng.choice(("3", "4", "{min = 3, max = 4}")), rng.choice((30, 60, 180)), 3)
        gaps, allowed, meshes = drawn(rng)
        house = Wheelhouse(Measures(design), 0, 20, range(0), gaps)
        found = list(house.holding(allowed, meshes, lambda: None))
        free = [index for index in range(GRID) if allowed >> index & 1]
        counts = design.fit.rollers.count
        every = [some for n in counts for some in combinations(free, n) if holds(design, some, meshes)]
        wanted = {some for some in every if within(some, gaps)}
        assert set(found) == wanted, (gaps, bin(allowed), meshes)
        kinds[bool(wanted), len(wanted) < len(every)] += 1
        kinds["even alone"] += any(
            max(rolled.gaps_of(Fraction(5 * at) for at in some)) > 5 * gaps.widest for some in wanted
        )
    assert kinds[True, True] >= 20 and kinds[False, True] >= 20 and kinds["even alone"] >= 5, kinds


@pytest.mark.deep
def test_cp_sat_holds_a_ring_exactly_where_enumeration_says_so():
    rng = random.Random(7)
    kinds: Counter = Counter()
    for _ in range(60):
        design = rolling(rng.choice(("3", "4", "{min = 3, max = 4}")), 180, 3)
        measures = Measures(design)
        gaps, allowed, _ = drawn(rng)
        rollers = rollers_of(Wheelhouse(measures, 0, 20, range(0)))
        free = [index for index in range(GRID) if allowed >> index & 1]
        wanted = any(
            holds(design, some, ()) and within(some, gaps)
            for count in design.fit.rollers.count
            for some in combinations(free, count)
        )
        train = PlaceVars()
        train.ring(GRID)
        need = measures.rounds(measures.roller, measures.roller)
        beside = apart(rollers.xs, rollers.ys, rollers.xs, rollers.ys, need)
        RollersHold(design.fit.rollers.count, [rollers.directions], [beside], [], []).post(train)
        where = train.model.new_constant(1)
        tables = RuleTables(measures, RingStack((20,), ()), [], [rollers], [])
        tables.spread([[(None, RollerGaps()), (where, gaps), (where.negated(), RollerGaps(0))]]).post(train)
        for index in set(range(GRID)) - set(free):
            train.model.add(train.rollers[0][index] == 0)
        assert Solves(1, NoStop()).run(train.model)[1] == wanted, (gaps, bin(allowed))
        kinds[wanted] += 1
    assert min(kinds[True], kinds[False]) >= 10, kinds


# -- whole designs -----------------------------------------------------------------------------------------------------


def uneven(seed: int):
    """A design of two rings whose limit lies among what its rings bend without one, on rollers wherever they stand."""
    rng = random.Random(f"uneven {seed}")
    text = TWO.replace("count = [3, 4], radius = 4, reach = 90", "count = {count}, radius = {radius}, reach = {reach}")
    sizes = {
        "count": rng.choice(("3", "4", "[3, 4]", "[4, 5]")),
        "radius": rng.choice((4, 9, 14)),
        "reach": rng.choice((25, 40, 90)),
    }
    plain = text.format(
        sag="{sag}", plate=rng.choice(("inner", "outer")), model=rng.choice(("wall", "table")), wire="", **sizes
    )
    wide = parse_design(plain.replace("{sag}", "sag = 10000"))
    found = solve(wide)
    if not found.solutions:
        return None
    some = sorted(bend for _, what, bend in bends(wide, found.trains(wide)[0]) if what.startswith("the ring"))
    return parse_design(plain.replace("{sag}", f"sag = {some[-1] * rng.choice((0.6, 0.97, 1.0001, 1.2)):.9f}"))


@pytest.mark.slow
@pytest.mark.parametrize("seeds", [range(6), pytest.param(range(6, 60), marks=pytest.mark.deep)])
def test_what_stands_stiffly_is_proven_again(seeds):
    """The judge allows every answer; CP-SAT, by its own tables, finds none better; without the limit others come."""
    kinds: Counter = Counter()
    for seed in seeds:
        design = uneven(seed)
        if design is None:
            continue
        answer = solve(design)
        assert answer.proven
        for train in answer.trains(design):
            assert judge(design, train).sound
            assert all(bend <= limit_mm(design) for _, _, bend in bends(design, train))
        proofs = prove(design, answer.solutions, answer.front, NoStop())
        assert {one.outcome for one in proofs.proofs} == {ProofOutcome.CONFIRMED}, seed
        free = search(replace(design, supports=replace(design.supports, sag_mm=Fraction(10_000)))).found
        kinds["other without the rule"] += [one.train for one in free] != answer.trains(design)
        kinds["found"] += bool(answer.solutions)
    assert kinds["found"] >= len(seeds) // 6 and kinds["other without the rule"] >= len(seeds) // 6, kinds


def test_a_ring_that_is_too_soft_on_uneven_rollers_gets_others():
    """Two of three rollers must stand near the meshes; the third may stand where the gap is not too wide."""
    loose = two("sag = 100")
    train = solve(loose).trains(loose)[0]
    bent = {where: bend for where, what, bend in bends(loose, train) if what.startswith("the ring")}
    for ring, row in enumerate(train.placement.rollers):
        assert bent[f"ring {ring}"] > 0 and len(row) == 3
    strict = replace(loose, supports=replace(loose.supports, sag_mm=Fraction(max(bent.values()) * 0.5)))
    held = solve(strict).trains(strict)[0]
    assert max(len(row) for row in held.placement.rollers) == 4
    assert {"sag"} == {one.rule for one in judge(strict, replace(held, placement=train.placement)).violations}


def test_a_search_that_forgets_where_rollers_stand_is_caught(monkeypatch):
    loose = two("sag = 100")
    most = max(bend for _, what, bend in bends(loose, solve(loose).trains(loose)[0]) if what.startswith("the ring"))
    strict = replace(loose, supports=replace(loose.supports, sag_mm=Fraction(most * 0.5)), seed=loose.seed + 1)
    monkeypatch.setattr(Sagging, "roller_gaps", lambda *anything: RollerGaps())
    with pytest.raises(Unsound, match="sag"):
        solve(strict)
