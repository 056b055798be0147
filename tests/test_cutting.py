"""Packing on stock bars: what it says is least is least, found again by enumeration that shares nothing with it."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterator
from fractions import Fraction
from functools import cache
from itertools import combinations_with_replacement, pairwise
from math import ceil

import pytest

from solver.design.errors import DesignError
from solver.sheets.stock.packing import Joined, Packing, pack


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
    assert message == "wire.stock = [914, 1829]: the longest bar is shorter than a piece: ring 3: loop, 1900.5 mm"


# -- pieces that are joined -------------------------------------------------------------------------------------------

# Tenths of a mm: fixed pieces; of each long piece the units that are left; and what may be cut from it.
State = tuple[tuple[int, ...], tuple[int, ...]]
Kinds = tuple[tuple[Fraction, Fraction, int], ...]  # of each long piece: a unit, what a part is longer, its least units


def sawn(kind: tuple[Fraction, Fraction, int], units: int) -> int:
    return ceil(units * kind[0] + kind[1])


def after_a_bar(state: State, room: int, kerf: int, kinds: Kinds) -> Iterator[State]:
    """Everything that can be left after one bar: any choice of pieces, of each long piece up to two parts. room: the
    bar and a saw cut, as each piece takes one."""

    def parts(number: int, left: tuple[int, ...], free: int) -> Iterator[tuple[int, ...]]:
        if number == len(kinds):
            yield left
            return
        kind = kinds[number]
        yield from parts(number + 1, left, free)
        for one in range(kind[2], left[number] + 1):
            need = sawn(kind, one) + kerf
            if need > free:
                break
            rest = (*left[:number], left[number] - one, *left[number + 1 :])
            yield from parts(number + 1, rest, free - need)
            for two in range(kind[2], min(one, rest[number]) + 1):
                more = sawn(kind, two) + kerf
                if need + more <= free:
                    yield from parts(
                        number + 1, (*rest[:number], rest[number] - two, *rest[number + 1 :]), free - need - more
                    )

    def pieces(index: int, kept: tuple[int, ...], free: int) -> Iterator[tuple[tuple[int, ...], int]]:
        if index == len(state[0]):
            yield kept, free
            return
        need = state[0][index] + kerf
        if need <= free:
            yield from pieces(index + 1, kept, free - need)
        yield from pieces(index + 1, (*kept, state[0][index]), free)

    for kept, free in set(pieces(0, (), room)):
        for left in parts(0, state[1], free):
            yield kept, left


def goes_on_joined(state: State, bars: tuple[int, ...], kerf: int, kinds: Kinds) -> bool:
    """Whether everything comes from these bars, by trying everything."""
    found = {state}
    for bar in bars:
        found = {after for before in found for after in after_a_bar(before, bar + kerf, kerf, kinds)}
    return ((), (0,) * len(kinds)) in found


def draw_joined(seed: int) -> tuple[list[float], list[Joined], list[float], float]:
    """Fixed pieces, joined ones, bars and saw cut [mm] of a small random list."""
    rng = random.Random(f"joined {seed}")
    bar = rng.choice([100.0, 120.0, 91.4])
    stock = sorted({bar, *(round(rng.uniform(0.5, 0.95) * bar, 1) for _ in range(rng.choice((0, 0, 1, 2))))})
    extra, joined = rng.choice((0.0, 1.0, 0.5)), []
    for number in range(rng.choice((1, 1, 2))):
        unit = round(rng.uniform(0.12, 0.45) * bar, 2)
        most = int((bar - extra) / unit)
        units = rng.randint(most + 1, most + 6)
        joined.append(Joined(f"long {number}", units, unit, extra, rng.randint(1, max(most // 2, 1)), "teeth"))
    lengths = [round(rng.uniform(0.1, 0.9) * bar, 1) for _ in range(rng.randint(0, 4 - len(joined)))]
    return lengths, joined, stock, float(rng.choice((0, 1, 2)))


@pytest.mark.deep
@pytest.mark.parametrize("seed", range(60))
def test_where_long_pieces_are_cut_is_part_of_what_is_proven(seed: int) -> None:
    lengths, joined, stock, kerf = draw_joined(seed)
    pieces = [(length, f"piece {index}") for index, length in enumerate(lengths)]
    packing = pack(pieces, stock, kerf, joined=joined)
    told = (lengths, joined, stock, kerf)
    # What lies on the bars is what is wanted, and has room there.
    for bar in packing.bars:
        assert bar.stock_mm in stock and bar.pieces
        assert sum(length for length, _ in bar.pieces) + kerf * (len(bar.pieces) - 1) <= bar.stock_mm + 1e-6, told
    lying = Counter(piece for bar in packing.bars for piece in bar.pieces)
    kinds = tuple((Fraction(str(one.unit_mm)) * 10, Fraction(str(one.extra_mm)) * 10, one.least) for one in joined)
    due = Counter(pieces)
    for one, kind, parts in zip(joined, kinds, packing.parts, strict=True):
        assert sum(parts) == one.units and min(parts) >= one.least, told
        for number, units in enumerate(parts, start=1):
            due[sawn(kind, units) / 10, f"{one.label}, {number} of {len(parts)}, {units} teeth"] += 1
    assert lying == due, told
    # No fewer bars, and of as few no less length: everything is tried.
    assert packing.proven, told
    tenths, cut = [round(bar * 10) for bar in stock], round(kerf * 10)
    state = tuple(sorted(round(length * 10) for length in lengths)), tuple(one.units for one in joined)
    count = len(packing.bars)
    assert not goes_on_joined(state, (tenths[-1],) * (count - 1), cut, kinds), told
    shorter = [
        bars for bars in combinations_with_replacement(tenths, count) if sum(bars) / 10 < packing.total_mm - 0.05
    ]
    assert not any(goes_on_joined(state, bars, cut, kinds) for bars in shorter), told


def test_what_equal_parts_need_eighteen_bars_for_comes_from_thirteen() -> None:
    """Nine tooth wires of 1.4 bars: halves of 0.7 bars take a bar each."""
    joined = [Joined(f"ring {number}: tooth wire", 70, 36.5, 1.0, 1, "teeth") for number in range(9)]
    halves = [(35 * 36.5 + 1, f"half {number}") for number in range(18)]
    assert len(pack(halves, [914.0, 1829.0], 1.0).bars) == 18
    packing = pack([], [914.0, 1829.0], 1.0, 0.4, joined)
    volume = 9 * (70 * 36.5 + 2 * 2) / 1830
    assert 12 < volume < 13
    assert packing.proven and len(packing.bars) == 13
    assert (
        packing.text() == "13 bars: the fewest, and of these the least length, proven, however long pieces are joined"
    )


def test_a_loop_is_cut_anywhere_but_leaves_no_end_that_cannot_be_held() -> None:
    loop = Joined("loop", 10_050, 0.1, 1.0, 200)
    (parts,) = pack([], [1000.0], 1.0, joined=[loop]).parts
    assert sum(parts) == 10_050 and len(parts) == 2 and min(parts) >= 200


def test_long_pieces_are_in_few_parts() -> None:
    """What no fewer bars need is not cut up more: a rest that goes beside another piece is left in one."""
    joined = [Joined(f"wire {number}", 30, 40.0, 0.0, 1) for number in range(3)]
    packing = pack([(790.0, "rod")] * 3, [1000.0], 0.0, joined=joined)
    assert packing.proven and len(packing.bars) == 6 and [len(parts) for parts in packing.parts] == [2, 2, 2]


def test_nothing_to_cut_needs_no_bar() -> None:
    packing = pack([], [914.0], 1.0)
    assert packing.bars == () and packing.proven
