"""Ring 0 off its place as well, against enumeration: the least worst, the least sum, the fewest moves."""

from __future__ import annotations

import random
from fractions import Fraction

import pytest
from brute_setting import random_train, short
from brute_sharing import best
from test_setting_by_teeth import set_at_random, some_angle, some_deep

from solver.design.links import KIND_BY_NAME
from solver.design.train import Link, Train
from solver.sky.foresee import Foresight
from solver.sky.found import found_text
from solver.sky.setting import forward, set_train
from solver.sky.sharing import _Sharing

DEGREE = Fraction(1, 360)


@pytest.mark.deep
@pytest.mark.parametrize("seed", some_deep(300, 40))
def test_the_best_is_that_of_all_moves_and_turns_of_ring_0(seed: int) -> None:
    rng = random.Random(f"shared {seed}")
    rings = rng.choice((2, 3, 3, 3, 4))
    train = random_train(rng, rings, 3 if rings == 4 else 5)
    setting, goals, drive = set_at_random(rng, train, first_exact=False)
    worst, total, lifted, teeth, ways = best(train, goals, drive)
    assert setting.proven == "best" and setting.first == "off"
    assert (setting.worst, setting.total) == (worst, total), train
    against = [-1 if KIND_BY_NAME[link.kind].pinion_thirds == 0 else 1 for link in train.links]
    told = tuple((sign * one.wheel_teeth, one.ring_teeth) for sign, one in zip(against, setting.links, strict=True))
    assert sum(one.lifted for one in setting.links) == lifted
    assert sum(abs(wheel) + abs(ring) for wheel, ring in told) == teeth
    assert told in ways, train


def test_two_planets_share_what_one_would_have_alone() -> None:
    """Rings of 24 and 24 teeth with 12/6 have steps of half a tooth, 7.5 degrees: at worst 3.75 are left over. A body
    of ring 1 that is 3.6 short is e_1 = d/2 - 3.6 off where ring 0 is off by d: both are off by 2.4 with d = 2.4."""
    train = Train((24, 24), (0, 1), (Link("plain", 12, 6),))
    now, wanted = [Fraction(1, 4)] * 2, [Fraction(1, 4), Fraction(1, 4) + Fraction(36, 10) * DEGREE]
    alone = set_train(train, "ab", wanted, now, None, first_exact=True)
    assert alone.worst == Fraction(36, 10) * DEGREE and alone.bodies[0].left_over == 0
    shared = set_train(train, "ab", wanted, now)
    assert [body.left_over for body in shared.bodies] == [Fraction(24, 10) * DEGREE, -Fraction(24, 10) * DEGREE]
    assert shared.drive == Fraction(24, 10) * DEGREE and not shared.links[0].lifted


def larger(rng: random.Random, count: int, bodies: int, most: int = 24) -> Train:
    seats = (0, *sorted(rng.sample(range(1, count - 1), bodies - 2)), count - 1)
    links = tuple(
        Link(rng.choice(("plain", "third-wheel")), rng.randint(most // 3, most), rng.randint(5, 18))
        for _ in range(count - 1)
    )
    return Train(tuple(24 + 6 * ring for ring in range(count)), seats, links)


@pytest.mark.deep
@pytest.mark.parametrize("seed", range(20))
def test_ten_bodies_are_never_worse_than_with_ring_0_in_its_place(seed: int) -> None:
    rng = random.Random(f"ten shared {seed}")
    train = larger(rng, 10 + seed % 5, 10)
    names, wanted, now = [str(seat) for seat in train.seats], [some_angle(rng) for _ in range(10)], [Fraction(0)] * 10
    shared, alone = (set_train(train, names, wanted, now, None, first) for first in (False, True))
    assert shared.proven == "best" and shared.worst < alone.worst
    turns = Fraction(1000, 7)
    moved = [
        short(after - body.stands) for after, body in zip(forward(train, shared, turns), shared.bodies, strict=True)
    ]
    again = [short(after - body.stands) for after, body in zip(forward(train, alone, turns), alone.bodies, strict=True)]
    assert moved == again  # what is left over stays as it is beside what the ratios add


@pytest.mark.parametrize("seed", range(25))
def test_looking_ahead_saves_time_alone(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without tables and without the bound on each ring's own deviation, the same is best."""
    rng = random.Random(f"shared ahead {seed}")
    train = larger(rng, 4, 4, 12) if seed % 2 else larger(rng, 4, 3, 6)
    names = [str(seat) for seat in train.seats]
    wanted, now = [some_angle(rng) for _ in names], [Fraction(0)] * len(names)
    found = set_train(train, names, wanted, now)
    monkeypatch.setattr(Foresight, "least", lambda *_: 0.0)
    monkeypatch.setattr(_Sharing, "_reaches", lambda self: [Fraction(1, 2)] * (self.count + 1))
    plain = set_train(train, names, wanted, now)
    assert plain.proven == found.proven == "best"
    assert plain == found


@pytest.mark.parametrize("work", [0, 3, 10, 30])
def test_who_stops_the_search_is_told_that_nothing_is_proven(work: int) -> None:
    train = larger(random.Random("stopped"), 10, 10)
    rng = random.Random("stopped angles")
    names, wanted, now = [str(seat) for seat in train.seats], [some_angle(rng) for _ in range(10)], [Fraction(0)] * 10
    stopped, alone = set_train(train, names, wanted, now, work=work), set_train(train, names, wanted, now, None, True)
    full = set_train(train, names, wanted, now)
    assert stopped.proven != "best" and full.proven == "best"
    assert (full.worst, full.total) <= (stopped.worst, stopped.total) <= (alone.worst, alone.total)
    claim = found_text(stopped, "°", "far")
    if stopped.proven == "worst":
        assert stopped.worst == full.worst and claim.startswith("proven (") and "in all is not proven least" in claim
    else:
        assert claim.startswith("not proven best (ring 0 may stand off as well)") and "no way" not in claim
