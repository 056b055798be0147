"""`wire.third = "better"`: each train's third gears have pins or short teeth, whichever is better."""

from __future__ import annotations

import json
import tomllib
from collections import Counter
from collections.abc import Iterable
from dataclasses import replace

import pytest
from brute import KIND_NAMES, all_trains, front, full_order, identity, ranked
from brute_running import only_what_runs, wired_design, wired_placed_design
from brute_running import settled as settled_floats
from enumerated import list_with_places, teeth
from test_broken_files import run
from test_thirds import REVERSED

from solver import Design, parse_design, solve
from solver.answer.document import Answer, ProofOutcome, made_as, train_of
from solver.answer.prove import prove
from solver.batch.store.runs import solution_from_row, solution_row
from solver.check.audit import audit_rings
from solver.check.judge import judge
from solver.check.running import meshes
from solver.design.errors import DesignError
from solver.design.toothing import TOOTHINGS, settled, toothings, with_toothing
from solver.files.text import exact_float
from solver.files.train_file import parse_train
from solver.search.order.search import any_train, least_error_square, least_value
from solver.search.stop import NoStop, WorkLimit
from solver.search.why.explain import explain
from solver.service.page.motion import motion
from solver.sheets.book.pack import write_pack
from solver.sheets.gears.inventory import inventory

OPEN = REVERSED.replace('third = "teeth"\n', "")


def third(text: str, toothing: str) -> Design:
    return parse_design(text.replace("[wire]\n", f'[wire]\nthird = "{toothing}"\n'))


def strays(design: Design, solution) -> list[float]:
    made = made_as(design, solution)
    return sorted((mesh.uneven or 0.0 for mesh in meshes(made, train_of(design, solution))), reverse=True)


def without_toothing(answer: Answer) -> list[dict]:
    return [{**one.model_dump(), "third_toothing": None} for one in answer.solutions]


# -- the field ---------------------------------------------------------------------------------------------------------


def test_the_better_is_the_default_where_there_is_a_choice() -> None:
    assert parse_design(OPEN).wire.third == third(OPEN, "better").wire.third == "better"
    assert parse_design(OPEN).sha256() == third(OPEN, "better").sha256() != third(OPEN, "pins").sha256()
    assert [design.wire.third for design in toothings(parse_design(OPEN))] == ["pins", "teeth"]
    for closed in (
        OPEN.replace("third_gears = 1", "third_gears = 0"),
        OPEN.replace("[wire]", '[wire]\nform = "curved"'),
        OPEN.replace("third_gears = 1", "third_gears = 1\nreverted = false")[: OPEN.index("[drive]")],
        OPEN[: OPEN.index("[wire]")],
    ):
        try:
            design = parse_design(closed)
        except DesignError:
            continue
        assert design.wire.third == "pins" and toothings(design) == (design,)


def test_what_is_open_is_neither_judged_nor_searched_as_it_stands() -> None:
    design = parse_design(OPEN)
    train = train_of(design, solve(design).solutions[0])
    with pytest.raises(ValueError, match="settled"):
        judge(design, train)


# -- only one of them works, or both -----------------------------------------------------------------------------------

ONE_LINK = """
units = "in"
bodies.list = [{{name = "a", period = 1}}, {{name = "b", period = "1.56", sense = "either"}}]
[rings]
teeth = [{rings}]
tooth_pitch = 1
addendum = 0.42
rim = 0.5
level_spacing = 0.8
[arbors]
wheel_teeth = {wheel}
pinion_teeth = {pinion}
third_teeth = {third}
third_gears = {most}
[fit]
clearance = 0.02
directions = "none"
[wire]
loop = 0.125
tooth = 0.09375
pin = 0.063
jig_pin = 0.079
[search]
max_error_pct = 900
"""


def one_link(rings: str, wheel: int, pinion: int, third: int, most: int = 2) -> Design:
    return parse_design(ONE_LINK.format(rings=rings, wheel=wheel, pinion=pinion, third=third, most=most))


@pytest.mark.parametrize(
    ("gears", "works"),
    [
        (("25, 35", 6, 14, 17), "teeth"),
        (("59, 65", 18, 6, 13), "teeth"),
        (("36, 45", 10, 9, 6), "pins"),
        (("54, 57", 21, 12, 6), "pins"),
    ],
)
def test_where_one_toothing_works_it_is_taken(gears, works) -> None:
    design = one_link(*gears)
    answer = solve(design)
    for toothing in TOOTHINGS:
        alone = solve(with_toothing(design, toothing))
        assert bool(alone.solutions) == (toothing == works) and alone.proven
        if toothing == works:
            assert without_toothing(answer) == without_toothing(alone) and answer.proven
    assert {one.third_toothing for one in answer.solutions} == {works}


