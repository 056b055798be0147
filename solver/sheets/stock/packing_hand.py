"""Packing without a search: bounds of the number and the length of bars, and rules by which a maker would pack."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations, combinations_with_replacement
from math import comb

from solver.sheets.stock.packing_long import ORDERS, Long, least_by_fullest, poured

_MOST_STOCKS, _MOST_WITH_LONG = 3000, 200  # choices of bars that are tried
_MOST_SUMS = 100_000
_MOST_CHOICES = 100  # of long pieces that are cut wherever room is left

# (Kind of piece, how many) on one bar; long pieces count on from the kinds, and of them it is units of a part.
Load = tuple[tuple[int, int], ...]
Loads = list[tuple[int, Load]]  # (length of the bar, what lies on it)


@dataclass(frozen=True)
class PackingTask:
    """Different lengths, descending, how many of each, and bars, ascending; each with a saw cut added. longs: pieces
    that are longer than every bar."""

    sizes: tuple[int, ...]
    demand: tuple[int, ...]
    bars: tuple[int, ...]
    longs: tuple[Long, ...] = ()

    @property
    def volume(self) -> int:
        """Length of all pieces, those of long ones in as few parts as the longest bar allows."""
        fixed = sum(size * count for size, count in zip(self.sizes, self.demand, strict=True))
        return fixed + sum(long.volume(self.bars[-1]) for long in self.longs)

    @property
    def most_bars(self) -> int:
        """Bars that surely are enough, all of them the longest: one for each piece, of long ones for each part."""
        return sum(self.demand) + sum(long.fewest_parts(self.bars[-1]) for long in self.longs)

    def length(self, kind: int, count: int) -> int:
        """What so many pieces of a kind, or a part of so many units of a long piece, need of a bar."""
        return self.sizes[kind] * count if kind < len(self.sizes) else self.longs[kind - len(self.sizes)].needs(count)


def least_bars(task: PackingTask) -> int:
    """A lower bound of the number of bars, all of them the longest.

    Any function u with: lengths that fit on a bar together have a sum of u of at most 1, bounds it by the sum of u over
    all pieces. Taken: the length itself, the steps u(x) = floor((k + 1) x) / k, and the function that takes pieces
    longer than 1 - e for whole bars and drops those shorter than e (Fekete and Schepers, Math. Program. 91, 2001,
    from memory).
    """
    bar = task.bars[-1]
    best = -(-task.volume // bar)
    for k in range(1, 20):
        # In units of 1 / (k * bar).
        total = 0
        for size, count in zip(task.sizes, task.demand, strict=True):
            whole = (k + 1) * size
            total += count * (k * size if whole % bar == 0 else whole // bar * bar)
        best = max(best, -(-total // (k * bar)))
    for edge in {size for size in task.sizes if 2 * size <= bar} | {bar // 2 + 1}:
        whole = sum(count for size, count in zip(task.sizes, task.demand, strict=True) if size > bar - edge)
        rest = sum(s * c for s, c in zip(task.sizes, task.demand, strict=True) if edge <= s <= bar - edge)
        best = max(best, whole - (-rest // bar))
    if task.longs:
        best = max(best, least_by_fullest(task.longs, list(zip(task.sizes, task.demand, strict=True)), bar))
    return best


def least_total(task: PackingTask, count: int) -> int:
    """The least total length of so many bars that is not below the pieces' own."""
    shortest = task.bars[0]
    reached = {count * shortest}
    for _ in range(count):
        reached |= {total - shortest + bar for total in reached for bar in task.bars[1:]}
        if len(reached) > _MOST_SUMS:
            return max(task.volume, count * shortest)
    return min((total for total in reached if total >= task.volume), default=task.volume)


RULES = ("first", "best", "fill")


def packed(task: PackingTask, bars: list[int]) -> Iterator[Loads]:
    """Packings on these bars, as far as the rules find some; long pieces go where room is left."""
    for rule in RULES if task.demand else RULES[:1]:
        loads = filled(task, bars, rule)
        if loads is None:
            continue
        if not task.longs:
            yield loads
            continue
        lying = loads + [(bar, ()) for bar in bars[len(loads) :]]
        for order in ORDERS:
            parts = poured(task.longs, [bar - used(task, load) for bar, load in lying], order)
            if parts is not None:
                yield _with_parts(task, lying, parts)


def _with_parts(task: PackingTask, lying: Loads, parts: list[dict[int, int]]) -> Loads:
    """The bars that hold something when parts of long pieces are added."""
    kinds = len(task.sizes)
    more = [tuple((kinds + number, units) for number, units in sorted(here.items())) for here in parts]
    both = [(bar, load + some) for (bar, load), some in zip(lying, more, strict=True)]
    return [(bar, load) for bar, load in both if load]


def filled(task: PackingTask, bars: list[int], rule: str) -> Loads | None:
    """Pieces on these bars, long ones left out, longest first: each on the first bar, or on the fullest, where it goes;
    or bar after bar filled as full as can be. None where they do not all go on."""
    if rule == "fill":
        return _filled_up(task, bars)
    room: list[int] = []
    loads: list[Counter[int]] = []
    for kind, (size, count) in enumerate(zip(task.sizes, task.demand, strict=True)):
        for _ in range(count):
            fitting = [index for index, left in enumerate(room) if left >= size]
            if fitting:
                at = fitting[0] if rule == "first" else min(fitting, key=lambda index: room[index])
            else:
                if len(room) == len(bars) or bars[len(room)] < size:
                    return None
                at = len(room)
                room.append(bars[at])
                loads.append(Counter())
            room[at] -= size
            loads[at][kind] += 1
    return [(bar, tuple(sorted(load.items()))) for bar, load in zip(bars, loads, strict=False)]


