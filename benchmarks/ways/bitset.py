"""The bitset bound alone, structure after structure: the values that the scaled logarithm of a ring's period can
take are the bits of one Python integer, shifted and or-ed from link to link; third gears used and the sense are
the state. The least error is bisected below the best so far. Plain Python and nothing that couples structures.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from benchmarks.ways.common import Clock, Family, Found, Option, Peer, Problem
from solver.design.train import Train

SCALES = (10**5, 10**6)
FINE = 100  # below so many units of the first scale the second decides

State = tuple[int, int]  # third gears used, 1 where the ring turns against ring 0


@dataclass(frozen=True)
class Step:
    """Options of one class that use as many third gears and turn alike: scaled logarithms and their first option."""

    thirds: int
    turn: int
    shifts: tuple[tuple[int, Option], ...]


class Reach:
    """Reachability over one problem at one scale."""

    def __init__(self, problem: Problem, scale: int) -> None:
        self.problem, self.scale = problem, scale
        self.classes = [tuple(self._steps(options)) for options in problem.classes]
        self.ends = [
            (min(s for step in steps for s, _ in step.shifts), max(s for step in steps for s, _ in step.shifts))
            if steps
            else None
            for steps in self.classes
        ]
        self.targets = [(scale * low, scale * high) for low, high in problem.targets]
        self.most = math.ceil(scale * problem.cap)

    def _steps(self, options: tuple[Option, ...]) -> Iterator[Step]:
        found: dict[State, dict[int, Option]] = {}
        for option in options:
            if option.thirds <= self.problem.third_limit:
                turn = option.turn if self.problem.senses_matter else 0
                found.setdefault((option.thirds, turn), {}).setdefault(round(self.scale * option.log), option)
        for (thirds, turn), shifts in found.items():
            yield Step(thirds, turn, tuple(sorted(shifts.items(), key=lambda item: item[0])))

    def layers(
        self, family: Family, places: tuple[int, ...], units: int
    ) -> tuple[list[int], list[dict[State, int]]] | None:
        """(least value, states) of every ring at that worst error, or None if the last body is out of reach.

        Values leave out the ring's own teeth. First the interval of each ring is narrowed from both ends.
        """
        windows = {}
        for place, (low, high) in zip(places, self.targets, strict=True):
            ring = self.scale * family.logs[place]
            windows[place] = (math.ceil(low - units - ring - 0.5), math.floor(high + units - ring + 0.5))
        ends = [self.ends[one] for one in family.classes[: places[-1]]]
        lows, highs = [0], [0]
        for link, end in enumerate(ends):
            if end is None:
                return None
            low, high = windows.get(link + 1, (-(10**12), 10**12))
            lows.append(max(low, lows[-1] + end[0]))
            highs.append(min(high, highs[-1] + end[1]))
            if lows[-1] > highs[-1]:
                return None
        for link in range(len(ends) - 1, 0, -1):
            lows[link] = max(lows[link], lows[link + 1] - ends[link][1])
            highs[link] = min(highs[link], highs[link + 1] - ends[link][0])
            if lows[link] > highs[link]:
                return None
        limit = self.problem.third_limit
        senses = dict(zip(places, self.problem.senses, strict=True))
        found: list[dict[State, int]] = [{(0, 0): 1}]
        for link in range(len(ends)):
            base = lows[link] - lows[link + 1]
            full = (1 << (highs[link + 1] - lows[link + 1] + 1)) - 1
            wanted = senses.get(link + 1)
            layer: dict[State, int] = {}
            for (thirds, turn), bits in found[-1].items():
                for step in self.classes[family.classes[link]]:
                    state = thirds + step.thirds, turn ^ step.turn
                    if state[0] > limit or (wanted is not None and state[1] != wanted):
                        continue
                    moved = 0
                    for shift, _ in step.shifts:
                        by = base + shift
                        moved |= bits << by if by >= 0 else bits >> -by
                    if moved := moved & full:
                        layer[state] = layer.get(state, 0) | moved
            if not layer:
                return None
            found.append(layer)
        return lows, found

    def train(self, family: Family, places: tuple[int, ...], units: int) -> Train:
        """One train inside at that error, walked back from the last ring."""
        layers = self.layers(family, places, units)
        assert layers is not None
        lows, found = layers
        (state, bits) = next(iter(found[-1].items()))
        value, chosen = lows[-1] + (bits & -bits).bit_length() - 1, []
        for link in range(places[-1] - 1, -1, -1):
            state, value, option = next(
                (before, value - shift, option)
                for before, bits in found[link].items()
                for step in self.classes[family.classes[link]]
                if (before[0] + step.thirds, before[1] ^ step.turn) == state
                for shift, option in step.shifts
                if value - shift >= lows[link] and bits >> (value - shift - lows[link]) & 1
            )
            chosen.append(option)
        return self.problem.train(family, places, chosen[::-1])

    def least(self, clock: Clock) -> tuple[int, Family, tuple[int, ...], bool] | tuple[None, None, None, bool]:
        """Least error [units] over all structures, where, and whether all of them were looked at."""
        best, family_best, places_best = self.most + 1, None, None
        done = True
        for family, places in self.problem.structures():
            if not clock.left():
                done = False
                break
            high = best - 1
            if high < 0 or self.layers(family, places, high) is None:
                continue
            low = 0
            while low < high and clock.left():
                middle = (low + high) // 2
                if self.layers(family, places, middle) is None:
                    low = middle + 1
                else:
                    high = middle
            best, family_best, places_best = high, family, places
            done = low == high
        if family_best is None or places_best is None:
            return None, None, None, done
        return best, family_best, places_best, done


def solve(problem: Problem, clock: Clock) -> Found:
    """The least worst error to rounding, and a train that has it."""
    train, proven, note = None, False, ""
    for scale in SCALES:
        reach = Reach(problem, scale)
        units, family, places, proven = reach.least(clock)
        if units is None or family is None or places is None:
            return Found(train, proven and train is None, note)
        train, note = reach.train(family, places, units), f"scale {scale:,}"
        if units > FINE or not proven:
            break
    return Found(train, proven, note)


BITSET = Peer(
    "bitset bound",
    "reachability in Python integers, structure after structure: the bound alone and one train, no list",
    ("error",),
    lambda: None,
    solve,
)
