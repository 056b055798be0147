"""Setting by teeth against enumeration: where rings can stand, the best combination, the fewest moves."""

from __future__ import annotations

import random
from fractions import Fraction

import pytest
from brute_setting import all_moves, positions, random_train, reachable, short
from shipped import shipped

from solver.design.links import KIND_BY_NAME
from solver.design.train import Link, Train
from solver.sky.bodies import sky_of
from solver.sky.by_teeth import with_teeth
from solver.sky.chain import stretches
from solver.sky.foresee import Foresight
from solver.sky.moments import parse_moment
from solver.sky.nearest import _Search, nearest
from solver.sky.placing import setting_at
from solver.sky.setting import TeethSetting, forward, ring_turns, set_by_teeth, set_train

NOTHING = Fraction(0)


def some_angle(rng: random.Random) -> Fraction:
    """Of a coarse scale now and then, so that two ways are alike."""
    return Fraction(rng.randrange(1440), 1440) if rng.random() < 0.6 else Fraction(rng.randrange(24), 24)


def half_way(rng: random.Random, train: Train) -> list[Fraction]:
    """Half way between two positions where the rings before stand well, or on one: the body may stand on either side,
    with as much left over."""
    steps = [1] + [2 * link.wheel * ring for link, ring in zip(train.links, train.rings[1:], strict=True)]
    return [Fraction(rng.randrange(steps[ring]), steps[ring]) for ring in train.seats]


def set_at_random(
    rng: random.Random, train: Train, first_exact: bool = True
) -> tuple[TeethSetting, dict[int, Fraction], Fraction]:
    """A train set, the goals of its rings beyond the first, and the turn of the drive to the first one's."""
    standing = [some_angle(rng) for _ in train.seats]
    wanted = [some_angle(rng) for _ in train.seats]
    if rng.random() < 0.5:
        wanted = [now + more for now, more in zip(standing, half_way(rng, train), strict=True)]
    names = [f"body {number}" for number in range(len(train.seats))]
    setting = set_train(train, names, wanted, standing, None, first_exact)
    goals = {ring: wanted[body] - standing[body] for body, ring in enumerate(train.seats)}
    return setting, goals, short(goals.pop(0))


@pytest.mark.parametrize("kind", list(KIND_BY_NAME))
def test_rings_stand_where_all_teeth_mesh_and_nowhere_else(kind: str) -> None:
    """Every position of every gear between two rings, third gears with them, gives the lattice of the formula."""
    rng = random.Random(f"lattice {kind}")
    for seed in range(12):
        thirds = tuple(rng.randint(3, 6) for _ in range(KIND_BY_NAME[kind].thirds))
        link = Link(kind, rng.randint(2, 9), rng.randint(2, 9), thirds)
        inner, outer = rng.randint(5, 12), rng.randint(5, 12)
        turned = Fraction(rng.randrange(500), 500)
        sign = -1 if kind in ("third-wheel", "third-pinion") else 1
        follows = sign * turned * Fraction(link.pinion * inner, link.wheel * outer)
        by_formula = {
            (follows + Fraction(k * link.pinion, link.wheel * outer) + Fraction(m, outer)) % 1
            for k in range(link.wheel)
            for m in range(outer)
        }
        assert reachable(inner, outer, link, turned, seed) == by_formula
        step = set_train(Train((inner, outer), (0, 1), (link,)), "ab", [turned] * 2, [NOTHING] * 2).links[0].step
        assert len(by_formula) == 1 / step


def some_deep(count: int, quick: int) -> list[object]:
    """Seeds, of which only the first are for every day."""
    return [seed if seed < quick else pytest.param(seed, marks=pytest.mark.deep) for seed in range(count)]


@pytest.mark.parametrize("seed", some_deep(60, 20))
def test_no_positions_of_all_gears_are_better(seed: int) -> None:
    """Every way in which the gears of a small train mesh, by their phases alone."""
    rng = random.Random(f"positions {seed}")
    train = random_train(rng, rng.choice((2, 3, 3)), 4)
    setting, goals, drive = set_at_random(rng, train)
    assert (setting.worst, setting.total) == min(positions(train, goals, drive)), train


