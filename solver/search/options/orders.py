"""The orders of one class: the links between two bodies in every order that the rules of single links allow.

Solutions with the same rings, in which between each two bodies the same links stand in whichever order, are a *class*.
A state of the search through its orders says for each link which of the class's links it may be; splitting it at the
first kind, wheel or pinion that is open meets the orders as trains alike in all keys are put in order: by kinds, then
by wheels, then by pinions. A state that leaves some link without a seat (no perfect matching) is never begun.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Sequence
from itertools import pairwise
from math import comb
from typing import NamedTuple

from solver.search.options.candidates import Option

Seats = Callable[[int, int, int], Collection[Option]]  # what the link of a number may be between rings of these teeth


class OrderState(NamedTuple):
    """For each link a bit set of those of its stretch that it may be; and the values it was split by, which put states
    of one class in order."""

    masks: tuple[int, ...]
    split: tuple[int, ...]


def seated(masks: Sequence[int]) -> bool:
    """Whether every place can have one of its own: a perfect matching, by augmenting paths."""
    holder: dict[int, int] = {}

    def seat(place: int, tried: list[int]) -> bool:
        left = masks[place] & ~tried[0]
        while left:
            one = left & -left
            left ^= one
            tried[0] |= one
            if one not in holder or seat(holder[one], tried):
                holder[one] = place
                return True
            left &= ~tried[0]
        return False

    return all(seat(place, [0]) for place in range(len(masks)))


class LinkStretch:
    """The links between two bodies as one set. links: in ascending order; begin: the level of the first."""

    def __init__(self, begin: int, rings: tuple[int, ...], options: Sequence[Option], between: Seats) -> None:
        """rings: those from body to body; options: a link for each gap between them, in any order."""
        self.begin, self.rings, self.links = begin, rings, tuple(sorted(options))
        if len(self.links) == 1 or self.links[0] == self.links[-1]:
            self.masks: tuple[int, ...] = tuple(1 << index for index in range(len(self.links)))
        else:
            self.masks = tuple(
                sum(1 << index for index, one in enumerate(self.links) if one in allowed)
                for allowed in (between(begin + at, *gap) for at, gap in enumerate(pairwise(rings)))
            )
        self.parts = tuple(self._parts(phase) for phase in range(3))

    def _parts(self, phase: int) -> tuple[tuple[int, int], ...]:
        """Each value of kinds, wheels or pinions, ascending, and the links that have it."""
        found: dict[int, int] = {}
        for index, link in enumerate(self.links):
            found[link[phase]] = found.get(link[phase], 0) | 1 << index
        return tuple(sorted(found.items()))

    def link(self, mask: int) -> Option:
        """The link that a mask of links that are all alike stands for."""
        return self.links[(mask & -mask).bit_length() - 1]

    def settled(self, mask: int) -> bool:
        """Whether all links of a mask are alike."""
        return self.link(mask) == self.links[mask.bit_length() - 1]

    def first(self) -> tuple[Option, ...]:
        """Of its orders the first, link by link."""
        masks = list(self.masks)
        for place in range(len(masks)):
            for index in range(len(self.links)):
                one = 1 << index
                if masks[place] & one and seated([*masks[:place], one, *masks[place + 1 :]]):
                    masks[place] = one
                    break
        return tuple(map(self.link, masks))

    def count(self) -> int:
        """How many orders there are: those that differ. By the links that are left for each further gap."""
        kinds = tuple(dict.fromkeys(self.links))
        left = tuple(self.links.count(one) for one in kinds)
        if all(mask == self.masks[0] for mask in self.masks):
            total, found = len(self.links), 1
            for some in left:
                found *= comb(total, some)
                total -= some
            return found
        among = [sum(1 << index for index, link in enumerate(self.links) if link == one) for one in kinds]
        ways = {left: 1}
        for mask in self.masks:
            onward: dict[tuple[int, ...], int] = {}
            for state, many in ways.items():
                for kind, some in enumerate(state):
                    if some and mask & among[kind]:
                        rest = (*state[:kind], some - 1, *state[kind + 1 :])
                        onward[rest] = onward.get(rest, 0) + many
            ways = onward
        return sum(ways.values())


class Orders:
    """All orders of one class."""

    def __init__(
        self, rings: tuple[int, ...], seats: tuple[int, ...], options: Sequence[Option], between: Seats
    ) -> None:
        self.stretches = [
            LinkStretch(begin, rings[begin : end + 1], options[begin:end], between) for begin, end in pairwise(seats)
        ]
        self.begin = OrderState(tuple(mask for stretch in self.stretches for mask in stretch.masks), ())

    def split(self, state: OrderState) -> list[OrderState] | None:
        """The state by the values of the first kind, wheel or pinion that is open, ascending; None: it is one order."""
        for phase in range(3):
            for stretch in self.stretches:
                end = stretch.begin + len(stretch.links)
                for level in range(stretch.begin, end):
                    mask = state.masks[level]
                    if mask & (mask - 1):
                        some = [(value, mask & part) for value, part in stretch.parts[phase] if mask & part]
                        if len(some) > 1:
                            return [
                                OrderState(
                                    (*state.masks[:level], part, *state.masks[level + 1 :]), (*state.split, value)
                                )
                                for value, part in some
                                if seated((*state.masks[stretch.begin : level], part, *state.masks[level + 1 : end]))
                            ]
        return None

    def options(self, state: OrderState) -> tuple[Option, ...]:
        """The links of a state that is one order."""
        masks = iter(state.masks)
        return tuple(stretch.link(next(masks)) for stretch in self.stretches for _ in stretch.links)

    def all(self) -> Iterator[tuple[Option, ...]]:
        """Every order, as trains alike in all keys are put in order."""
        stack = [self.begin]
        while stack:
            state = stack.pop()
            states = self.split(state)
            if states is None:
                yield self.options(state)
            else:
                stack += reversed(states)

    def count(self) -> int:
        """How many there are."""
        found = 1
        for stretch in self.stretches:
            found *= stretch.count()
        return found
