"""Whether a train has a place, and its first one: links from the inside out, rollers, and the drive.

A constraint satisfaction problem: a variable for each thing, its places the domain, a table for each pair of things,
computed once, that says which places can be had together. Things are placed one after the other, each in its first
direction that leaves a place for every later one (backtracking that maintains arc consistency). The answer is exact:
none is left out.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import islice, pairwise

from solver.design.design import Design
from solver.design.train import DrivePlace, Link, Placement, RollerPlace, Train
from solver.search.bits import mask, rows, set_cells
from solver.search.place.blame import AT_ONCE, Blame
from solver.search.place.drive import DriveChoice
from solver.search.place.holder import Holder
from solver.search.place.measures import UM, Measures
from solver.search.place.placer import Placer
from solver.search.place.places import Places, compatible, joined
from solver.search.place.shapes import ArborShape, RingStack, link_shape, share
from solver.search.place.slabs import near, rings_clear
from solver.search.reaches import GEAR
from solver.search.sagged import sagging_of
from solver.search.solves import Solves
from solver.search.stop import NoStop

MOST_STEPS = 20_000  # of trying places one after the other, before CP-SAT is asked

Radii = tuple[int, ...]  # the arbors' distances from the main axis [teeth]


@dataclass(frozen=True, eq=False)
class Tabled:
    """Things to be placed: the places of each; for two that can touch, for each place of one those of the other that
    can be had with it, as bits; and which places have a partner everywhere."""

    domains: list[Places]
    tables: dict[tuple[int, int], list[int]]
    left: list[int]


def link_shapes(train: Train, radii: Radii) -> list[ArborShape]:
    """The shapes of a train's links whose arbors stand at these radii."""
    return [
        link_shape(i, train.rings[i], train.rings[i + 1], link, radius)
        for i, (link, radius) in enumerate(zip(train.links, radii, strict=True))
    ]


class _TooLong(Exception):
    """Trying places one after the other takes too many steps."""


