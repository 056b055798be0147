"""The lattice: what the errors alone leave of a family of structures, found without CP-SAT.

Dynamic programming over layers. A layer is a body; the logarithm of its period is walked from body to body in units of
1/scale. A node is a body on one of the rings that may seat it, with that ring's tooth count and the third gears used so
far; the values it can take within the error are the bits of one Python integer, and an arc is a segment (the links to
the next body, blanks between), whose sums are another bit set. All ways to place the blanks, and all numbers of them,
are walked at once. Caps that couple links are left out: it is a relaxation. It gives, within rounding
(`rounding.Rounding`), the least possible worst error, and every train below an error without a dead end (`walks`).

Every third gear turns the rings beyond it about, so a ring's sense is whether the third gears so far are odd.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

from solver.design.design import Design, Family, Structure
from solver.design.exact import log_fraction
from solver.design.kinematics import effective_caps, sense_allowed
from solver.search.bits import mask, set_cells, sums
from solver.search.options.candidates import Option
from solver.search.options.caps import Caps, third_limit
from solver.search.reach.nodes import Node, Nodes, Reached, SegmentArc, Target
from solver.search.reach.segment import Segment
from solver.search.reach.segments import Segments, Stays
from solver.search.rounding import Rounding

Window = tuple[float, float]  # scaled logarithms, from and to


class Lattice:
    """The structures of one family, or one of them alone, at one scale."""

    def __init__(
        self,
        design: Design,
        what: Family | Structure,
        segments: Segments,
        caps: Caps,
        tick: Callable[[], None] = lambda: None,
    ) -> None:
        """caps: of them only that on parts matters here, which bounds the third gears. tick: called at every step; what
        it raises ends the work."""
        self.design, self.what, self.segments = design, what, segments
        self.candidates, self.scale, self.tick = segments.candidates, segments.scale, tick
        self.rings = what.rings
        self.seats = what.seats() if isinstance(what, Family) else tuple((seat,) for seat in what.seats)
        self.rounding = Rounding.of_links(len(self.rings) - 1)
        self.last = len(self.seats) - 1
        self.third_limits = {ring: third_limit(design, caps, ring + 1) for ring in self.seats[-1]}
        self.third_limit = max(self.third_limits.values())
        scale = self.scale
        self.cap_units = [
            0.0 if cap == 0 and not index else self.rounding.holding(scale * math.log1p(float(cap)))
            for index, cap in enumerate(effective_caps(design))
        ]
        self.most_units = self.rounding.holding(math.ceil(scale * math.log1p(float(design.limits.max_error))))
        self._log_teeth = {z: scale * math.log(z) for ring in self.rings for z in ring}
        self._log_periods = [
            (scale * log_fraction(body.low), scale * log_fraction(body.high)) for body in design.bodies
        ]
        self._parity = [tuple(turn for turn in (0, 1) if sense_allowed(body, bool(turn))) for body in design.bodies]
        self._targets: dict[tuple[int, int, int], tuple[Target, ...]] = {}
        self._alive: tuple[float, Reached | None] | None = None  # as asked for last
        self._void, self._held = -math.inf, math.inf  # errors at which no train is known to be inside, and some

    # -- windows -----------------------------------------------------------------------------------------------

    def room(self, body: int, units: float) -> float:
        """min(units, the body's cap) in scaled units."""
        return min(units, self.cap_units[body])

    def window(self, body: int, units: float) -> Window:
        """The scaled log periods that a body may have at that worst error."""
        base = self._log_periods[0][0] if self.design.reference == "first" else 0.0
        room, (low, high) = self.room(body, units), self._log_periods[body]
        return low - base - room, high - base + room

    def window_from(self, origin: int, body: int, units: float) -> Window:
        """As `window`, but relative to the body `origin`, which may lie anywhere in its own window."""
        room = self.room(origin, units) + self.room(body, units)
        return (
            self._log_periods[body][0] - self._log_periods[origin][1] - room,
            self._log_periods[body][1] - self._log_periods[origin][0] + room,
        )

    def teeth(self, body: int) -> tuple[int, ...]:
        """Teeth that the rings of a body may have."""
        return tuple({z: None for ring in self.seats[body] for z in self.rings[ring]})

    def cells_of(self, body: int, window: Window) -> dict[int, tuple[int, int]]:
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
        keep = self.rounding.short_of(math.floor(low + shift)), self.rounding.beside(math.ceil(high + shift))
        return self.segments.segment(
            ((teeth,), *between, (outer_teeth,)), max(self.third_limit, 0), keep, self._stays(ring, outer_ring)
        )

    def _stays(self, ring: int, outer_ring: int) -> Stays:
        """What the links between two rings are, as far as they stay; nothing where all are open."""
        by_link = self.design.on_bench.by_link
        found = tuple(by_link.get(link) for link in range(ring, outer_ring)) if by_link else ()
        return found if any(found) else ()

    def targets(self, body: int, ring: int, teeth: int) -> tuple[Target, ...]:
        """Rings and teeth of the next body, with the segment that leads there."""
        found = self._targets.get((body, ring, teeth))
        if found is None:
            found = self._targets[(body, ring, teeth)] = tuple(
                Target(outer_ring, outer, self.segment(body, ring, teeth, outer_ring, outer))
                for outer_ring in self.seats[body + 1]
                if outer_ring > ring
                for outer in self.rings[outer_ring]
                if outer > teeth or not self.candidates.growing
            )
        return found

    def blank_teeth(self, ring: int, teeth: int, outer_ring: int) -> int:
        """A lower bound of the teeth of the blanks between two rings."""
        least, total = teeth, 0
        for choice in self.rings[ring + 1 : outer_ring]:
            least = min((z for z in choice if z > least), default=choice[-1]) if self.candidates.growing else choice[0]
            total += least
        return total

    # -- reachability --------------------------------------------------------------------------------------------

    def forward(self, units: float) -> Reached | None:
        """Values reachable at every body at that worst error; None: none reach the last one."""
        start = self._start(0) if self.design.reference == "first" else self.cells_of(0, self.window(0, units))
        return self._walked(0, self.last, start, lambda body: self.window(body, units))

    def forward_from(self, inner: int, outer: int, units: float) -> Reached | None:
        """Likewise from the body `inner`, held at 0, to the body `outer`: the logarithms of the rates between them."""
        return self._walked(inner, outer, self._start(inner), lambda body: self.window_from(inner, body, units))

    def _walked(
        self, first: int, last: int, start: dict[int, tuple[int, int]], window: Callable[[int], Window]
    ) -> Reached | None:
        """start: the cells of the first body; window: what the others may have."""
        if self.third_limit < 0:
            return None
        nodes: Nodes = {}
        for ring in self.seats[first]:
            for z in self.rings[ring]:
                for turn in (0, 1) if first and self.third_limit else (0,):
                    if turn in self._parity[first]:
                        low, high = start[z]
                        nodes[Node(ring, z, turn)] = mask(high - low + 1)
        found = Reached(first, [start], [nodes])
        for body in range(first, last):
            found.cells.append(self.cells_of(body + 1, window(body + 1)))
            onward = self._step(body, found)
            if not onward:
                return None
            found.nodes.append(onward)
        return found

    def _most_thirds(self, body: int, ring: int) -> int:
        return self.third_limits[ring] if body == self.last else self.third_limit

    def _step(self, body: int, sets: Reached) -> Nodes:
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
                            node = Node(outer_ring, outer, total)
                            found[node] = found.get(node, 0) | reached
        return found

    def backward(self, sets: Reached) -> Reached:
        """The part of `sets` from which the last body can be reached."""
        alive = Reached(sets.first, sets.cells, [{} for _ in sets.nodes])
        alive.nodes[-1] = dict(sets.nodes[-1])
        for at in range(len(sets.nodes) - 2, -1, -1):
            for node, bits in sets.nodes[at].items():
                self.tick()
                low, high = sets.cells[at][node.teeth]
                kept = 0
                for arc in self.onward(alive, at, node):
                    kept |= _sources(bits, arc.alive, arc.jumps, high - low)
                if kept:
                    alive.nodes[at][node] = kept
        return alive

    def alive(self, units: float) -> Reached | None:
        """Values through which a train inside at that worst error leads, at every body; None: there is none."""
        if self._alive is None or self._alive[0] != units:
            reached = self.forward(units)
            self._alive = units, None if reached is None else self.backward(reached)
        return self._alive[1]

    def onward(self, alive: Reached, at: int, node: Node) -> Iterator[SegmentArc]:
        """Each way from a node, at the body alive.first + at, into the part of the next body that is alive."""
        ring, teeth, used = node
        low, high = alive.cells[at][teeth]
        for outer_ring, outer, segment in self.targets(alive.first + at, ring, teeth):
            goal_low, goal_high = alive.cells[at + 1][outer]
            for thirds, values in segment.sums.items():
                there = Node(outer_ring, outer, used + thirds)
                goal = alive.nodes[at + 1].get(there, 0)
                jumps = values.between(goal_low - high, goal_high - low) if goal else 0
                if jumps:
                    yield SegmentArc(there, goal, segment, thirds, goal_low - high, jumps)

    def structures(self, units: float) -> list[Structure]:
        """The structures of the family that have a train inside at that worst error."""
        if isinstance(self.what, Structure):
            return [self.what] if self.feasible(units) else []
        alive = self.alive(units)
        if alive is None:
            return []
        ways: dict[tuple[int, ...], set[Node]] = {(node.ring,): set() for node in alive.nodes[0]}
        for node in alive.nodes[0]:
            ways[(node.ring,)].add(node)
        for body in range(self.last):
            onward: dict[tuple[int, ...], set[Node]] = {}
            for seats, nodes in ways.items():
                for ring, teeth, used in nodes:
                    for outer_ring, outer, segment in self.targets(body, ring, teeth):
                        for thirds in segment.sums:
                            node = Node(outer_ring, outer, used + thirds)
                            if node in alive.nodes[body + 1]:
                                onward.setdefault((*seats, outer_ring), set()).add(node)
            ways = onward
        return [Structure(self.rings[: seats[-1] + 1], seats) for seats in sorted(ways)]

    def feasible(self, units: float) -> bool:
        """Whether a train is inside at that worst error."""
        if self._void < units < self._held:
            if self.forward(units) is not None:
                self._held = units
            else:
                self._void = units
        return units >= self._held

    def bracket(self, low: int, high: int, near: int = 0) -> tuple[int, int] | None:
        """(least, most) whole numbers of units, at most `near` apart, such that no train is inside below the one and
        some are at the other; None if none are up to `high`. It is known that none are below `low`.

        Narrow windows are asked first: they are the cheap ones.
        """
        units, step = low, 4 * self.rounding.slack
        while not self.feasible(units):
            if units >= high:
                return None
            low, units = units + 1, min(units + step, high)
            step *= 2
        return enclosed(low, units, near, self.feasible)

    def options(self, units: float) -> list[set[Option]] | None:
        """For each link of a single structure the candidates on any train inside; None: there is none."""
        alive = self.alive(units)
        if alive is None:
            return None
        found: list[set[Option]] = [set() for _ in self.rings[1:]]
        for at in range(self.last):
            for node, bits in alive.nodes[at].items():
                low, high = alive.cells[at][node.teeth]
                for arc in self.onward(alive, at, node):
                    taken = 0
                    for jump in set_cells(arc.jumps):
                        if ((bits << jump) >> (high - low)) & arc.alive:
                            taken |= 1 << jump
                    if taken:
                        for link, some in enumerate(arc.segment.options(arc.thirds, taken, arc.base)):
                            found[node.ring + link] |= some
        return found


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