@pytest.mark.parametrize(
    ("gears", "runs"),
    [
        (("34, 43", 17, 21, 11), "pins"),
        (("50, 61", 16, 23, 11), "pins"),
        (("47, 60", 7, 15, 17), "teeth"),
        (("57, 64", 8, 9, 14), "teeth"),
    ],
)
def test_where_both_work_and_rank_alike_the_one_that_runs_more_evenly_is_taken(gears, runs) -> None:
    design = one_link(*gears, most=1)
    (one,) = solve(design).solutions
    parts = {part.wire.third: part for part in toothings(design)}
    alone = {name: solve(part).solutions for name, part in parts.items()}
    worst = {name: strays(parts[name], *some) for name, some in alone.items()}
    figures = {(same.worst_error_pct, same.parts, same.jigs, same.envelope_mm) for (same,) in alone.values()}
    other = "teeth" if runs == "pins" else "pins"
    assert len(figures) == 1 and worst[runs] < worst[other]
    assert one.third_toothing == runs and judge(made_as(design, one), train_of(design, one)).sound


# -- random designs ----------------------------------------------------------------------------------------------------


def enumerated_both(design: Design) -> tuple[list, list]:
    """The first trains with either toothing, and the front of both, by enumeration and by the rule's own words."""
    same: dict[tuple, list] = {}
    every = []
    for toothing in TOOTHINGS:
        part = with_toothing(design, toothing)
        with only_what_runs():
            trains = all_trains(part)
            for key, train in ranked(part, trains):
                uneven = sorted((mesh.uneven or 0.0 for mesh in meshes(part, train)), reverse=True)
                figures = key[: len(full_order(design.rank))]
                same.setdefault(identity(train), []).append((figures, uneven, toothing, key, train))
        every += trains
    best = sorted(((*min(some)[3:], min(some)[2]) for some in same.values()), key=lambda one: one[0])
    points = [(values, count) for values, _, count in front(design, every)] if design.front else []
    return [(teeth(train), toothing) for _, train, toothing in best[: design.keep]], points


def open_design(seed: int, wild: bool) -> Design | None:
    design = wired_design(seed, wild, short=True)
    return None if design is None else settled(replace(design, wire=replace(design.wire, third="better")), TOOTHINGS)


def compared(seeds: Iterable[int], wild: bool) -> Counter:
    kinds: Counter = Counter()
    for seed in seeds:
        design = open_design(seed, wild)
        if design is None or len(toothings(design)) == 1 or not all(map(settled_floats, toothings(design))):
            continue
        answer = solve(design)
        assert answer.proven, seed
        best, points = enumerated_both(design)
        beyond = [one for one in answer.solutions if one.rank > design.keep]
        assert len(answer.solutions) - len(beyond) <= len(best), seed
        told = [(teeth(train_of(design, one)), one.third_toothing) for one in answer.solutions[: len(best)]]
        wanted = [(train, toothing if has_thirds(train) else None) for train, toothing in best]
        assert told == wanted, (seed, wild)
        if design.front:
            assert len(answer.front or ()) == len(points), (seed, wild)
            for ties, (_, count) in zip(answer.front_ties or (), points, strict=True):
                assert ties in (None, count), (seed, wild)
            kinds["fronts"] += 1
        kinds["compared"] += 1
        kinds |= {name: kinds[name] + 1 for name in {toothing for _, toothing in wanted if toothing}}
    return kinds


def has_thirds(train) -> bool:
    return any(link[3] for link in train[2])


@pytest.mark.deep
def test_the_better_of_both_equals_enumeration_over_both() -> None:
    assert compared(range(10, 24), False)["compared"] >= 5


@pytest.mark.deep
@pytest.mark.parametrize("wild", [False, True])
def test_the_better_of_both_equals_enumeration_in_many_designs(wild) -> None:
    kinds = compared([*range(10), *range(24, 180)], wild)
    assert kinds["compared"] >= 30 and kinds["pins"] and kinds["teeth"], kinds


# -- proven ------------------------------------------------------------------------------------------------------------


