"""The whole ranked list of random small designs against exhaustive enumeration written apart from the search."""

from __future__ import annotations

from itertools import islice

import pytest
from enumerated import KINDS, answer_of, differs, teeth
from random_designs import random_design

from solver import solve
from solver.answer.document import ProofOutcome
from solver.answer.prove import prove
from solver.design.kinematics import error_square, pairs, ring_ratios
from solver.search.order import effort
from solver.search.order.listing import Lister
from solver.search.order.question import Question
from solver.search.order.search import search
from solver.search.order.shared import Shared
from solver.search.prove.model import DesignModel, Narrowed, enumerate_trains
from solver.search.reach.few import paths_of_few
from solver.search.reach.walks import paths
from solver.search.solves import Solves
from solver.search.stop import NoStop, WorkLimit


def blocks(many: int) -> list[range]:
    return [range(start, min(start + 20, many)) for start in range(0, many, 20)]


def cases(blocks: list[range]) -> list[object]:
    """A test for each block; every other one is deep."""
    marks = [(), pytest.mark.deep]
    named = [f"seeds {block.start} to {block.stop - 1}" for block in blocks]
    return [
        pytest.param(block, id=name, marks=marks[index % 2]) for index, (block, name) in enumerate(zip(blocks, named))
    ]


BLOCKS, WILD = blocks(KINDS["ranked"].many), blocks(KINDS["wild"].many)
design_of, wild_of = KINDS["ranked"].design, KINDS["wild"].design


def show(seed: int) -> str:
    return f"seed {seed}:\n{random_design(seed)}"


def listed(found):
    """A search's ranked list, as the enumeration has it."""
    return [(item.key, teeth(item.train)) for item in found]


def check_list(seed, design, result):
    found = listed(result.found)
    assert answer_of("ranked", seed, design).is_of(found), differs("ranked", seed, design, found)


def check_wild(seed, design, result):
    """The same, with its front."""
    assert result.complete, f"wild seed {seed}:\n{random_design(seed, wild=True)}"
    points = [(teeth(point.found.train), point.ties) for point in result.front]
    found = [listed(result.found), points if design.front else []]
    assert answer_of("wild", seed, design).is_of(found), differs("wild", seed, design, found)


def test_the_dice_make_enough_of_everything():
    designs = [design for block in BLOCKS for seed in block if (design := design_of(seed))]
    assert len(designs) >= 300
    wanted = {
        "thirds": lambda d: d.arbors.third_gears > 0,
        "blanks": lambda d: d.rings.blanks[-1] > 0,
        "ranges": lambda d: any(body.low < body.high for body in d.bodies),
        "first": lambda d: d.reference == "first",
        "best": lambda d: d.reference == "best",
        "ratios only": lambda d: not d.arbors.reverted,
        "stock": lambda d: len(
            set(range(d.arbors.wheel_teeth[0], d.arbors.wheel_teeth[-1])) - set(d.arbors.wheel_teeth)
        ),
        "caps": lambda d: any(body.cap is not None for body in d.bodies),
        "reverse": lambda d: any(body.sense == "reverse" for body in d.bodies),
        "choices": lambda d: d.rings.teeth is not None,
        "jigs": lambda d: d.limits.max_jigs is not None,
        "teeth": lambda d: d.limits.max_teeth is not None,
        "envelope": lambda d: d.limits.max_envelope is not None,
    }
    counts = {name: sum(bool(has(design)) for design in designs) for name, has in wanted.items()}
    assert all(count >= 15 for count in counts.values()), counts


@pytest.mark.enumerated
@pytest.mark.parametrize("block", cases(BLOCKS))
def test_the_ranked_list_is_the_exhaustive_one(block):
    for seed in block:
        design = design_of(seed)
        if design is None:
            continue
        result = search(design)
        assert result.complete, show(seed)
        check_list(seed, design, result)


@pytest.mark.enumerated
@pytest.mark.parametrize("block", cases(WILD))
def test_any_order_of_keys_and_any_front_are_the_exhaustive_ones(block):
    for seed in block:
        design = wild_of(seed)
        if design is None:
            continue
        result = search(design)
        check_wild(seed, design, result)


