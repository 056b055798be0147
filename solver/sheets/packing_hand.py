"""Packing without a search: bounds of the number and the length of bars, and rules by which a maker would pack."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from itertools import combinations_with_replacement
from math import comb

_MOST_STOCKS = 3000  # choices of bars that are tried
_MOST_SUMS = 100_000

Load = tuple[tuple[int, int], ...]  # (kind of piece, how many) on one bar
Loads = list[tuple[int, Load]]  # (length of the bar, what lies on it)


@dataclass(frozen=True)
class Task:
    """Different lengths, descending, how many of each, and bars, ascending; each with a saw cut added."""

    sizes: tuple[int, ...]
    demand: tuple[int, ...]
    bars: tuple[int, ...]

    @property
    def volume(self) -> int:
        """Length of all pieces."""
        return sum(size * count for size, count in zip(self.sizes, self.demand, strict=True))


def least_bars(task: Task) -> int:
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
    return best


def least_total(task: Task, count: int) -> int:
    """The least total length of so many bars that is not below the pieces' own."""
    shortest = task.bars[0]
    reached = {count * shortest}
    for _ in range(count):
        reached |= {total - shortest + bar for total in reached for bar in task.bars[1:]}
        if len(reached) > _MOST_SUMS:
            return max(task.volume, count * shortest)
    return min((total for total in reached if total >= task.volume), default=task.volume)


RULES = ("first", "best", "fill")


def filled(task: Task, bars: list[int], rule: str) -> Loads | None:
    """Pieces on these bars, longest first: each on the first bar, or on the fullest, where it goes; or bar after bar
    filled as full as can be. None where they do not all go on."""
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


def _filled_up(task: Task, bars: list[int]) -> Loads | None:
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


def by_hand(task: Task, count: int, below: int) -> Loads | None:
    """A packing on so many bars of less total length, tried for every choice of bars, the least total first."""
    if comb(count + len(task.bars) - 1, count) > _MOST_STOCKS:
        return None
    choices = combinations_with_replacement(reversed(task.bars), count)
    for bars in sorted((choice for choice in choices if task.volume <= sum(choice) < below), key=lambda c: (sum(c), c)):
        for rule in RULES:
            for order in (list(bars), list(reversed(bars))):
                loads = filled(task, order, rule)
                if loads is not None and len(loads) == count:
                    return loads
    return None


def used(task: Task, load: Load) -> int:
    """Length of what lies on a bar."""
    return sum(task.sizes[kind] * count for kind, count in load)


def total(loads: Loads) -> int:
    """Length of all bars."""
    return sum(bar for bar, _ in loads)
