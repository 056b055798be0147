"""Into which angles a circle can be cut, and the least that later things add to a sum, against all that can be."""

from __future__ import annotations

import random
from collections import Counter
from itertools import combinations_with_replacement, product
from types import SimpleNamespace

import pytest

from solver.search.place import arcs as module
from solver.search.place.arcs import Arcs
from solver.search.place.onward import LeastOnward
from solver.search.place.spread import gaps_of


def drawn(rng: random.Random) -> tuple[Arcs, int]:
    """A circle of a few directions, of which some are open, and so many arbors."""
    whole = rng.choice((12, 24, 360))
    count = rng.randint(1, 8)
    units = sorted(rng.sample(range(whole), count))
    if rng.random() < 0.3:
        units = [whole // 12 * at for at in range(12)]
    some = sorted(rng.sample(range(len(units)), rng.randint(1, min(len(units), 8))))
    return Arcs(units, whole, some, lambda: None), rng.randint(1, 5)


def every_gaps(arcs: Arcs, many: int, stood: tuple[int, ...] = ()) -> set[tuple[int, ...]]:
    """The angles of every choice of so many open directions, those that stand among them."""
    more = combinations_with_replacement(arcs.open, many - len(stood))
    return {gaps_of([arcs.units[number] for number in (*stood, *some)], arcs.whole) for some in more}


@pytest.mark.parametrize("first", range(0, 300, 100))
def test_what_a_circle_can_be_cut_into_is_exact(first):
    seen = Counter()
    for seed in range(first, first + 100):
        rng = random.Random(f"arcs {seed}")
        arcs, many = drawn(rng)
        assert arcs.ideal(many) == max(every_gaps(arcs, many)), seed
        for _ in range(6):
            stood = tuple(sorted(rng.choices(arcs.open, k=rng.randint(0, many))))
            found = every_gaps(arcs, many, stood)
            asked = rng.choice(sorted(found)) if rng.random() < 0.5 else arcs.ideal(many)
            asked = tuple(sorted(max(0, one + rng.choice((-1, 0, 0, 1, 5))) for one in asked))
            truth = any(all(a >= b for a, b in zip(one, asked)) for one in found)
            assert arcs.possible(asked, stood) == truth, (seed, stood, asked)
            seen[truth] += 1
    assert min(seen[True], seen[False]) > 100, seen


def test_a_walk_that_is_given_up_excludes_nothing(monkeypatch):
    """So that the bound stays one: none has better angles than those that are then told."""
    whole = [Arcs(range(0, 60, 7), 60, range(9), lambda: None) for _ in range(2)]
    exact = whole[0].ideal(5)
    monkeypatch.setattr(module, "MOST_NODES", 1)
    assert whole[1].ideal(5) >= exact == max(every_gaps(whole[0], 5))


# -- sums --------------------------------------------------------------------------------------------------------------


def things(rng: random.Random, reach: int) -> tuple[SimpleNamespace, list[list[list[int]]]]:
    """Things of which those so near to each other forbid places of each other, with what they cost in two sums."""
    sizes = [rng.randint(1, 4) for _ in range(rng.randint(1, 5))]
    bits = [rng.sample(range(6), size) for size in sizes]  # in any order
    tables = {}
    for one, other in product(range(len(sizes)), repeat=2):
        if one < other <= one + reach:
            tables[one, other] = {bit: sum(1 << by for by in bits[other] if rng.random() < 0.7) for bit in bits[one]}
    left = [sum(1 << bit for bit in some if rng.random() < 0.9) for some in bits]
    large = rng.choice((5, 10**6, 10**30))
    costs = [[[rng.randint(-large, large) for _ in some] for _ in range(2)] for some in bits]
    return SimpleNamespace(bits=bits, left=left, tables=tables), costs


@pytest.mark.parametrize("reach", [1, 3, 5])
def test_the_least_that_later_things_add(reach):
    seen = Counter()
    for seed in range(60):
        ways, costs = things(random.Random(f"onward {reach} {seed}"), reach)
        if not all(ways.left):
            continue
        onward, kept = (
            LeastOnward(ways, costs),
            [[b for b in bits if left >> b & 1] for bits, left in zip(ways.bits, ways.left)],
        )
        fits = [
            way for way in product(*kept)
            if all(table[way[one]] >> way[other] & 1 for (one, other), table in ways.tables.items())
        ]  # fmt: skip
        for way in product(*kept):
            thing = seed % len(kept)
            at = [*way[:thing], *[None] * (len(kept) - thing)]
            told = onward.from_here(at, thing)
            for bit, row in onward.row[thing].items():
                beyond = [one for one in fits if one[:thing] == way[:thing] and one[thing] == bit]
                for sum_ in range(2):
                    least = min(
                        (sum(costs[by][sum_][ways.bits[by].index(one[by])] for by in range(thing, len(kept)))
                         for one in beyond), default=None,
                    )  # fmt: skip
                    if least is None:
                        continue
                    assert told[sum_, row] <= least
                    seen[bool(told[sum_, row] == least)] += 1
                    if reach == 1:
                        assert told[sum_, row] == least
    assert seen[True] > 500, seen