@pytest.mark.parametrize("seed", some_deep(220, 80))
def test_the_best_is_that_of_all_moves(seed: int) -> None:
    """Every combination of moves: the least worst, then sum, then arbors lifted, teeth counted, and the numbers."""
    rng = random.Random(f"moves {seed}")
    rings = rng.choice((2, 3, 3, 3, 4))
    train = random_train(rng, rings, 3 if rings == 4 else 5)
    setting, goals, drive = set_at_random(rng, train)
    worst, total, lifted, teeth, moves = all_moves(train, goals, drive)[0]
    assert (setting.worst, setting.total) == (worst, total), train
    against = [-1 if KIND_BY_NAME[link.kind].pinion_thirds == 0 else 1 for link in train.links]
    told = tuple((sign * one.wheel_teeth, one.ring_teeth) for sign, one in zip(against, setting.links, strict=True))
    assert sum(one.lifted for one in setting.links) == lifted
    assert sum(abs(wheel) + abs(ring) for wheel, ring in told) == teeth
    assert told == moves, train


@pytest.mark.parametrize("first_exact", [True, False])
@pytest.mark.parametrize("seed", range(40))
def test_what_is_told_of_each_body_is_what_the_moves_give(seed: int, first_exact: bool) -> None:
    """The moves done one after the other, in turns, end where the setting says, so far from what is wanted."""
    rng = random.Random(f"told {seed}")
    train = random_train(rng, rng.choice((2, 4, 6, 9)), 12)
    setting, goals, to_first = set_at_random(rng, train, first_exact)
    goals[0] = to_first
    at = setting.drive
    stands = [at]
    for number, (link, move) in enumerate(zip(train.links, setting.links, strict=True)):
        ratio = Fraction(link.pinion * train.rings[number], link.wheel * train.rings[number + 1])
        at = at * (-ratio if KIND_BY_NAME[link.kind].reverses else ratio) + move.ring_turn
        stands.append(at)
    for body in setting.bodies:
        assert short(stands[body.ring] - goals[body.ring]) == body.left_over
        assert short(body.stands - body.wanted) == body.left_over
        assert abs(body.left_over) <= Fraction(1, 2)
        assert body.ring or not first_exact or body.left_over == 0
    assert setting.worst == max(abs(body.left_over) for body in setting.bodies)
    assert setting.total == sum(abs(body.left_over) for body in setting.bodies)


def test_turned_forward_what_is_left_over_changes_by_the_ratios_alone() -> None:
    """Two rings of 18 and 24 teeth with 13/7: the outer one turns 52/21 times as slowly."""
    train = Train((18, 24), (0, 1), (Link("plain", 13, 7),))
    for first_exact in (True, False):
        setting = set_train(
            train, ("a", "b"), [Fraction(1, 3), Fraction(1, 5)], [Fraction(1, 4)] * 2, None, first_exact
        )
        turns = Fraction(1000, 7)
        inner, outer = forward(train, setting, turns)
        assert short(inner - Fraction(1, 3) - turns) == setting.bodies[0].left_over
        assert (setting.bodies[0].left_over == 0) == first_exact
        assert short(outer - Fraction(1, 5) - turns * Fraction(21, 52)) == setting.bodies[1].left_over


@pytest.mark.parametrize("seed", range(30))
def test_whole_turns_of_the_drive_open_no_new_positions(seed: int) -> None:
    rng = random.Random(f"turns {seed}")
    train = random_train(rng, 4, 9)
    names = [str(number) for number in train.seats]
    wanted = [some_angle(rng) for _ in names]
    now = [NOTHING] * len(names)
    once = set_train(train, names, wanted, now)
    again = set_train(train, names, [wanted[0] + rng.randint(1, 9), *wanted[1:]], now)
    assert (once.worst, once.total) == (again.worst, again.total)


def test_nothing_is_moved_where_all_stands_right() -> None:
    train = Train((18, 24, 30), (0, 1, 2), (Link("plain", 13, 7), Link("third-wheel", 11, 9, (6,))))
    angles = [Fraction(1, 3), Fraction(2, 7), Fraction(5, 9)]
    setting = set_train(train, "abc", angles, angles)
    assert setting.worst == 0 and setting.drive == 0 and not any(one.lifted for one in setting.links)
    assert setting.proven == "best"


def test_a_clamped_body_moves_no_ring_and_leaves_nothing_over() -> None:
    train = Train((18, 24, 30), (0, 1, 2), (Link("plain", 13, 7), Link("plain", 11, 9)))
    wanted = [Fraction(1, 3), Fraction(2, 7), Fraction(5, 9)]
    setting = set_train(train, "abc", wanted, [NOTHING] * 3, [True] * 3)
    assert setting.worst == 0 and setting.drive == 0 and not any(one.lifted for one in setting.links)
    assert [body.stands for body in setting.bodies] == wanted
    # One that is clamped is as a blank to the others: its ring has more places then, and these are no worse off.
    free = set_train(train, "abc", wanted, [NOTHING] * 3, [False, True, False])
    assert free.worst <= set_train(train, "abc", wanted, [NOTHING] * 3).worst
    assert free.bodies[1].move_teeth == 0