def _filled_up(task: PackingTask, bars: list[int]) -> Loads | None:
    """Bar after bar, the longest piece left first and then what fills the rest best (a knapsack of lengths)."""
    left = list(task.demand)
    found: Loads = []
    for bar in bars:
        if not any(left):
            break
        first = next((kind for kind, count in enumerate(left) if count and task.sizes[kind] <= bar), None)
        if first is None:
            return None
        left[first] -= 1
        load = Counter({first: 1})
        load.update(_fullest(task.sizes, left, bar - task.sizes[first]))
        for kind, count in load.items():
            left[kind] -= count - (kind == first)
        found.append((bar, tuple(sorted(load.items()))))
    return None if any(left) else found


def _fullest(sizes: tuple[int, ...], left: list[int], room: int) -> Counter[int]:
    """The choice of what is left that fills the room best; long pieces are preferred."""
    reach, sums = 1, []  # bit n of reach: a length of n can be made
    for kind, count in enumerate(left):
        sums.append(reach)
        size = sizes[kind]
        for _ in range(min(count, room // size)):
            after = (reach | reach << size) & ((1 << (room + 1)) - 1)
            if after == reach:
                break
            reach = after
    at, chosen = reach.bit_length() - 1, Counter[int]()
    for kind in range(len(left) - 1, -1, -1):
        while not sums[kind] >> at & 1:
            chosen[kind] += 1
            at -= sizes[kind]
    return chosen


def tried(task: PackingTask, bars: list[int]) -> Iterator[Loads]:
    """Packings on these bars, as far as some are found. Most long pieces give whole bars, the longest, and a rest that
    is packed with the other pieces; none, one, two or all of them are cut wherever room is left."""
    numbers = range(len(task.longs))
    yield from _freely(task, bars, ())
    for some in (1, 2):
        if comb(len(numbers), some) <= _MOST_CHOICES:
            for free in combinations(numbers, some):
                yield from _freely(task, bars, free)
    if len(numbers) > 2:
        yield from _freely(task, bars, tuple(numbers))


def _freely(task: PackingTask, bars: list[int], free: tuple[int, ...]) -> Iterator[Loads]:
    """Packings in which only these long pieces are cut wherever room is left."""
    bar, kinds = task.bars[-1], len(task.sizes)
    pieces = Counter(dict(zip(task.sizes, task.demand, strict=True)))
    whole: Loads = []
    rests: dict[int, list[tuple[int, int]]] = {}
    for number, long in enumerate(task.longs):
        left = long.units if number not in free else 0
        while left:
            units = long.part(left, bar)
            left -= units
            if left:
                whole.append((bar, ((kinds + number, units),)))
            else:
                pieces[long.needs(units)] += 1
                rests.setdefault(long.needs(units), []).append((kinds + number, units))
    if bars.count(bar) < len(whole):
        return
    others = list(bars)
    for _ in whole:
        others.remove(bar)
    sizes = tuple(sorted(pieces, reverse=True))
    plain = PackingTask(
        sizes, tuple(pieces[size] for size in sizes), task.bars, tuple(task.longs[number] for number in free)
    )
    for loads in packed(plain, others):
        left_of = {size: list(some) for size, some in rests.items()}
        found = list(whole)
        for length, load in loads:
            here: Counter[int] = Counter()
            for kind, count in load:
                if kind >= len(sizes):
                    here[kinds + free[kind - len(sizes)]] = count
                    continue
                some = left_of.get(sizes[kind], [])
                of_rests = min(len(some), count)
                here.update(dict(some.pop() for _ in range(of_rests)))
                if count > of_rests:
                    here[task.sizes.index(sizes[kind])] += count - of_rests
            found.append((length, tuple(sorted(here.items()))))
        yield found


def by_hand(task: PackingTask, count: int, below: int) -> Loads | None:
    """A packing on so many bars of less total length, tried for every choice of bars, the least total first; of those
    that are found on the same bars the one with long pieces in the fewest parts."""
    if comb(count + len(task.bars) - 1, count) > (_MOST_WITH_LONG if task.longs else _MOST_STOCKS):
        return None
    choices = combinations_with_replacement(reversed(task.bars), count)
    for bars in sorted((choice for choice in choices if task.volume <= sum(choice) < below), key=lambda c: (sum(c), c)):
        for order in (list(bars), list(reversed(bars))):
            for loads in packed(task, order):
                if len(loads) == count:
                    more = tried(task, order) if task.longs else iter(())
                    alike = [loads, *(other for other in more if len(other) == count)]
                    return min(alike, key=lambda one: parts_of(task, one))
    return None


def used(task: PackingTask, load: Load) -> int:
    """Length of what lies on a bar."""
    return sum(task.length(kind, count) for kind, count in load)


def parts_of(task: PackingTask, loads: Loads) -> int:
    """In how many parts the long pieces lie on the bars."""
    return sum(kind >= len(task.sizes) for _, load in loads for kind, _ in load)


def total(loads: Loads) -> int:
    """Length of all bars."""
    return sum(bar for bar, _ in loads)