@pytest.mark.parametrize("block", [*WILD[:2], *(pytest.param(block, marks=pytest.mark.deep) for block in WILD[2:])])
def test_a_walk_by_few_sizes_meets_every_train_that_has_so_few_and_no_other(block):
    for seed in block:
        design = wild_of(seed)
        if design is None:
            continue
        shared = Shared(design, NoStop(), None)
        lister = Lister(shared, Question(("error",), (), 1, {}))
        for lattice in lister.all_inside()[0]:
            units = lattice.most_units // 3
            every = list(islice(paths(lattice, units), 20_000))
            jigs = [len(set(path.rings)) + len({z for one in path.options for z in one[1:]}) for path in every]
            if len(every) == 20_000 or not jigs:
                continue
            for most in {min(jigs) - 1, min(jigs), sorted(jigs)[len(jigs) // 3]}:
                found = list(paths_of_few(lattice, units, most))
                assert sorted(found) == sorted(p for p, n in zip(every, jigs, strict=True) if n <= most), show(seed)


@pytest.mark.slow
@pytest.mark.parametrize("block", [*BLOCKS[:2], *(pytest.param(block, marks=pytest.mark.deep) for block in BLOCKS[2:])])
def test_what_enumeration_finds_is_proven_a_second_time(block):
    """Every proven answer is confirmed; the same answer is refuted once its best trains are taken away."""
    for seed in block:
        design = design_of(seed)
        if design is None:
            continue
        answer = solve(design)
        proofs = prove(design, answer.solutions, answer.front, NoStop()).proofs
        assert {one.outcome for one in proofs} == {ProofOutcome.CONFIRMED}, show(seed)
        best = [one for one in answer.solutions if one.worst_error_pct > answer.solutions[0].worst_error_pct + 1e-3]
        if best and design.rank[0] == "error":
            proofs = prove(design, best, None, NoStop()).proofs
            assert proofs[-1].outcome is ProofOutcome.REFUTED, show(seed)


def test_the_wild_dice_make_enough_of_everything():
    designs = [design for block in WILD for seed in block if (design := wild_of(seed))]
    assert len(designs) >= 200
    wanted = {
        "several structures": lambda d: len(d.families()) > 1,
        "several ring counts": lambda d: len(d.rings.blanks) > 1,
        "error not first": lambda d: d.rank[0] != "error",
        "front of two": lambda d: len(d.front) == 2,
        "front of three": lambda d: len(d.front) == 3,
        "thirds": lambda d: d.arbors.third_gears > 0,
        "senses": lambda d: any(body.sense != "either" for body in d.bodies) and d.arbors.third_gears > 0,
        "jigs before error": lambda d: "jigs" in d.rank[: d.rank.index("error") if "error" in d.rank else None],
        "teeth before error": lambda d: "teeth" in d.rank[: d.rank.index("error") if "error" in d.rank else None],
    }
    counts = {name: sum(bool(has(design)) for design in designs) for name, has in wanted.items()}
    assert all(count >= 15 for count in counts.values()), counts


@pytest.mark.deep
@pytest.mark.enumerated
@pytest.mark.parametrize("block", cases(BLOCKS))
def test_crowds_are_ordered_key_by_key(block, monkeypatch):
    """With lists allowed to hold no more than what is asked for, nearly every tie becomes a crowd."""
    for name in ("LIST_LIMIT", "MODEL_LIMIT", "LIST_PER_KEPT"):
        monkeypatch.setattr(effort, name, 1)
    crowds = proven = 0
    for seed in block:
        design = design_of(seed)
        if design is None:
            continue
        result = search(design, WorkLimit(3000))
        crowds += result.tally.crowded
        proven += result.complete
        if result.complete:  # a crowd that could not be settled says so; it never claims a proof
            check_list(seed, design, result)
    assert proven >= 14 and crowds >= 1


@pytest.mark.enumerated
@pytest.mark.parametrize("block", cases(BLOCKS[6:9]))
def test_coarse_scales_change_no_answer(block, monkeypatch):
    """With rounding a thousand times coarser, whatever it could hide is met often: the answer must stay."""
    monkeypatch.setattr(effort, "SCALES", (100, 200))
    monkeypatch.setattr(effort, "LIST_LIMIT", 30)
    for seed in block:
        design = design_of(seed)
        if design is None:
            continue
        result = search(design, WorkLimit(3000))
        if result.complete:
            check_list(seed, design, result)


@pytest.mark.slow
@pytest.mark.enumerated
# The last of these blocks takes more than the others together.
@pytest.mark.parametrize("block", [*cases(BLOCKS[:3]), pytest.param(BLOCKS[3], marks=pytest.mark.deep)])
def test_the_rules_alone_define_the_model(block):
    """CP-SAT without any window lists exactly the trains that enumeration finds, third gears and all set aside."""
    for seed in block:
        design = design_of(seed)
        if design is None:
            continue
        wanted = answer_of("different", seed, design)
        if wanted.many > 400:
            continue
        found = set()
        for structure in design.structures():
            part = Narrowed(structure, float(design.limits.max_error))
            model = DesignModel(design, part=part, smallest=design.limits.max_jigs is None)
            trains, whole = enumerate_trains(model, 20_000, Solves(1, NoStop()))
            assert whole, show(seed)
            for train in trains:
                if error_square(pairs(design), ring_ratios(train), train.seats) is not None:
                    found.add(train.identity())
        assert wanted.is_of(sorted(found)), differs("different", seed, design, sorted(found))