@pytest.mark.parametrize("seed", range(8))
def test_ten_bodies_and_blanks_are_settled(seed: int) -> None:
    """As large as they are made; each body ends within half a step of its ring."""
    rng = random.Random(f"ten {seed}")
    count = 10 + seed % 5
    seats = (0, *sorted(rng.sample(range(1, count - 1), 8)), count - 1)
    links = tuple(
        Link(rng.choice(("plain", "third-wheel")), rng.randint(8, 24), rng.randint(5, 18)) for _ in range(count - 1)
    )
    train = Train(tuple(24 + 6 * ring for ring in range(count)), seats, links)
    wanted = [Fraction(rng.random()) for _ in seats]
    setting = set_train(train, [str(seat) for seat in seats], wanted, [Fraction(1, 4)] * 10)
    assert 0 < setting.worst <= max(body.step for body in setting.bodies) / 2


@pytest.mark.parametrize("seed", range(25))
def test_looking_ahead_saves_time_alone(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without tables of what is still to come, the same is best, in as many ways."""
    rng = random.Random(f"ahead {seed}")
    count = rng.randint(4, 7)
    seats = (0, *sorted(rng.sample(range(1, count - 1), rng.randint(count - 3, count - 2))), count - 1)
    links = tuple(
        Link(rng.choice(("plain", "third-wheel")), rng.randint(5, 20), rng.randint(5, 18)) for _ in range(count - 1)
    )
    train = Train(tuple(24 + 6 * ring for ring in range(count)), seats, links)
    legs = stretches(train, seats)
    goals = [some_angle(rng) for _ in legs]
    start = some_angle(rng)
    found = nearest(legs, start, goals)
    monkeypatch.setattr(Foresight, "least", lambda *_: 0.0)
    monkeypatch.setattr(_Search, "next_least", lambda *_: 0)
    plain = nearest(legs, start, goals)
    assert (plain.worst, plain.total) == (found.worst, found.total) and set(plain.ways) == set(found.ways)


def test_angles_are_needed_for_every_body() -> None:
    with pytest.raises(ValueError, match="2 bodies need as many names and angles"):
        set_train(Train((18, 24), (0, 1), (Link("plain", 13, 7),)), "ab", [NOTHING], [NOTHING] * 2)


def test_the_document_of_a_setting_has_what_is_moved() -> None:
    """The numbers of the document are those of the setting; what they do not say stands in its notes."""
    design, answer = shipped("saturn-hall")
    moment = parse_moment("2026-12-24T18:00+01:00")
    plain = setting_at(design, 1, moment, "utc", False)
    assert all(body.move_teeth is None for body in plain.bodies) and plain.links is None
    solution, wanted = answer.solutions[0], ring_turns(design, sky_of(design), moment)
    setting = set_by_teeth(design, solution, wanted)
    full = with_teeth(plain, solution, setting)
    assert [body.move_teeth for body in full.bodies] == [body.move_teeth for body in setting.bodies]
    assert full.links is not None
    for told, move in zip(full.links, setting.links, strict=True):
        assert (told["wheel_teeth"], told["ring_teeth"]) == (move.wheel_teeth, move.ring_teeth)
        assert told["step_deg"] == pytest.approx(float(move.step * 360), abs=1e-6)
    for told, body in zip(full.bodies, setting.bodies, strict=True):
        assert told.left_over_deg == pytest.approx(float(body.left_over * 360), abs=1e-6)
    assert f"{float(setting.worst * 360):.4f}".rstrip("0") in full.notes[-1]
    assert full.notes[-1].startswith("proven (ring 0 may stand off as well): no way")
    assert full.by_teeth is not None and full.by_teeth["ring_0"] == "off" and full.by_teeth["proven"] == "best"
    # Ring 0 in its place: nothing more is claimed than that.
    alone = with_teeth(plain, solution, set_by_teeth(design, solution, wanted, first_exact=True))
    assert alone.notes[-1].startswith("proven (with ring 0 in its place): no way") and alone.by_teeth is not None
    assert alone.by_teeth["worst_deg"] > full.by_teeth["worst_deg"] and alone.by_teeth["ring_0"] == "in"
    assert alone.bodies[0].left_over_deg == 0 != full.bodies[0].left_over_deg
    assert full.model_dump_json() != plain.model_dump_json()
    # Set from where it already is, nothing is moved.
    there = with_teeth(plain, solution, set_by_teeth(design, solution, wanted, wanted))
    assert there.notes[-1] == "by these teeth every body can stand exactly in its place"
    assert all(not told["wheel_teeth"] and not told["ring_teeth"] for told in there.links or ())