class Fitter:
    """Places trains of one design; remembers what it found out about their parts. worked: steps so far, of blame
    too."""

    def __init__(
        self, design: Design, gap: int, tick: Callable[[], None] = lambda: None, solves: Solves | None = None
    ) -> None:
        """gap: teeth that a third gear's wheel stays clear of its ring. tick: called now and then; what it raises ends
        the work. solves: how to run CP-SAT."""
        self.design, self.gap, self.worked, self._tick = design, gap, 0, tick
        self.solves = solves or Solves(design.seed, NoStop())
        self._steps = 0
        self.measures = Measures(design)
        self.placer = Placer(design, self.measures, design.fit.plate)
        self._loose = Placer(design, Measures(design, off=Fraction(1, 100)), "none")
        self._known: dict[tuple[Train, Radii], dict[ArborShape | None, Placement | None]] = {}
        self._tables: dict[tuple[Places, Places], list[int]] = {}
        self._sound: dict[RingStack, bool] = {}
        self._stiffness: dict[tuple[tuple[int, ...], tuple[int, ...]], bool] = {}
        self._sagging = sagging_of(design)
        self.blame = Blame(self.measures, self.placer, self._meet, self.tick)
        self.holder = Holder(self.measures, self.placer) if design.fit.rollers is not None else None

    # -- what does not depend on the links ---------------------------------------------------------------------------

    def sound(self, rings: tuple[int, ...], riders: tuple[int, ...]) -> bool:
        """Whether rings, bodies' stands and rollers leave each other room, whatever the links are, and none bends too
        far."""
        if not self.stiff(rings, riders):
            return False
        stack = self._stack(rings, riders)
        if stack not in self._sound:
            self._sound[stack] = self.rings_clear(stack) and (
                self.holder is None or self.holder.possible(stack, self.tick)
            )
        return self._sound[stack]

    def _stiff_on(self, level: int, teeth: int, count: int) -> bool:
        """Whether a ring does not bend too far, if it carried nothing."""
        return self._sagging is None or self._sagging.ring_holds(level, teeth, count, None)

    def stiff(self, rings: tuple[int, ...], riders: tuple[int, ...]) -> bool:
        """Whether no ring bends too far. Of only two riders those are the first and the last body."""
        if self._sagging is None:
            return True
        key = rings, riders
        if key not in self._stiffness:
            self._stiffness[key] = self._sagging.stack_holds(rings, self._carried(riders))
        return self._stiffness[key]

    def _carried(self, riders: tuple[int, ...]) -> dict[int, int]:
        """The body on each of these rings; of only two riders those are the first and the last."""
        last = len(self.design.bodies) - 1
        return dict(zip(riders, range(last + 1) if len(riders) == last + 1 else (0, last), strict=True))

    def rings_clear(self, stack: RingStack) -> bool:
        """Whether the rings are inside the frame, and the bodies' stands clear of the rings and of each other."""
        in_frame = all(self.ring_in_frame(teeth) for teeth in stack.rings)
        return in_frame and self._stands_clear(stack) and rings_clear(self.measures, stack.rings)

    def rings_sound(self, choices: tuple[tuple[int, ...], ...]) -> bool:
        """Likewise for rings that may each have some tooth counts: False only where no choice leaves room. The first
        and the last ring carry bodies."""
        count = len(choices)
        riders = tuple(range(count)) if count == len(self.design.bodies) else (0, count - 1)
        if any(len(choice) > 1 for choice in choices):
            return all(
                any(self.ring_in_frame(teeth) and self._stiff_on(level, teeth, count) for teeth in choice)
                for level, choice in enumerate(choices)
            )
        rings = tuple(choice[0] for choice in choices)
        return self.stiff(rings, riders) and self.sound(rings, (0, count - 1))

    def ring_in_frame(self, teeth: int) -> bool:
        """Whether a ring's tip circle is inside the frame."""
        middle = self.placer.middle
        return bool(self.measures.in_frame(middle, middle, teeth, self.measures.ring_tip).all())

    def _stands_clear(self, stack: RingStack) -> bool:
        measures, count = self.measures, len(stack.rings)
        for index, ring in enumerate(stack.riders):
            passed = self.placer.stand_passes(ring, count)
            stand = stack.rings[ring]
            for level in passed:
                # The stand's circle is half a rim inside its ring's pitch circle; the other ring is an annulus.
                room = measures.post + measures.clearance
                inside = (stack.rings[level] - stand) * measures.low >= measures.rim / 2 + room
                outside = (stand - stack.rings[level]) * measures.low >= measures.ring_tip + measures.rim / 2 + room
                if not (inside or outside):
                    return False
            for other in stack.riders[:index]:
                if share(passed, self.placer.stand_passes(other, count)):
                    apart = abs(stand - stack.rings[other]) * measures.low
                    if apart < 2 * measures.post + measures.clearance:
                        return False
        return True

    # -- what the smallest gears tell ----------------------------------------------------------------------------------

    def chain_possible(self, rings: tuple[int, ...], smallest: Sequence[Link | None], thirds: int) -> bool:
        """False only where neighbouring links leave each other no place, whatever their gears are.

        smallest: for each link the plain one with the smallest gears, None where there is none. In one direction the
        disc of a small gear that works with a ring lies within that of a large one which reaches as far beyond its
        pitch circle, so that what the smallest plain links cannot, no plain links can; a link with third gears, of
        which there are at most so many, is taken to be in nobody's way. Rounded spots can be off by two micrometres;
        the clearance is taken that much smaller.
        """
        alive: list[int] = []  # by how many links have third gears so far: places of the last link, where plain
        free: list[bool] = [True]  # likewise whether the last link may have third gears; before the first one, anything
        before: Places | None = None
        for level, link in enumerate(smallest):
            self.tick()
            onward, free_onward = [0] * (thirds + 1), [False] * (thirds + 1)
            places = None
            if link is not None:
                shape = link_shape(level, rings[level], rings[level + 1], link, rings[level] + link.wheel)
                places = self._loose.alone(shape, len(rings))
                if before is not None and alive:
                    table = self._loose_table(before, places)
                    for used, kept in enumerate(alive):
                        for index in set_cells(kept):
                            onward[used] |= table[index]
                for used, anything in enumerate(free):
                    if anything:
                        onward[used] = mask(len(places))
            for used in range(thirds):
                free_onward[used + 1] = used < len(free) and (free[used] or bool(alive and alive[used]))
            alive, free, before = onward, free_onward, places
            if not any(alive) and not any(free):
                return False
        return True

    def two_directions_do(self, rings: tuple[int, ...], plain: Sequence[Link | None]) -> bool:
        """Whether these links, where the frame is in the way of none, surely have places in turn in the two directions
        that are farthest apart, of those in which a roller can be near."""
        if self.placer.widest is None or self.measures.thick is not None or self.placer.wishes:
            return False
        measures, cosine = self.measures, math.cos(math.radians(self.placer.widest))
        for level, (before, after) in enumerate(pairwise(plain), start=1):
            if before is None or after is None:
                return False
            one, other = measures.mm * (rings[level] + before.pinion), measures.mm * (rings[level] + after.wheel)
            apart = math.sqrt(max(0.0, one * one + other * other - 2 * one * other * cosine))
            sizes = measures.gear(GEAR, before.pinion) + measures.gear(GEAR, after.wheel)
            if apart < math.sqrt(measures.gears(sizes)) / UM + 0.01:
                return False
        return None not in plain

    def _loose_table(self, one: Places, other: Places) -> list[int]:
        key = (one, other)
        if key not in self._tables:
            self._tables[key] = rows(compatible(self._loose.measures, one, other))
        return self._tables[key]

    # -- one train ---------------------------------------------------------------------------------------------------

    def placement(self, train: Train, radii: Radii, motors: Iterable[DriveChoice] | None = None) -> Placement | None:
        """The first placement of a train whose arbors stand at these radii, with the first of these motors that has a
        place; None: it has none. motors: None for no drive."""
        if not self.sound(train.rings, train.seats):
            return None
        known = self._known.setdefault((train, radii), {})
        if None not in known:
            known[None] = self._with_motor(train, radii, None)
        bare = known[None]
        if bare is None or motors is None:
            return bare
        for motor in motors:
            if motor.shape not in known:
                known[motor.shape] = self._with_motor(train, radii, motor)
            placed = known[motor.shape]
            if placed is not None and placed.drive is not None:  # motors of one shape may differ in speed
                return replace(placed, drive=replace(placed.drive, rpm=motor.rpm))
        return None

    def with_room(self, train: Train, motors: Iterable[DriveChoice]) -> Iterator[DriveChoice]:
        """Those of these motors that the frame, the rings and the bodies' stands leave a place."""
        stack, left = self.stack(train), iter(motors)
        while some := list(islice(left, AT_ONCE)):
            self.tick()
            self.placer.prepare(list({motor.shape: None for motor in some}), stack.rings, stack.riders)
            yield from (motor for motor in some if len(self.placer.among(motor.shape, stack.rings, stack.riders)))

    def stack(self, train: Train) -> RingStack:
        """The rings of a train, with those that carry bodies whose stands matter."""
        return self._stack(train.rings, train.seats)

    def _stack(self, rings: tuple[int, ...], riders: tuple[int, ...]) -> RingStack:
        gaps = () if self._sagging is None else self._sagging.stack_gaps(rings, self._carried(riders))
        return RingStack(rings, riders if self.design.fit.stands != "none" else (), gaps)

    def tabled(self, stack: RingStack, shapes: Sequence[ArborShape]) -> Tabled | None:
        """What these shapes, links and then the drive, leave each other; None: no place."""
        domains = [self.placer.among(shape, stack.rings, stack.riders) for shape in shapes]
        if not all(map(len, domains)):
            return None
        tables = {
            (i, j): self._table(domains[i], domains[j])
            for i in range(len(shapes))
            for j in range(len(shapes))
            if i != j and self._meet(shapes[i], shapes[j])
        }
        left = [mask(len(domain)) for domain in domains]
        return Tabled(domains, tables, left) if _consistent(left, tables, set(tables)) else None

    def _with_motor(self, train: Train, radii: Radii, motor: DriveChoice | None) -> Placement | None:
        shapes = [*link_shapes(train, radii), *([motor.shape] if motor else [])]
        return self._placed(self.stack(train), shapes, motor)

    def _placed(self, stack: RingStack, shapes: Sequence[ArborShape], motor: DriveChoice | None) -> Placement | None:
        known = self.tabled(stack, shapes)
        if known is None:
            return None
        domains, tables, left = known.domains, known.tables, known.left
        self._steps = MOST_STEPS
        try:
            first = next(self._chosen(stack, domains, tables, left, []), None)
        except _TooLong:
            first = self._modelled(stack, domains)
        if first is None:
            return None
        chosen, rollers = first
        places = [domain.at(index) for domain, index in zip(domains, chosen, strict=True)]
        drive = None
        if motor is not None:
            drive = DrivePlace(motor.ring, motor.rpm, motor.pinion, motor.thirds, places.pop())
        return Placement(tuple(places), rollers, drive)

    def ask(self, tick: Callable[[], None]) -> None:
        """From here on another is called now and then."""
        self._tick = tick

    def tick(self) -> None:
        """Asks the stop rule; counts."""
        self.worked += 1
        self._tick()

    def _step(self) -> None:
        """Asks the stop rule; counts the steps of one train's placement. Raises _TooLong where they are too many."""
        self.tick()
        self._steps -= 1
        if self._steps == 0:
            raise _TooLong

    def _modelled(
        self, stack: RingStack, domains: list[Places]
    ) -> tuple[list[int], tuple[tuple[RollerPlace, ...], ...]] | None:
        """The first choice of places, with rollers, as CP-SAT finds it. Raises SearchStopped."""
        # These load CP-SAT, which few trains need.
        from solver.search.place.place_model import PlaceModel, rollers_of
        from solver.search.place.tables import RuleTables

        count = len(stack.rings)
        houses = [] if self.holder is None else [self.holder.wheelhouse(level, stack) for level in range(count)]
        passes = [self.placer.stand_passes(ring, count) for ring in stack.riders]
        things, rollers = [joined([domain]) for domain in domains], [rollers_of(house) for house in houses]
        found = PlaceModel(RuleTables(self.measures, stack, things, rollers, passes)).first(self.solves)
        if found is None:
            return None
        chosen, held = found
        return chosen, tuple(tuple(house.at(index) for index in some) for house, some in zip(houses, held, strict=True))

    def _meet(self, one: ArborShape, other: ArborShape) -> bool:
        """Whether anything of two shapes can touch: on a level of both, or a post of one on a level of the other."""
        if self.design.fit.plate != "none":
            return True
        levels, others = ({side.level for side in shape.sides} for shape in (one, other))
        return near(self.measures, levels, others)

    def _table(self, one: Places, other: Places) -> list[int]:
        """For each place of one shape the places of the other that can be had with it."""
        key = (one, other)
        if key not in self._tables:
            self.tick()
            table = compatible(self.measures, one, other)
            self._tables[key] = rows(table)
            self._tables[(other, one)] = rows(table.T)
        return self._tables[key]

    def _chosen(
        self,
        stack: RingStack,
        domains: list[Places],
        tables: dict[tuple[int, int], list[int]],
        left: list[int],
        chosen: list[int],
    ) -> Iterator[tuple[list[int], tuple[tuple[RollerPlace, ...], ...]]]:
        """Every choice of places, the first ones first, with rollers."""
        self._step()
        at = len(chosen)
        if at == len(domains):
            rollers = () if self.holder is None else self.holder.rollers(stack, domains, chosen, self._step)
            if rollers is not None:
                yield chosen, rollers
            return
        for index in set_cells(left[at]):
            narrowed = list(left)
            narrowed[at] = 1 << index
            if not _consistent(narrowed, tables, {(j, at) for j in range(len(domains)) if (j, at) in tables}):
                continue
            if self.holder is None or self.holder.rings_held(stack, domains, [*chosen, index], self._step):
                yield from self._chosen(stack, domains, tables, narrowed, [*chosen, index])


def _consistent(left: list[int], tables: dict[tuple[int, int], list[int]], arcs: set[tuple[int, int]]) -> bool:
    """Arc consistency (AC-3): take away, in place, what has no partner left in another domain, until nothing changes;
    False: one is empty.

    arcs: (i, j) where domain i is to be looked at again because domain j became smaller.
    """
    queue = sorted(arcs)
    waiting = set(queue)
    while queue:
        i, j = arc = heapq.heappop(queue)
        waiting.discard(arc)
        table, there, kept = tables[arc], left[j], 0
        for index in set_cells(left[i]):
            if table[index] & there:
                kept |= 1 << index
        if kept == left[i]:
            continue
        if not kept:
            return False
        left[i] = kept
        for k, other in tables:
            if other == i and k != j and (k, i) not in waiting:
                heapq.heappush(queue, (k, i))
                waiting.add((k, i))
    return True
