"""The window: what the errors alone leave of a structure, found without CP-SAT.

The logarithm of a ring's period is walked along the chain of links in units of 1/scale, and the set of values it
can take at a ring is one Python integer, a bit for each value: a link is a few shifts and ors, a body a mask.
That gives, within rounding, the least possible worst error, the number of trains below an error, and which
candidates can be part of one.

Rounding. A candidate's step is rounded once (0.5 units), the start once, the windows outwards (1 unit each); so a
train whose exact error is below W - slack is inside at W, and one that is inside at W is below W + slack, with
slack = links // 2 + 3.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from solver.design.design import Design, Structure
from solver.design.exact import log_fraction
from solver.design.kinematics import effective_caps, sense_allowed
from solver.design.links import KINDS
from solver.search.candidates import Candidates, Option
from solver.search.tally import MANY, TICK, Tally, set_cells

State = tuple[int, int, int]  # ring teeth, third gears used, 1 where the ring turns against ring 0
Bits = dict[State, int]


@lru_cache(maxsize=1 << 17)
def _log_ratio(wheel: int, pinion: int) -> float:
    return math.log(wheel) - math.log(pinion)


@dataclass(frozen=True)
class Step:
    """Steps of one link between two given rings that do the same to thirds and sense.

    shifts: scaled log(wheel/pinion), ascending, and the candidates that share it.
    """

    thirds: int
    turn: int
    shifts: tuple[tuple[int, tuple[Option, ...]], ...]


@dataclass
class Sets:
    """Values reachable at the rings first..last: bit n of bits[i][state] stands for the value low[i] + n."""

    first: int
    low: list[int]
    width: list[int]
    bits: list[Bits]


class Chain:
    """One structure as a chain of logarithmic steps, at one scale."""

    def __init__(
        self,
        design: Design,
        structure: Structure,
        candidates: Candidates,
        scale: int,
        tick: Callable[[], None] = lambda: None,
    ) -> None:
        """tick: called at every step along the chain; what it raises ends the work."""
        self.design, self.structure, self.candidates, self.scale = design, structure, candidates, scale
        self.tick = tick
        self.slack = structure.links // 2 + 3
        self.third_limit = candidates.third_limit(structure)
        asked = {body.sense for body in design.bodies}
        self.track_sense = "reverse" in asked or ("same" in asked and self.third_limit > 0)
        self.body_at = {place: index for index, place in enumerate(structure.places)}
        self.cap_units = [
            0.0 if cap == 0 and not index else scale * math.log1p(float(cap)) + self.slack
            for index, cap in enumerate(effective_caps(design))
        ]
        self.most_units = math.ceil(scale * math.log1p(float(design.limits.max_error))) + self.slack
        # Chains of one design with the same limits share their steps.
        self._steps: dict[tuple[int, int], tuple[Step, ...]] = candidates.shared.setdefault(
            (scale, self.third_limit, self.track_sense), {}
        )
        self._log_teeth = {z: scale * math.log(z) for ring in structure.rings for z in ring}
        # When candidates do not depend on the rings, neither do the steps: all inner rings go into one state.
        self.free = not candidates.reverted

    # -- steps -------------------------------------------------------------------------------------------------

    def steps(self, inner: int, outer: int) -> tuple[Step, ...]:
        key = (inner, outer) if not self.free else (0, 0)
        if key not in self._steps:
            found: dict[tuple[int, int], dict[int, list[Option]]] = {}
            for index, candidate in enumerate(self.candidates.between(inner, outer)):
                if index % TICK == 0:
                    self.tick()
                kind = KINDS[candidate.kind]
                if kind.thirds <= self.third_limit:
                    turn = int(kind.reverses and self.track_sense)
                    shift = round(self.scale * _log_ratio(candidate.wheel, candidate.pinion))
                    option = (candidate.kind, candidate.wheel, candidate.pinion)
                    found.setdefault((kind.thirds, turn), {}).setdefault(shift, []).append(option)
            self._steps[key] = tuple(
                Step(thirds, turn, tuple((shift, tuple(options)) for shift, options in sorted(shifts.items())))
                for (thirds, turn), shifts in sorted(found.items())
            )
        return self._steps[key]

    def _ring_pairs(self, link: int) -> Iterator[tuple[int, int]]:
        for inner in self.structure.rings[link]:
            for outer in self.outer_teeth(link, inner):
                yield inner, outer

    def _reach(self, link: int) -> tuple[int, int] | None:
        """Least and greatest shift of a link over all its rings."""
        pairs = [next(self._ring_pairs(link))] if self.free else self._ring_pairs(link)
        ends = [(step.shifts[0][0], step.shifts[-1][0]) for inner, outer in pairs for step in self.steps(inner, outer)]
        return (min(low for low, _ in ends), max(high for _, high in ends)) if ends else None

    # -- windows -----------------------------------------------------------------------------------------------

    def room(self, body: int, units: float) -> float:
        """min(units, the body's cap) in scaled units."""
        return min(units, self.cap_units[body])

    def windows(self, units: float) -> dict[int, tuple[float, float]]:
        """For each ring with a body, the scaled log periods allowed at that worst error."""
        first = self.design.bodies[0]
        base = self.scale * log_fraction(first.low) if self.design.reference == "first" else 0.0
        found = {}
        for ring, index in self.body_at.items():
            body, room = self.design.bodies[index], self.room(index, units)
            low, high = self.scale * log_fraction(body.low) - base, self.scale * log_fraction(body.high) - base
            found[ring] = (low - room, high + room)
        return found

    def windows_from(self, start: int, units: float) -> dict[int, tuple[float, float]]:
        """As `windows`, but relative to the body on ring `start`, which may lie anywhere in its own window."""
        index = self.body_at[start]
        origin = self.design.bodies[index]
        found = {}
        for ring, other in self.body_at.items():
            if ring > start:
                body = self.design.bodies[other]
                room = self.room(index, units) + self.room(other, units)
                found[ring] = (
                    self.scale * log_fraction(body.low / origin.high) - room,
                    self.scale * log_fraction(body.high / origin.low) + room,
                )
        return found

    def cells(self, window: tuple[float, float], teeth: int) -> tuple[int, int]:
        shift = self._log_teeth[teeth]
        return math.floor(window[0] - shift), math.ceil(window[1] - shift)

    def _start(self, ring: int, window: tuple[float, float] | None) -> dict[int, tuple[int, int]]:
        """Cells of log(period / teeth) at the first ring, for each of its tooth counts."""
        if window is None:
            return {z: (round(-self._log_teeth[z]),) * 2 for z in self.structure.rings[ring]}
        return {z: self.cells(window, z) for z in self.structure.rings[ring]}

    def _intervals(
        self, first: int, last: int, start: dict[int, tuple[int, int]], windows: dict[int, tuple[float, float]]
    ) -> list[tuple[int, int]] | None:
        """Hull of the values at each ring, from both ends; None where a hull is empty."""
        hulls = [(min(a for a, _ in start.values()), max(b for _, b in start.values()))]
        reaches = []
        for link in range(first, last):
            reach = self._reach(link)
            if reach is None:
                return None
            reaches.append(reach)
            low, high = hulls[-1][0] + reach[0], hulls[-1][1] + reach[1]
            if link + 1 in windows:
                cells = [self.cells(windows[link + 1], z) for z in self.structure.rings[link + 1]]
                low, high = max(low, min(a for a, _ in cells)), min(high, max(b for _, b in cells))
            if low > high:
                return None
            hulls.append((low, high))
        for i in range(len(hulls) - 2, -1, -1):
            low = max(hulls[i][0], hulls[i + 1][0] - reaches[i][1])
            high = min(hulls[i][1], hulls[i + 1][1] - reaches[i][0])
            if low > high:
                return None
            hulls[i] = (low, high)
        return hulls

    def _end_states_allowed(self, ring: int, turn: int) -> bool:
        index = self.body_at.get(ring)
        return index is None or not self.track_sense or sense_allowed(self.design.bodies[index], bool(turn))

    # -- reachability --------------------------------------------------------------------------------------------

    def forward(self, units: float, start: int = 0, last: int | None = None, relative: bool = False) -> Sets | None:
        """Values reachable at every ring from `start` to `last` at that worst error; None: none reach the end.

        relative: measured from the body on ring `start`, held at 0.
        """
        last = self.structure.links if last is None else last
        if self.third_limit < 0:
            return None
        single = relative or self.design.reference == "first"
        windows = self.windows_from(start, units) if relative else self.windows(units)
        begin = self._start(start, None if single else windows[start])
        hulls = self._intervals(start, last, begin, windows)
        if hulls is None:
            return None
        low = [a for a, _ in hulls]
        width = [b - a + 1 for a, b in hulls]
        sets = Sets(start, low, width, [self._begin(start, begin, hulls[0])])
        for link in range(start, last):
            layer = self._forward_step(link, sets, windows.get(link + 1))
            if not layer:
                return None
            sets.bits.append(layer)
        return sets

    def _begin(self, ring: int, begin: dict[int, tuple[int, int]], hull: tuple[int, int]) -> Bits:
        bits: Bits = {}
        for teeth, (a, b) in begin.items():
            a, b = max(a, hull[0]), min(b, hull[1])
            for turn in (0, 1) if ring and self.track_sense else (0,):
                if a <= b and self._end_states_allowed(ring, turn):
                    bits[(teeth, 0, turn)] = ((1 << (b - a + 1)) - 1) << (a - hull[0])
        return bits

    def _forward_step(self, link: int, sets: Sets, window: tuple[float, float] | None) -> Bits:
        self.tick()
        at = link - sets.first
        source, base = sets.bits[at], sets.low[at] - sets.low[at + 1]
        full = (1 << sets.width[at + 1]) - 1
        found: Bits = {}
        for inner, states in self._sources(source):
            for outer in self._targets(link, inner):
                for (thirds, turn), bits in states.items():
                    for step in self.steps(inner, outer):
                        used, turned = thirds + step.thirds, turn ^ step.turn
                        if used > self.third_limit or not self._end_states_allowed(link + 1, turned):
                            continue
                        moved = 0
                        for index, (shift, _) in enumerate(step.shifts):
                            if index % TICK == 0:
                                self.tick()
                            by = base + shift
                            moved |= bits << by if by >= 0 else bits >> -by
                        moved &= full
                        if moved:
                            key = (outer, used, turned)
                            found[key] = found.get(key, 0) | moved
        return self._masked(link + 1, found, sets.low[at + 1], full, window)

    def _sources(self, source: Bits) -> Iterator[tuple[int, dict[tuple[int, int], int]]]:
        """States grouped by ring teeth; all in one group (teeth 0) where the steps do not depend on them."""
        groups: dict[int, dict[tuple[int, int], int]] = {}
        for (teeth, thirds, turn), bits in source.items():
            group = groups.setdefault(0 if self.free else teeth, {})
            group[(thirds, turn)] = group.get((thirds, turn), 0) | bits
        yield from groups.items()

    def _targets(self, link: int, inner: int) -> tuple[int, ...]:
        """The outer rings that a group of states leads to: one for all (teeth 0) where they do not matter."""
        return (0,) if self.free else self.outer_teeth(link, inner)

    def _masked(self, ring: int, found: Bits, low: int, full: int, window: tuple[float, float] | None) -> Bits:
        """Cut by the body's window; a merged state (teeth 0) becomes one for each tooth count of the ring."""
        masked: Bits = {}
        for (teeth, thirds, turn), bits in found.items():
            for z in self.structure.rings[ring] if teeth == 0 else (teeth,):
                kept = bits
                if window is not None:
                    a, b = self.cells(window, z)
                    a, b = max(a - low, 0), b - low
                    kept = bits & (((1 << (b - a + 1)) - 1) << a) & full if b >= a else 0
                if kept:
                    masked[(z, thirds, turn)] = kept
        return masked

    def backward(self, sets: Sets) -> Sets:
        """The part of `sets` from which the last ring can be reached."""
        alive = Sets(sets.first, sets.low, sets.width, [{} for _ in sets.bits])
        alive.bits[-1] = dict(sets.bits[-1])
        for at in range(len(sets.bits) - 2, -1, -1):
            link, base = sets.first + at, sets.low[at] - sets.low[at + 1]
            self.tick()
            goals = dict(self._sources(alive.bits[at + 1]))
            before: Bits = {}
            for inner, states in self._sources(sets.bits[at]):
                for thirds, turn in states:
                    before[(inner, thirds, turn)] = self._before(link, base, goals, inner, thirds, turn)
            for (teeth, thirds, turn), bits in sets.bits[at].items():
                kept = bits & before[(0 if self.free else teeth, thirds, turn)]
                if kept:
                    alive.bits[at][(teeth, thirds, turn)] = kept
        return alive

    def _before(
        self, link: int, base: int, goals: dict[int, dict[tuple[int, int], int]], inner: int, thirds: int, turn: int
    ) -> int:
        """The values at a ring from which one step leads into the goals."""
        found = 0
        for outer in self._targets(link, inner):
            for step in self.steps(inner, outer):
                goal = goals.get(outer, {}).get((thirds + step.thirds, turn ^ step.turn), 0)
                for index, (shift, _) in enumerate(step.shifts if goal else ()):
                    if index % TICK == 0:
                        self.tick()
                    by = base + shift
                    found |= goal >> by if by >= 0 else goal << -by
        return found

    def outer_teeth(self, link: int, inner: int) -> tuple[int, ...]:
        """Teeth that the ring beyond a link may have, where the ring before it has `inner`."""
        return tuple(z for z in self.structure.rings[link + 1] if not self.candidates.growing or z > inner)

    def options(self, forward: Sets, alive: Sets) -> list[set[Option]]:
        """For each link the candidates that lie on a path from `forward` into `alive`."""
        found: list[set[Option]] = []
        for at in range(len(forward.bits) - 1):
            self.tick()
            link, base = forward.first + at, forward.low[at] - forward.low[at + 1]
            goals = dict(self._sources(alive.bits[at + 1]))
            chosen: set[Option] = set()
            for inner, states in self._sources(forward.bits[at]):
                for outer in self._targets(link, inner):
                    for (thirds, turn), bits in states.items():
                        for step in self.steps(inner, outer):
                            goal = goals.get(outer, {}).get((thirds + step.thirds, turn ^ step.turn), 0)
                            for shift, options in step.shifts if goal else ():
                                by = base + shift
                                if (bits << by if by >= 0 else bits >> -by) & goal:
                                    chosen.update(options)
            found.append(chosen)
        return found

    def paths(self, forward: Sets, alive: Sets) -> Iterator[tuple[tuple[int, ...], tuple[Option, ...]]]:
        """Ring teeth and candidates of every path, each once; no path is begun that does not end.

        With a first reference a path is followed by its one cell, with a free rate by the bits of all rates that
        suit it so far.
        """
        rings: list[int] = [0] * (self.structure.links + 1)
        options: list[Option] = [(0, 0, 0)] * self.structure.links
        last = self.structure.links
        single = self.design.reference == "first"
        moved: Callable[[int, int, Any], int | None] = _moved_cell if single else _moved_bits
        goals: list[dict[State, Any]] = [
            {state: set(set_cells(bits)) if single else bits for state, bits in layer.items()} for layer in alive.bits
        ]

        def walk(link: int, inner: int, thirds: int, turn: int, here: int) -> Iterator[None]:
            rings[link] = inner
            if link == last:
                yield
                return
            base, ahead = forward.low[link] - forward.low[link + 1], goals[link + 1]
            for outer in self.outer_teeth(link, inner):
                for step in self.steps(inner, outer):
                    used, turned = thirds + step.thirds, turn ^ step.turn
                    goal = ahead.get((outer, used, turned))
                    for shift, choices in step.shifts if goal else ():
                        there = moved(here, base + shift, goal)
                        if there is not None:
                            for options[link] in choices:
                                yield from walk(link + 1, outer, used, turned, there)

        for (teeth, thirds, turn), bits in alive.bits[0].items():
            for _ in walk(0, teeth, thirds, turn, set_cells(bits)[0] if single else bits):
                yield tuple(rings), tuple(options)

    # -- the least error and the number of trains -------------------------------------------------------------------

    def feasible(self, units: float) -> bool:
        return self.forward(units) is not None

    def least(self, low: int = 0, high: int | None = None) -> int | None:
        """Least whole number of units at which some train is inside, or None if there is none up to `high`."""
        high = self.most_units if high is None else min(high, self.most_units)
        if high < low or not self.feasible(high):
            return None
        while low < high:
            middle = (low + high) // 2
            if self.feasible(middle):
                high = middle
            else:
                low = middle + 1
        return high

    def count(self, units: float) -> int:
        """How many trains (kinds, wheels, pinions, ring teeth) are inside at that error, cut off at MANY.

        With a free rate each train has an unbroken run of start values that suit it; the starts less the pairs of
        neighbouring starts, counted with every window one unit narrower, leave one for each train.
        """
        windows = self.windows(units)
        starts = self._count_starts(units, windows)
        if self.design.reference == "first" or starts >= MANY:
            return min(MANY, starts)
        narrower = {ring: (low, high - 1) for ring, (low, high) in windows.items()}
        return starts - self._count_starts(units, narrower)

    def _count_starts(self, units: float, windows: dict[int, tuple[float, float]]) -> int:
        sets = self.forward(units)
        if sets is None:
            return 0
        layer = {state: Tally.of(bits) for state, bits in sets.bits[0].items()}
        if self.design.reference == "best":
            layer = {
                state: tally.between(*(cell - sets.low[0] for cell in self.cells(windows[0], state[0])))
                for state, tally in layer.items()
            }
        for link in range(self.structure.links):
            layer = self._count_step(link, sets, layer, windows.get(link + 1))
        return sum(tally.total() for tally in layer.values())

    def _count_step(
        self, link: int, sets: Sets, layer: dict[State, Tally], window: tuple[float, float] | None
    ) -> dict[State, Tally]:
        self.tick()
        base, width = sets.low[link] - sets.low[link + 1], sets.width[link + 1]
        groups: dict[State, list[Tally]] = {}
        for (teeth, thirds, turn), tally in layer.items():
            groups.setdefault((0 if self.free else teeth, thirds, turn), []).append(tally)
        moved: dict[State, list[Tally]] = {}
        for (inner, thirds, turn), tallies in groups.items():
            source = Tally.merged(tallies)
            for outer in self._targets(link, inner):
                for step in self.steps(inner, outer):
                    used, turned = thirds + step.thirds, turn ^ step.turn
                    if used <= self.third_limit and self._end_states_allowed(link + 1, turned):
                        moved.setdefault((outer, used, turned), []).append(
                            source.moved(
                                [(base + shift, len(options)) for shift, options in step.shifts], width, self.tick
                            )
                        )
        found: dict[State, list[Tally]] = {}
        for (teeth, thirds, turn), tallies in moved.items():
            reached = Tally.merged(tallies)
            for z in self.structure.rings[link + 1] if teeth == 0 else (teeth,):
                kept = reached
                if window is not None:
                    a, b = self.cells(window, z)
                    kept = reached.between(a - sets.low[link + 1], b - sets.low[link + 1])
                if len(kept.cells):
                    found.setdefault((z, thirds, turn), []).append(kept)
        return {state: Tally.merged(tallies) for state, tallies in found.items()}


def _moved_cell(cell: int, by: int, goal: set[int]) -> int | None:
    return cell + by if cell + by in goal else None


def _moved_bits(bits: int, by: int, goal: int) -> int | None:
    return (bits << by if by >= 0 else bits >> -by) & goal or None


def units_to_error(units: float, scale: int) -> float:
    """The error as a fraction that `units` stand for."""
    return math.expm1(units / scale)
