"""The lattice: what the errors alone leave of a family of structures, found without CP-SAT.

The logarithm of the period is walked from body to body in units of 1/scale. A node is a body on one of the rings it
may ride on, with that ring's tooth count and the third gears used so far; the values it can take within the error are
the bits of one Python integer, and a segment (the links to the next body, blanks between) is a sum of two bit sets.
All ways to place the blanks, and all numbers of them, are walked at once. That gives, within rounding, the least
possible worst error, and every train below an error without a dead end.

Every third gear turns the rings beyond it about, so a ring's sense is whether the third gears so far are odd.

Rounding. A candidate's step is rounded once (0.5 units), the start once, the windows outwards (1 unit each); so a
train whose exact error is below W - slack is inside at W, and one that is inside at W is below W + slack, with
slack = links // 2 + 3.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np

from solver.design.design import Design, Family, Structure
from solver.design.exact import log_fraction
from solver.design.kinematics import effective_caps, sense_allowed
from solver.search.bits import mask, set_cells, sums
from solver.search.options.candidates import Candidates, Option
from solver.search.reach.segments import NO_TEETH, Combo, Listed, Segment, Segments

Node = tuple[int, int, int]  # ring, its teeth, third gears used
Nodes = dict[Node, int]
# the node reached, what of it is alive, the segment, its third gears, the sum that the jumps' bit 0 stands for, jumps
Onward = tuple[Node, int, Segment, int, int, int]
Path = tuple[tuple[int, ...], tuple[int, ...], tuple[Option, ...]]  # ring teeth, the bodies' rings, the links


@dataclass
class Sets:
    """Values reachable at the bodies first..last: bit n of nodes[k][node] stands for cells[k][teeth][0] + n."""

    first: int
    cells: list[dict[int, tuple[int, int]]]
    nodes: list[Nodes]


def family_places(family: Family) -> tuple[tuple[int, ...], ...]:
    """The rings that each body may ride on."""
    blanks, last = family.counts[-1] - family.bodies, family.bodies - 1
    return (
        (0,),
        *(tuple(range(body, body + blanks + 1)) for body in range(1, last)),
        tuple(count - 1 for count in family.counts),
    )


class Lattice:
    """The structures of one family, or one of them alone, at one scale."""

    def __init__(
        self,
        design: Design,
        what: Family | Structure,
        candidates: Candidates,
        segments: Segments,
        tick: Callable[[], None] = lambda: None,
    ) -> None:
        """tick: called at every step; what it raises ends the work."""
        self.design, self.what, self.candidates, self.segments = design, what, candidates, segments
        self.scale, self.tick = segments.scale, tick
        self.rings = what.rings
        self.places = family_places(what) if isinstance(what, Family) else tuple((p,) for p in what.places)
        links = len(self.rings) - 1
        self.slack = links // 2 + 3
        self.last = len(self.places) - 1
        self.third_limits = {ring: candidates.third_limit(ring + 1) for ring in self.places[-1]}
        self.third_limit = max(self.third_limits.values())
        scale = self.scale
        self.cap_units = [
            0.0 if cap == 0 and not index else scale * math.log1p(float(cap)) + self.slack
            for index, cap in enumerate(effective_caps(design))
        ]
        self.most_units = math.ceil(scale * math.log1p(float(design.limits.max_error))) + self.slack
        self._log_teeth = {z: scale * math.log(z) for ring in self.rings for z in ring}
        self._log_periods = [
            (scale * log_fraction(body.low), scale * log_fraction(body.high)) for body in design.bodies
        ]
        self._parity = [tuple(turn for turn in (0, 1) if sense_allowed(body, bool(turn))) for body in design.bodies]
        self._targets: dict[tuple[int, int, int], tuple[tuple[int, int, Segment], ...]] = {}
        # Where rings do not decide what a link can be, all their tooth counts have the same sums.
        self.blank_choices = not candidates.reverted

    # -- windows -----------------------------------------------------------------------------------------------

    def room(self, body: int, units: float) -> float:
        """min(units, the body's cap) in scaled units."""
        return min(units, self.cap_units[body])

    def window(self, body: int, units: float) -> tuple[float, float]:
        """The scaled log periods that a body may have at that worst error."""
        base = self._log_periods[0][0] if self.design.reference == "first" else 0.0
        room, (low, high) = self.room(body, units), self._log_periods[body]
        return low - base - room, high - base + room

    def window_from(self, origin: int, body: int, units: float) -> tuple[float, float]:
        """As `window`, but relative to the body `origin`, which may lie anywhere in its own window."""
        room = self.room(origin, units) + self.room(body, units)
        return (
            self._log_periods[body][0] - self._log_periods[origin][1] - room,
            self._log_periods[body][1] - self._log_periods[origin][0] + room,
        )

    def teeth(self, body: int) -> tuple[int, ...]:
        """Teeth that the rings of a body may have."""
        return tuple({z: None for ring in self.places[body] for z in self.rings[ring]})

    def cells_of(self, body: int, window: tuple[float, float]) -> dict[int, tuple[int, int]]:
        """Cells of log(period / teeth) in a window, for each tooth count of the body's rings."""
        found = {}
        for z in self.teeth(body):
            shift = self._log_teeth[z]
            found[z] = (math.floor(window[0] - shift), math.ceil(window[1] - shift))
        return found

    def _start(self, body: int) -> dict[int, tuple[int, int]]:
        """The one cell of log(period / teeth) at a body that is held exact."""
        return {z: (round(-self._log_teeth[z]),) * 2 for z in self.teeth(body)}

    # -- segments ----------------------------------------------------------------------------------------------

    def segment(self, body: int, ring: int, teeth: int, outer_ring: int, outer_teeth: int) -> Segment:
        """The segment from a body's ring to the next body's."""
        between = self.rings[ring + 1 : outer_ring]
        low, high = self.window_from(body, body + 1, self.most_units + 1)
        shift = self._log_teeth[teeth] - self._log_teeth[outer_teeth]
        keep = math.floor(low + shift) - 2 * self.slack, math.ceil(high + shift) + 2 * self.slack
        return self.segments.segment(((teeth,), *between, (outer_teeth,)), max(self.third_limit, 0), keep)

    def targets(self, body: int, ring: int, teeth: int) -> tuple[tuple[int, int, Segment], ...]:
        """Rings and teeth of the next body, with the segment that leads there."""
        found = self._targets.get((body, ring, teeth))
        if found is None:
            found = self._targets[(body, ring, teeth)] = tuple(
                (outer_ring, outer, self.segment(body, ring, teeth, outer_ring, outer))
                for outer_ring in self.places[body + 1]
                if outer_ring > ring
                for outer in self.rings[outer_ring]
                if outer > teeth or not self.candidates.growing
            )
        return found

    # -- reachability --------------------------------------------------------------------------------------------

    def forward(self, units: float, first: int = 0, last: int | None = None, relative: bool = False) -> Sets | None:
        """Values reachable at every body from `first` to `last` at that worst error; None: none reach the end.

        relative: measured from the body `first`, held at 0.
        """
        last = self.last if last is None else last
        if self.third_limit < 0:
            return None
        single = relative or self.design.reference == "first"
        cells = [self._start(first) if single else self.cells_of(first, self.window(first, units))]
        nodes: Nodes = {}
        for ring in self.places[first]:
            for z in self.rings[ring]:
                for turn in (0, 1) if first and self.third_limit else (0,):
                    if turn in self._parity[first]:
                        low, high = cells[0][z]
                        nodes[(ring, z, turn)] = mask(high - low + 1)
        found = Sets(first, cells, [nodes])
        for body in range(first, last):
            window = self.window_from(first, body + 1, units) if relative else self.window(body + 1, units)
            found.cells.append(self.cells_of(body + 1, window))
            reached = self._step(body, found)
            if not reached:
                return None
            found.nodes.append(reached)
        return found

    def _most_thirds(self, body: int, ring: int) -> int:
        return self.third_limits[ring] if body == self.last else self.third_limit

    def _step(self, body: int, sets: Sets) -> Nodes:
        at = body - sets.first
        parity = self._parity[body + 1]
        found: Nodes = {}
        for (ring, teeth, used), bits in sets.nodes[at].items():
            self.tick()
            low, high = sets.cells[at][teeth]
            width = high - low
            for outer_ring, outer, segment in self.targets(body, ring, teeth):
                goal_low, goal_high = sets.cells[at + 1][outer]
                most = self._most_thirds(body + 1, outer_ring)
                for thirds, values in segment.sums.items():
                    total = used + thirds
                    if total > most or (total & 1) not in parity:
                        continue
                    jumps = values.between(goal_low - high, goal_high - low)
                    if jumps:
                        goal = mask(goal_high - goal_low + 1)
                        reached = (sums(bits, jumps, goal << width) >> width) & goal
                        if reached:
                            key = (outer_ring, outer, total)
                            found[key] = found.get(key, 0) | reached
        return found

    def backward(self, sets: Sets) -> Sets:
        """The part of `sets` from which the last body can be reached."""
        alive = Sets(sets.first, sets.cells, [{} for _ in sets.nodes])
        alive.nodes[-1] = dict(sets.nodes[-1])
        for at in range(len(sets.nodes) - 2, -1, -1):
            for node, bits in sets.nodes[at].items():
                self.tick()
                low, high = sets.cells[at][node[1]]
                kept = 0
                for _, goal, _, _, _, jumps in self.onward(alive, at, node):
                    kept |= _sources(bits, goal, jumps, high - low)
                if kept:
                    alive.nodes[at][node] = kept
        return alive

    def alive(self, units: float) -> Sets | None:
        """Values through which a train inside at that worst error leads, at every body; None: there is none."""
        reached = self.forward(units)
        return None if reached is None else self.backward(reached)

    def onward(self, alive: Sets, at: int, node: Node) -> Iterator[Onward]:
        """Each way from a node, at the body alive.first + at, into the part of the next body that is alive."""
        ring, teeth, used = node
        low, high = alive.cells[at][teeth]
        for outer_ring, outer, segment in self.targets(alive.first + at, ring, teeth):
            goal_low, goal_high = alive.cells[at + 1][outer]
            for thirds, values in segment.sums.items():
                there = (outer_ring, outer, used + thirds)
                goal = alive.nodes[at + 1].get(there, 0)
                jumps = values.between(goal_low - high, goal_high - low) if goal else 0
                if jumps:
                    yield there, goal, segment, thirds, goal_low - high, jumps

    def structures(self, units: float) -> list[Structure]:
        """The structures of the family that have a train inside at that worst error."""
        if isinstance(self.what, Structure):
            return [self.what] if self.feasible(units) else []
        alive = self.alive(units)
        if alive is None:
            return []
        ways: dict[tuple[int, ...], set[Node]] = {(ring,): set() for ring, _, _ in alive.nodes[0]}
        for node in alive.nodes[0]:
            ways[(node[0],)].add(node)
        for body in range(self.last):
            onward: dict[tuple[int, ...], set[Node]] = {}
            for places, nodes in ways.items():
                for ring, teeth, used in nodes:
                    for outer_ring, outer, segment in self.targets(body, ring, teeth):
                        for thirds in segment.sums:
                            node = (outer_ring, outer, used + thirds)
                            if node in alive.nodes[body + 1]:
                                onward.setdefault((*places, outer_ring), set()).add(node)
            ways = onward
        return [Structure(self.rings[: places[-1] + 1], places) for places in sorted(ways)]

    def feasible(self, units: float) -> bool:
        return self.forward(units) is not None

    def bracket(self, low: int, high: int, near: int = 0) -> tuple[int, int] | None:
        """(least, most) whole numbers of units, at most `near` apart, such that no train is inside below the one and
        some are at the other; None if none are up to `high`. It is known that none are below `low`.

        Narrow windows are asked first: they are the cheap ones.
        """
        units, step = low, 4 * self.slack
        while not self.feasible(units):
            if units >= high:
                return None
            low, units = units + 1, min(units + step, high)
            step *= 2
        return enclosed(low, units, near, self.feasible)

    # -- trains ----------------------------------------------------------------------------------------------------

    def paths(self, units: float, most_teeth: int | None = None) -> Iterator[Path]:
        """Every train that is inside at that worst error, each once; no path is begun that does not end.

        most_teeth: only ways on which the smallest third gears leave at most so many teeth; a train on such a way may
        have more, where one sum can be had in several ways.
        """
        alive = self.alive(units)
        if alive is None:
            return
        rest = None if most_teeth is None else self._fewest_teeth(alive)
        for node, bits in alive.nodes[0].items():
            if rest is None or most_teeth is None:
                yield from self._walk(0, alive, node, bits, [], [], None, 0)
            else:
                yield from self._walk(0, alive, node, bits, [], [], rest, most_teeth - node[1])

    def count(self, units: float) -> float:
        """How many trains are inside at that worst error, where the first body is exact (else each may be counted
        more than once) and rings have one tooth count each (else blanks' are not counted)."""
        alive = self.alive(units)
        if alive is None:
            return 0.0
        beyond: dict[Node, np.ndarray] = {}
        for node in alive.nodes[-1]:
            low, high = alive.cells[-1][node[1]]
            beyond[node] = np.ones(high - low + 1)
        for body in range(self.last - 1, -1, -1):
            here: dict[Node, np.ndarray] = {}
            for node, bits in alive.nodes[body].items():
                ring, teeth, used = node
                low, high = alive.cells[body][teeth]
                counts, cells = np.zeros(high - low + 1), np.array(set_cells(bits))
                for outer_ring, outer, segment in self.targets(body, ring, teeth):
                    goal_low, goal_high = alive.cells[body + 1][outer]
                    for thirds in segment.sums:
                        onward = beyond.get((outer_ring, outer, used + thirds))
                        if onward is not None:
                            jumps = segment.count_between(thirds, goal_low - high, goal_high - low)
                            for jump in np.flatnonzero(jumps).tolist():
                                self.tick()
                                there = cells + (jump - (high - low))
                                inside = (there >= 0) & (there < len(onward))
                                counts[cells[inside]] += jumps[jump] * onward[there[inside]]
                here[node] = counts
            beyond = here
        return float(sum(counts.sum() for counts in beyond.values()))

    def _fewest_teeth(self, alive: Sets) -> list[dict[Node, np.ndarray]]:
        """For each node and cell a lower bound of the teeth beyond it: exact but for jigs that third gears share."""
        rest: list[dict[Node, np.ndarray]] = [{} for _ in alive.nodes]
        for node in alive.nodes[-1]:
            low, high = alive.cells[-1][node[1]]
            rest[-1][node] = np.zeros(high - low + 1, np.int32)
        for body in range(self.last - 1, -1, -1):
            for node in alive.nodes[body]:
                ring, teeth, used = node
                low, high = alive.cells[body][teeth]
                fewest = rest[body][node] = np.full(high - low + 1, NO_TEETH, np.int32)
                for outer_ring, outer, segment in self.targets(body, ring, teeth):
                    goal_low, goal_high = alive.cells[body + 1][outer]
                    fixed = self._between_teeth(ring, teeth, outer_ring) + outer
                    for thirds in segment.sums:
                        onward = rest[body + 1].get((outer_ring, outer, used + thirds))
                        if onward is not None:
                            jumps = segment.teeth_between(thirds, goal_low - high, goal_high - low)
                            self._lower(fewest, onward, jumps, fixed)
        return rest

    def _lower(self, fewest: np.ndarray, onward: np.ndarray, jumps: np.ndarray, fixed: int) -> None:
        """Take the way over each jump where it needs fewer teeth."""
        for jump in np.flatnonzero(jumps < NO_TEETH).tolist():
            self.tick()
            move = jump - (len(fewest) - 1)
            start, end = max(0, -move), min(len(fewest), len(onward) - move)
            if start < end:
                part = fewest[start:end]
                np.minimum(part, onward[start + move : end + move] + (int(jumps[jump]) + fixed), out=part)

    def _between_teeth(self, ring: int, teeth: int, outer_ring: int) -> int:
        """A lower bound of the teeth of the blanks between two rings."""
        least, total = teeth, 0
        for choice in self.rings[ring + 1 : outer_ring]:
            least = min((z for z in choice if z > least), default=choice[-1]) if self.candidates.growing else choice[0]
            total += least
        return total

    def _walk(
        self,
        body: int,
        alive: Sets,
        node: Node,
        bits: int,
        nodes: list[Node],
        combos: list[Listed],
        rest: list[dict[Node, np.ndarray]] | None,
        left: int,
    ) -> Iterator[Path]:
        """rest: fewest teeth beyond each node, None where teeth do not matter; left: how many there may be."""
        if rest is not None and rest[body][node][set_cells(bits)].min() > left:
            return
        nodes.append(node)
        if body == self.last:
            yield from self._spelt(nodes, combos, None if rest is None else left)
            nodes.pop()
            return
        low, high = alive.cells[body][node[1]]
        for onward, goal, segment, thirds, base, jumps in self.onward(alive, body, node):
            for jump in set_cells(jumps):
                there = ((bits << jump) >> (high - low)) & goal
                if there:
                    self.tick()
                    spent = 0
                    if rest is not None:
                        spent = int(segment.teeth_between(thirds, base + jump, base + jump)[0])
                        spent += self._between_teeth(node[0], node[1], onward[0]) + onward[1]
                    combos.append(segment.combos(thirds, base + jump))
                    yield from self._walk(body + 1, alive, onward, there, nodes, combos, rest, left - spent)
                    combos.pop()
        nodes.pop()

    def _spelt(self, nodes: Sequence[Node], combos: Sequence[Listed], left: int | None) -> Iterator[Path]:
        """The trains of one way through the nodes, with one sum for each segment; none if fewer teeth than the
        fewest are left."""
        if left is not None and left < 0:
            return
        places = tuple(ring for ring, _, _ in nodes)
        for chosen in _chosen(combos):
            links = tuple(option for _, options in chosen for option in options)
            teeth: list[tuple[int, ...]] = [(nodes[0][1],)]
            for (ring, z, _), (outer_ring, outer, _), (between, _) in zip(nodes, nodes[1:], chosen, strict=False):
                if self.blank_choices:
                    teeth += self.rings[ring + 1 : outer_ring]
                else:
                    teeth += [(z + offset,) for offset in between]
                teeth.append((outer,))
            for rings in product(*teeth):
                yield rings, places, links

    def options(self, units: float) -> list[set[Option]] | None:
        """For each link of a single structure the candidates on any train inside; None: there is none."""
        alive = self.alive(units)
        if alive is None:
            return None
        found: list[set[Option]] = [set() for _ in self.rings[1:]]
        for at in range(self.last):
            for node, bits in alive.nodes[at].items():
                low, high = alive.cells[at][node[1]]
                for _, goal, segment, thirds, base, jumps in self.onward(alive, at, node):
                    taken = 0
                    for jump in set_cells(jumps):
                        if ((bits << jump) >> (high - low)) & goal:
                            taken |= 1 << jump
                    if taken:
                        for link, some in enumerate(segment.options(thirds, taken, base)):
                            found[node[0] + link] |= some
        return found


def _chosen(combos: Sequence[Listed]) -> Iterator[tuple[Combo, ...]]:
    """Every choice of one from each, none fetched before it is needed."""
    if not combos:
        yield ()
        return
    for first in combos[0]:
        for rest in _chosen(combos[1:]):
            yield (first, *rest)


def _sources(bits: int, goal: int, jumps: int, width: int) -> int:
    """The members of `bits` from which one of the jumps leads into the goal."""
    if jumps.bit_count() <= bits.bit_count():
        found, ahead = 0, goal << width
        for jump in set_cells(jumps):
            found |= ahead >> jump
        return found & bits
    found = 0
    for cell in set_cells(bits):
        if ((jumps << cell) >> width) & goal:
            found |= 1 << cell
    return found


def enclosed(low: int, high: int, near: int, holds: Callable[[int], bool]) -> tuple[int, int]:
    """(least, most), at most `near` apart, between which a test begins to hold that holds at `high` and not below
    `low`."""
    while high - low > near:
        middle = (low + high) // 2
        if holds(middle):
            high = middle
        else:
            low = middle + 1
    return low, high


def units_to_error(units: float, scale: int) -> float:
    """The error as a fraction that `units` stand for."""
    return math.expm1(units / scale)