def test_a_second_proof_is_of_both() -> None:
    """What one toothing alone has is refuted where the other has something, or something better."""
    design = one_link("25, 35", 6, 14, 17)  # only teeth work
    answer = solve(replace(design, prove=True))
    assert answer.proofs and {proof.outcome for proof in answer.proofs} == {ProofOutcome.CONFIRMED}
    refuted = prove(design, solve(with_toothing(design, "pins")).solutions, None, NoStop())
    assert [proof.outcome for proof in refuted.proofs] == [ProofOutcome.REFUTED]
    assert refuted.better is not None and refuted.better.third_toothing == "teeth"


@pytest.mark.deep
def test_cp_sat_proves_what_is_better_of_both() -> None:
    some = 0
    for seed in range(100):
        design = open_design(seed, False)
        if design is None or len(toothings(design)) == 1:
            continue
        answer = solve(design)
        proofs = prove(design, answer.solutions, answer.front, NoStop())
        assert {proof.outcome for proof in proofs.proofs} == {ProofOutcome.CONFIRMED}, seed
        some += bool(answer.solutions)
    assert some >= 5, some


def test_least_values_and_any_train_are_of_both() -> None:
    for gears in (("25, 35", 6, 14, 17), ("36, 45", 10, 9, 6)):
        design = one_link(*gears)
        (best, *_), parts = solve(design).solutions, toothings(design)
        assert any_train(design) is not None and sum(any_train(part) is not None for part in parts) == 1
        squares = [least_error_square(part) for part in parts]
        assert least_error_square(design) == next(square for square in squares if square is not None)
        assert least_value(design, "jigs") is not None and best.worst_error_pct > 0


def test_what_is_stopped_claims_no_more_than_it_knows() -> None:
    """Stopped in either search, the answer is not proven, and its bound holds for both."""
    design = parse_design(OPEN)
    whole = solve(design)
    assert whole.proven and whole.solutions
    ended = Counter()
    for calls in (0, 1, 3, 10, 30, 100, 300, 1000, 3000, 10_000):
        answer = solve(design, WorkLimit(calls))
        ended[answer.proven] += 1
        if not answer.proven:
            assert answer.status in ("feasible", "unknown") and answer.termination == "work"
            assert (answer.bound_worst_error_pct or 0) <= whole.solutions[0].worst_error_pct
    assert ended[False] >= 3


# -- told and made -----------------------------------------------------------------------------------------------------


def test_every_solution_says_what_its_third_gears_have(tmp_path, monkeypatch, capsys) -> None:
    file = tmp_path / "open.toml"
    file.write_text(OPEN)
    code, out, _ = run(monkeypatch, capsys, "solve", str(file), "--json")
    told = json.loads(out)
    assert code == 0 and told["third_toothing"] == "better"
    for one in told["solutions"]:
        has = any(link["thirds"] for link in one["links"])
        assert (one.get("third_toothing") in TOOTHINGS) == has == ("third_toothing" in one)
    answer, design = solve(parse_design(OPEN)), parse_design(OPEN)
    row = solution_row(answer, answer.solutions[0])
    assert solution_from_row(row) == answer.solutions[0]
    for one in answer.solutions:
        stock = inventory(made_as(design, one), train_of(design, one))
        thirds = {made.toothing for made in stock.gears if made.part == "third gear"}
        assert thirds == {"pins" if one.third_toothing == "pins" else "short teeth"}


def test_a_form_with_one_toothing_has_no_better_one() -> None:
    with pytest.raises(DesignError, match='third gears of the form "curved" have pins'):
        parse_design(OPEN.replace("[wire]", '[wire]\nform = "curved"\nthird = "better"'))


def test_the_model_is_of_one_toothing(tmp_path, monkeypatch, capsys) -> None:
    file = tmp_path / "open.toml"
    file.write_text(OPEN)
    code, _, err = run(monkeypatch, capsys, "model", str(file), "--out", str(tmp_path / "model.txt"))
    assert code == 2 and "wire.third" in err


@pytest.mark.deep
def test_what_short_teeth_would_allow_is_told() -> None:
    text = ONE_LINK.format(rings="25, 35", wheel=6, pinion=14, third=17, most=1).replace(
        "[wire]", '[wire]\nthird = "pins"'
    )
    explanation = explain(tomllib.loads(text, parse_float=exact_float))
    changed = [[(one.field, one.now, one.then) for one in item.changes] for item in explanation.loosenings]
    assert [("wire.third", "pins", "better")] in changed


