"""Packing on stock bars: what it says is least is least, found again by enumeration that shares nothing with it."""

from __future__ import annotations

import random
from collections import Counter
from functools import cache
from itertools import combinations_with_replacement, pairwise

import pytest

from solver.design.errors import DesignError
from solver.sheets.packing import Packing, pack


def checked(packing: Packing, pieces: list[tuple[float, str]], stock: list[float], kerf: float) -> None:
    """Every piece lies on a bar once, and no bar is longer than it is: counted from the bars alone."""
    there = Counter(piece for bar in packing.bars for piece in bar.pieces)
    assert there == Counter(pieces)
    for bar in packing.bars:
        assert bar.stock_mm in stock and bar.pieces
        assert sum(length for length, _ in bar.pieces) + kerf * (len(bar.pieces) - 1) <= bar.stock_mm + 1e-6


def fewest(lengths: list[int], bar: int, kerf: int) -> int:
    """The fewest bars, by exhaustive branch and bound: each piece, longest first, on every bar that differs in what is
    left of it, or on a new one. Whole units; the last piece of a bar needs no cut."""
    pieces = sorted(lengths, reverse=True)
    best = len(pieces)
    rest = [sum(pieces[index:]) + kerf * len(pieces[index:]) for index in range(len(pieces) + 1)]
    seen: set[tuple[int, tuple[int, ...]]] = set()

    def place(index: int, left: tuple[int, ...]) -> None:
        nonlocal best
        if len(left) >= best:
            return
        if index == len(pieces):
            best = len(left)
            return
        if len(left) + max(0, -(-(rest[index] - sum(left)) // (bar + kerf))) >= best or (index, left) in seen:
            return
        seen.add((index, left))
        need = pieces[index] + kerf
        for room in sorted(set(left)):
            if room >= need:
                at = left.index(room)
                place(index + 1, tuple(sorted((*left[:at], room - need, *left[at + 1 :]))))
        place(index + 1, tuple(sorted((*left, bar + kerf - need))))

    place(0, ())
    return best


def least_total(lengths: list[int], stock: list[int], kerf: int, count: int) -> int:
    """The least total of so many bars that hold the pieces: every choice of bars, every way to fill them."""
    for bars in sorted(combinations_with_replacement(stock, count), key=sum):
        if goes_on(tuple(sorted(lengths, reverse=True)), tuple(sorted(bar + kerf for bar in bars)), kerf):
            return sum(bars)
    raise AssertionError("no choice of bars holds the pieces")


@cache
def goes_on(pieces: tuple[int, ...], rooms: tuple[int, ...], kerf: int) -> bool:
    if not pieces:
        return True
    need = pieces[0] + kerf
    for room in sorted(set(rooms)):
        if room >= need:
            at = rooms.index(room)
            if goes_on(pieces[1:], tuple(sorted((*rooms[:at], room - need, *rooms[at + 1 :]))), kerf):
                return True
    return False


def draw(seed: int) -> tuple[list[int], list[int], int]:
    """Pieces, bars and saw cut [mm] of a random list; some lists of long pieces, some with many alike."""
    rng = random.Random(seed)
    bar = rng.choice([500, 914, 1000, 1829])
    low, high = rng.choice([(0.05, 0.95), (0.2, 0.5), (0.24, 0.4), (0.1, 0.35), (0.34, 0.7)])
    kinds = [rng.randint(int(low * bar), int(high * bar)) for _ in range(rng.randint(2, 12))]
    return [rng.choice(kinds) for _ in range(rng.randint(5, 16))], [bar], rng.choice([0, 1, 2, 3])


@pytest.mark.parametrize("seed", range(80))
def test_the_fewest_bars(seed: int) -> None:
    lengths, stock, kerf = draw(seed)
    pieces = [(float(length), f"piece {index}") for index, length in enumerate(lengths)]
    packing = pack(pieces, stock, kerf)
    checked(packing, pieces, [float(bar) for bar in stock], kerf)
    assert packing.proven, (lengths, stock, kerf)
    assert len(packing.bars) == packing.least_bars == fewest(lengths, stock[0], kerf), (lengths, stock, kerf)


@pytest.mark.parametrize("seed", range(100, 140))
def test_the_fewest_bars_and_of_these_the_least_length(seed: int) -> None:
    rng = random.Random(seed)
    lengths, stock, kerf = draw(seed)
    lengths = lengths[:10]
    stock = sorted({*stock, *(rng.randint(max(lengths) // 2, stock[0]) for _ in range(rng.randint(1, 3)))})
    pieces = [(float(length), f"piece {index}") for index, length in enumerate(lengths)]
    packing = pack(pieces, stock, kerf)
    checked(packing, pieces, [float(bar) for bar in stock], kerf)
    assert packing.proven, (lengths, stock, kerf)
    count = fewest(lengths, stock[-1], kerf)
    assert len(packing.bars) == count, (lengths, stock, kerf)
    assert packing.total_mm == pytest.approx(least_total(lengths, stock, kerf, count)), (lengths, stock, kerf)


@pytest.mark.parametrize("seed", range(200, 220))
def test_bars_that_were_sawn_up_without_waste_are_put_together_again(seed: int) -> None:
    """No packing can be better than the bars that the pieces came from, and rules that do not search miss it."""
    rng = random.Random(seed)
    lengths: list[int] = []
    for _ in range(rng.randint(4, 7)):
        cuts = sorted(rng.sample(range(120, 880), rng.randint(1, 3)))
        lengths += [after - before for before, after in pairwise([0, *cuts, 1000])]
    count = sum(lengths) // 1000
    pieces = [(float(length), f"piece {index}") for index, length in enumerate(lengths)]
    packing = pack(pieces, [1000.0], 0.0)
    checked(packing, pieces, [1000.0], 0.0)
    assert packing.proven and len(packing.bars) == count, lengths


def test_the_saw_counts_and_the_last_piece_needs_no_cut() -> None:
    two = [(499.5, "a"), (499.5, "b")]
    assert len(pack(two, [1000.0], 1.0).bars) == 1
    assert len(pack(two, [1000.0], 1.1).bars) == 2
    assert len(pack([(1000.0, "a")], [1000.0], 3.0).bars) == 1


def test_lengths_are_never_rounded_to_the_maker_s_harm() -> None:
    # Three pieces of 333.34 mm are 1000.02 mm.
    assert len(pack([(333.34, "a")] * 3, [1000.0], 0.0).bars) == 2
    assert len(pack([(333.3, "a")] * 3, [1000.0], 0.0).bars) == 1
    assert len(pack([(914.4, "a")], [914.4], 0.0).bars) == 1


def test_hundreds_of_pieces_alike() -> None:
    pieces = [(8.2, "pin")] * 700 + [(float(length), f"loop {length}") for length in range(300, 1200, 37)]
    packing = pack(pieces, [914.0, 1829.0], 1.0)
    checked(packing, pieces, [914.0, 1829.0], 1.0)
    volume = sum(length + 1 for length, _ in pieces)
    assert packing.proven_bars and len(packing.bars) >= volume / 1830


def test_the_same_pieces_give_the_same_bars() -> None:
    lengths, stock, kerf = draw(3)
    pieces = [(float(length), f"piece {index}") for index, length in enumerate(lengths)]
    assert pack(pieces, [*stock, 700], kerf) == pack(pieces, [700, *stock], kerf)


def test_a_limit_is_said_and_never_called_proven() -> None:
    """Sixty different lengths of which three or four go on a bar, and no time to look."""
    rng = random.Random(3)
    pieces = [(rng.uniform(200, 350), f"piece {index}") for index in range(60)]
    packing = pack(pieces, [1000.0], 1.0, work=1e-6)
    checked(packing, pieces, [1000.0], 1.0)
    assert packing.least_bars < len(packing.bars) and not packing.proven
    assert "a limit stopped the search" in packing.text()


def test_a_piece_longer_than_every_bar_is_refused_in_one_line() -> None:
    with pytest.raises(DesignError) as refused:
        pack([(100.0, "ring 1: loop"), (1900.5, "ring 3: loop")], [914.0, 1829.0], 1.0)
    message = str(refused.value)
    assert message == "wire.stock = [914.0, 1829.0]: the longest bar is shorter than a piece: ring 3: loop, 1900.5 mm"


def test_nothing_to_cut_needs_no_bar() -> None:
    packing = pack([], [914.0], 1.0)
    assert packing.bars == () and packing.proven
