"""All ways to place one train's things, as a constraint problem in which something is wished of them together.

A thing's places are bits of one integer, by direction around the circle and then by the sides of its third gears, so
that what is wished of directions is a mask that serves every link. Of the things that are still open the one with the
fewest places comes next (forward checking); rollers are asked for as soon as both links of a ring stand. Steps are
counted, never the clock.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Protocol

from solver.design.design import Design
from solver.design.train import RollerPlace
from solver.search.bits import set_cells
from solver.search.place.arcs import Arcs
from solver.search.place.holder import Holder
from solver.search.place.places import Places
from solver.search.place.placing import Fitter, Tabled
from solver.search.place.shapes import RingStack

SIDES = 4  # ways in which the third gears of a link can stand in one direction
SHARE = 2  # one question may take one in so many of the steps that are left

Chosen = tuple[int, ...]  # of each thing the index of its place, in its own order of preference
Rollers = tuple[tuple[RollerPlace, ...], ...]


class StepsSpent(Exception):
    """What is wished could not be settled with so many steps."""


class PlacesAsked(Protocol):
    """What is wished of places; in_order: whether things are to be placed from the inside out, rather than that with
    the fewest places first."""

    in_order: bool

    def leaves(self, ways: Ways, at: Sequence[int | None], left: list[int]) -> bool:
        """Take away, in place, what cannot be had with the places chosen so far; False: nothing that is wished can be.

        at: of each thing its bit, None while it is open; left: the places of each as bits."""
        ...

    def in_turn(self, at: Sequence[int | None], thing: int, some: int) -> list[int]:
        """These places of a thing, the most promising first."""
        ...


class CircleBits:
    """The directions of a design in their order around the circle, as whole numbers; remembers tables as bits.

    units: of each direction, so that differences are exact; whole: a full turn in the same unit; sides: places of one
    direction."""

    def __init__(self, design: Design) -> None:
        assert design.fit.directions is not None
        self.sides = SIDES if design.arbors.third_gears else 1
        directions = sorted({direction % 360 for direction in design.fit.directions})
        self.scale = 1
        for direction in directions:
            self.scale *= (direction * self.scale).denominator
        self.whole = 360 * self.scale
        self.units = [int(direction * self.scale) for direction in directions]
        self._number = {direction: number for number, direction in enumerate(directions)}
        self._bits: dict[Places, list[int]] = {}
        self._tables: dict[tuple[Places, Places], dict[int, int]] = {}
        self._arcs: dict[tuple[int, ...], Arcs] = {}
        self.plain = (1 << self.sides) - 1

    def bits(self, places: Places, link: bool) -> list[int]:
        """The bit of each place of a thing; of the drive in its own order, as its direction is never asked for."""
        if places not in self._bits:
            found, seen = [], dict[int, int]()
            for index, direction in enumerate(places.directions):
                number = self._number[direction % 360]
                side = seen[number] = seen.get(number, -1) + 1
                found.append(number * self.sides + side if link else index)
            self._bits[places] = found
        return self._bits[places]

    def table(self, one: Places, other: Places, table: list[int], links: tuple[bool, bool]) -> dict[int, int]:
        """A table of two things by these bits."""
        if (one, other) not in self._tables:
            mine, others = self.bits(one, links[0]), self.bits(other, links[1])
            as_it_is = others == list(range(len(others)))
            self._tables[one, other] = {
                bit: row if as_it_is else sum(1 << others[index] for index in set_cells(row))
                for bit, row in zip(mine, table, strict=True)
            }
        return self._tables[one, other]

    def arcs(self, some: int, tick: Callable[[], None]) -> Arcs:
        """The directions of these places of links."""
        plain = self.plain
        numbers = tuple(number for number in range(len(self.units)) if some >> number * self.sides & plain)
        if numbers not in self._arcs:
            self._arcs[numbers] = Arcs(self.units, self.whole, numbers, tick)
        return self._arcs[numbers]

    def mask_of(self, numbers: Sequence[int]) -> int:
        """The places in the directions with these numbers."""
        return sum(self.plain << number * self.sides for number in numbers)


class Ways:
    """The ways to place the links of one train, then its drive, and to hold its rings."""

    def __init__(self, fitter: Fitter, circle: CircleBits, stack: RingStack, known: Tabled, steps: int) -> None:
        """steps: how many may be made; StepsSpent beyond. held: rollers of ways that are known."""
        self.fitter, self.circle, self.stack, self.steps = fitter, circle, stack, steps
        self.domains, self.holder = known.domains, fitter.holder
        self.held: dict[Chosen, Rollers | None] = {}
        self.links = len(stack.rings) - 1
        count = len(self.domains)
        self.bits = [circle.bits(domain, self.is_link(thing)) for thing, domain in enumerate(self.domains)]
        self.index = [{bit: index for index, bit in enumerate(some)} for some in self.bits]
        self.left = [
            sum(1 << some[index] for index in set_cells(kept)) for some, kept in zip(self.bits, known.left, strict=True)
        ]
        self.tables = {
            (i, j): circle.table(self.domains[i], self.domains[j], table, (self.is_link(i), self.is_link(j)))
            for (i, j), table in known.tables.items()
        }
        self.beside = [[j for j in range(count) if (i, j) in self.tables] for i in range(count)]

    def arcs(self) -> Arcs:
        """The parts of the circle in which links can stand."""
        some = 0
        for left in self.left[: self.links]:
            some |= left
        return self.circle.arcs(some, self.fitter.tick)

    def is_link(self, thing: int) -> bool:
        """Whether a thing is a link, and not the drive."""
        return thing < self.links

    def number(self, bit: int) -> int:
        """Of a link's place the number of its direction."""
        return bit // self.circle.sides

    def step(self) -> None:
        """Count a step. Raises StepsSpent, and what the stop rule raises."""
        self.fitter.tick()
        self.steps -= 1
        if self.steps < 0:
            raise StepsSpent

    def any(self, asked: PlacesAsked, share: int = 1, fixed: Sequence[int] = ()) -> Chosen | None:
        """Some way that is as wished, the first things at these bits; None: there is none. Raises StepsSpent where that
        takes more than a part of the steps that are left."""
        kept = self.steps - self.steps // share
        self.steps -= kept
        try:
            return self._any(asked, fixed)
        finally:
            self.steps = max(self.steps, 0) + kept

    def _any(self, asked: PlacesAsked, fixed: Sequence[int]) -> Chosen | None:
        at: list[int | None] = [None] * len(self.domains)
        left = list(self.left)
        for thing, bit in enumerate(fixed):
            if not self._put(at, left, thing, bit):
                return None
        return self._onward(asked, at, left) if asked.leaves(self, at, left) else None

    def first(self, asked: PlacesAsked, way: Chosen) -> Chosen:
        """Of the ways that are as wished the first: by the place of the innermost link, then of the next one; as far as
        the steps that are left tell. way: one of them."""
        fixed: list[int] = []
        try:
            for thing, some in enumerate(self.bits):
                for index in range(way[thing]):
                    if self.left[thing] >> some[index] & 1:
                        found = self.any(asked, fixed=[*fixed, some[index]])
                        if found is not None:
                            way = found
                            break
                fixed.append(some[way[thing]])
        except StepsSpent:
            pass
        return way

    def rollers(self, way: Chosen) -> Rollers | None:
        """The rollers of every ring, as they are chosen where these places are; None: there are none."""
        if way not in self.held:
            holder = self.holder
            self.held[way] = (
                holder.rollers(self.stack, self.domains, list(way), self.step) if holder is not None else ()
            )
        return self.held[way]

    def _put(self, at: list[int | None], left: list[int], thing: int, bit: int) -> bool:
        """Choose a place, in place; False: it leaves another thing none."""
        if not left[thing] >> bit & 1:
            return False
        at[thing], left[thing] = bit, 1 << bit
        for other in self.beside[thing]:
            left[other] &= self.tables[thing, other][bit]
            if not left[other]:
                return False
        return True

    def _onward(self, asked: PlacesAsked, at: list[int | None], left: list[int]) -> Chosen | None:
        self.step()
        thing, fewest = -1, 0
        for one, some in enumerate(left):
            if at[one] is None:
                count = some.bit_count()
                if not count:
                    return None
                if thing < 0 or (count < fewest and not asked.in_order):
                    thing, fewest = one, count
        if thing < 0:
            way = tuple(self.index[one][bit] for one, bit in enumerate(at) if bit is not None)
            return way if self.rollers(way) is not None else None
        for bit in asked.in_turn(at, thing, left[thing]):
            now, onward = list(at), list(left)
            if not self._put(now, onward, thing, bit) or not asked.leaves(self, now, onward):
                continue
            if self.holder is not None and not self._held(self.holder, thing, now):
                continue
            found = self._onward(asked, now, onward)
            if found is not None:
                return found
        return None

    def _held(self, holder: Holder, thing: int, at: list[int | None]) -> bool:
        """Whether the rings that a thing works with, where their links stand, can have their rollers, looked at alone;
        of a whole way, whether every ring can."""
        stood = [one for one, bit in enumerate(at) if bit is not None]
        levels: Sequence[int] = range(len(self.stack.rings))
        if len(stood) < len(at):
            near = [side.level for side in self.domains[thing].shape.sides]
            levels = [level for level in near if all(at[one] is not None for one in self._around(level))]
        if not levels:
            return True
        domains = [self.domains[one] for one in stood]
        chosen = [self.index[one][bit] for one, bit in enumerate(at) if bit is not None]
        return all(holder.can_hold(level, self.stack, domains, chosen, self.step) for level in levels)

    def _around(self, level: int) -> list[int]:
        """The links that work with the ring of a level."""
        return [one for one in (level - 1, level) if 0 <= one < self.links]