@pytest.mark.deep
def test_the_page_and_the_sheets_make_what_the_solution_says(tmp_path) -> None:
    """A train that runs with short teeth alone: the page turns them, and the sheets have them."""
    design = parse_design(OPEN.replace("[search]", "[search]\nmax_parts = 20"))
    answer = solve(design)
    for one in answer.solutions:
        if one.third_toothing is None:
            continue
        other = next(name for name in TOOTHINGS if name != one.third_toothing)
        same = one.model_copy(update={"third_toothing": other})
        looks = [{look.toothing for gear in motion(design, each).gears if (look := gear.look)} for each in (one, same)]
        assert looks[0] != looks[1] and ("short teeth" in looks[0]) == (one.third_toothing == "teeth")
        names = write_pack(design, one, tmp_path / f"pack{one.rank}")
        assert "placement.dxf" in names
        return
    raise AssertionError("no solution has third gears any more")


@pytest.mark.parametrize(
    ("teeth_say", "chosen"), [((47, 60, 7, 15, 17), "short teeth"), ((34, 43, 17, 21, 11), "pins")]
)
def test_an_audit_takes_the_better_one_and_says_so(teeth_say, chosen) -> None:
    """The trains of which `test_where_both_work` says how they run."""
    inner, outer, wheel, pinion, third = teeth_say
    kind = solve(one_link(f"{inner}, {outer}", wheel, pinion, third, most=1)).solutions[0].links[0].kind
    table = ONE_LINK[ONE_LINK.index("[wire]") : ONE_LINK.index("[search]")]
    text = (
        'units = "in"\n[rings]\ntooth_pitch = 1\naddendum = 0.42\nrim = 0.5\nlevel_spacing = 0.8\n'
        f"[fit]\nclearance = 0.02\n{table}"
        f'[train]\nrings = [{inner}, {outer}]\n[[train.links]]\nkind = "{kind}"\nwheel = {wheel}\n'
        f"pinion = {pinion}\nthirds = [{third}]\n"
    )
    audit = audit_rings(parse_train(text))
    assert audit.sound and f"wire.third leaves it open: judged with {chosen} on third gears" in audit.notes
    told = {
        toothing: audit_rings(parse_train(text.replace("[wire]", f'[wire]\nthird = "{toothing}"')))
        for toothing in TOOTHINGS
    }
    assert all(not any("leaves it open" in note for note in one.notes) for one in told.values())
    assert audit.meshes == told["pins" if chosen == "pins" else "teeth"].meshes


@pytest.mark.deep
def test_the_better_of_both_that_fits_equals_enumeration_over_both() -> None:
    """By rank and figures: what is enumerated with places is placed apart for each toothing."""
    kinds: Counter = Counter()
    for seed in range(60):
        short = wired_placed_design(seed, short=True)
        design = None if short is None else settled(replace(short, wire=replace(short.wire, third="better")), TOOTHINGS)
        if design is None or len(toothings(design)) == 1 or not all(map(settled_floats, toothings(design))):
            continue
        least: dict[tuple, tuple] = {}
        for part in toothings(design):
            with only_what_runs():
                counts, answer = list_with_places(part)
            if counts[0] < 0:
                break
            for key, train, *_ in answer[0]:
                same, figures = train[:2], key[: len(full_order(design.rank))]
                same = (*same, tuple(link[:3] for link in train[2]))
                least[same] = min(figures, least.get(same, figures))
        else:
            found = solve(design)
            assert found.proven, seed
            trains = [teeth(train_of(design, one)) for one in found.solutions[: design.keep]]
            told = [(*train[:2], tuple(link[:3] for link in train[2])) for train in trains]
            wanted = sorted(least, key=lambda same: (least[same], same[0], same[1], *_columns(same[2])))
            assert told == wanted[: design.keep], seed
            assert all(judge(made_as(design, one), train_of(design, one)).sound for one in found.solutions), seed
            kinds["compared"] += 1
            kinds |= {name: kinds[name] + 1 for name in {one.third_toothing for one in found.solutions} - {None}}
    assert kinds["compared"] >= 25 and kinds["teeth"] and kinds["pins"], kinds


def _columns(links) -> list[tuple]:
    """Kinds, wheels and pinions, in the order in which trains that tie are told."""
    kinds = [tuple(KIND_NAMES.index(link[0]) for link in links)]
    return [*kinds, *(tuple(link[place] for link in links) for place in (1, 2))]
