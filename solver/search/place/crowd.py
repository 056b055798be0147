"""Places of all trains with the same rings at once, each link in any of many shapes.

Two links' shapes with all their places are compared as one table. Backtracking that maintains arc consistency holds
one link after the other in one direction, and then in one shape; what the caller knows of the shapes that are left, of
rates above all, prunes as well. Of rollers only those of one link's own rings are looked at, with nothing else there:
it is a relaxation, and only a "no" is certain.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from solver.search.place.measures import LARGE, needs
from solver.search.place.places import GearSpots, Places, PostSpots, slabs_at
from solver.search.place.placing import Fitter
from solver.search.place.shapes import ArborShape, RingStack, share
from solver.search.place.slabs import SlabDisc, near
from solver.search.reaches import UNIT

MOST_PLACES = 800  # of all shapes of one link that are looked at; with more it is free to be anywhere
MOST_STEPS = 1500  # of holding links in a direction or shape, before it is left open
_ABSENT = -UNIT * 10**6  # size of a gear that a shape has not

Shapes = tuple[ArborShape, ...]
Fits = Callable[[Sequence[np.ndarray | None]], bool]


@dataclass(frozen=True, eq=False)
class _Disc:
    """A gear on a level, or a post that passes some, of every place of a stack: its middle and size."""

    levels: range
    xs: np.ndarray
    ys: np.ndarray
    sizes: np.ndarray


@dataclass(frozen=True, eq=False)
class _Stack:
    """All places of all shapes that one link may take; the numbers of each place's direction and shape. slabs: by
    thickness [mm], where that matters."""

    gears: list[_Disc]
    posts: list[_Disc]
    directions: np.ndarray
    shapes: np.ndarray
    slabs: list[tuple[Fraction, _Disc]]

    def __len__(self) -> int:
        return len(self.directions)


class TooManySteps(Exception):
    """Whether the links have places together is left open."""


class Crowd:
    """The links, and the drive, of trains with these rings, whose riders are sure to carry bodies."""

    def __init__(self, fitter: Fitter, stack: RingStack) -> None:
        self.fitter, self.measures, self.placer, self.tick = fitter, fitter.measures, fitter.placer, fitter.tick
        self.rings = stack
        self._stacks: dict[Shapes, _Stack | None] = {}
        self._tables: dict[tuple[_Stack, _Stack], np.ndarray] = {}

    def chosen(self, links: Sequence[Shapes | None], fits: Fits) -> Iterator[list[np.ndarray | None]]:
        """Every choice of a shape, by its number, with which the links may have places together; None: it is free.

        fits: whether the shapes that are left, by number, can do for all else, asked again and again; None: the link is
        free, because `links` says so or it has too many places. Raises TooManySteps.
        """
        stacks = [None if shapes is None else self._stack(shapes) for shapes in links]
        bound = [index for index, stack in enumerate(stacks) if stack is not None]
        tables = {
            (i, j): self._table(one, other)
            for i, one in enumerate(stacks)
            for j, other in enumerate(stacks)
            if i != j and one is not None and other is not None and self._meet(one, other)
        }
        left = [np.ones(0 if stack is None else len(stack), np.float32) for stack in stacks]
        if all(left[index].any() for index in bound):
            yield from _Holding(stacks, bound, tables, fits, self.tick).onward(left, set(tables))

    def possible(self, links: Sequence[Shapes]) -> bool:
        """False only where the links, each in one of these shapes, surely have no places together."""
        try:
            return any(True for _ in self.chosen(links, lambda left: True))
        except TooManySteps:
            return True

    def _meet(self, one: _Stack, other: _Stack) -> bool:
        levels, others = ({gear.levels.start for gear in stack.gears} for stack in (one, other))
        return self.placer.plate != "none" or near(self.measures, levels, others)

    def _stack(self, shapes: Shapes) -> _Stack | None:
        """The places of all these shapes; None: they are too many, or too far out, to be looked at."""
        if shapes not in self._stacks:
            self._stacks[shapes] = self._stacked(shapes)
        return self._stacks[shapes]

    def _stacked(self, shapes: Shapes) -> _Stack | None:
        found: list[Places] = []
        numbers = []
        count = 0
        for number, shape in enumerate(shapes):
            self.tick()
            places = self._held(self.placer.among(shape, self.rings.rings, self.rings.riders))
            count += len(places)
            if count > MOST_PLACES:
                return None
            if len(places):
                found.append(places)
                numbers.append(number)
        if not found:
            return _Stack([], [], np.zeros(0, int), np.zeros(0, int), [])
        if any(np.abs(axis).max() >= LARGE for places in found for gear in places.gears for axis in (gear.xs, gear.ys)):
            return None
        gears = [[(range(gear.level, gear.level + 1), gear) for gear in places.gears] for places in found]
        posts = [[(post.passes, post) for post in places.posts] for places in found]
        sizes = [len(places) for places in found]
        slabs = [
            [(disc.thick, range(disc.level, disc.level + 1), disc) for disc in slabs_at(self.measures, places)]
            for places in found
        ]
        thick = sorted({mm for row in slabs for mm, _, _ in row})
        angles = {angle: number for number, angle in enumerate(self.placer.directions)}
        return _Stack(
            _columns(gears, sizes), _columns(posts, sizes),
            np.array([angles[angle] for places in found for angle in places.directions]), np.repeat(numbers, sizes),
            [
                (mm, disc)
                for mm in thick
                for disc in _columns([[one[1:] for one in row if one[0] == mm] for row in slabs], sizes)
            ],
        )  # fmt: skip

    def _held(self, places: Places) -> Places:
        """Those places beside which the rings of their levels can have rollers, if nothing else were there."""
        holder = self.fitter.holder
        if holder is None:
            return places
        levels = [side.level for side in places.shape.sides]
        kept = [
            all(holder.can_hold(level, self.rings, [places], [index], self.tick) for level in levels)
            for index in range(len(places))
        ]
        return places.only(np.array(kept, bool))

    def _table(self, one: _Stack, other: _Stack) -> np.ndarray:
        """Which places of two links can be had together: 1 where they can."""
        if (one, other) not in self._tables:
            self.tick()
            kept = np.ones((len(one), len(other)), bool)
            measures = self.measures
            for mine, others, need in (
                (one.gears, other.gears, measures.gears),
                (one.posts, other.gears, lambda size: measures.gear_and(size, measures.post)),
                (one.gears, other.posts, lambda size: measures.gear_and(size, measures.post)),
                (one.posts, other.posts, lambda _: measures.rounds(measures.post, measures.post)),
            ):
                for a in mine:
                    for b in others:
                        if share(a.levels, b.levels):
                            kept &= _clear(a, b, need)
            levels = measures.thick
            for mm, a in one.slabs if levels is not None else ():
                for by, b in other.slabs:
                    between = abs(a.levels.start - b.levels.start)
                    if levels is not None and between and levels.touch(mm, by, between):
                        kept &= _clear(a, b, measures.gears)
            self._tables[(one, other)] = kept.astype(np.float32)
            self._tables[(other, one)] = np.ascontiguousarray(kept.T).astype(np.float32)
        return self._tables[(one, other)]


def _columns(rows: Sequence[Sequence[tuple[range, GearSpots | PostSpots | SlabDisc]]], sizes: list[int]) -> list[_Disc]:
    """The n-th of each level's things of every shape as one, absent where a shape has fewer."""
    slots: dict[tuple[range, int], list[GearSpots | PostSpots | SlabDisc | None]] = {}
    for index, row in enumerate(rows):
        seen: dict[range, int] = {}
        for levels, thing in row:
            number = seen[levels] = seen.get(levels, -1) + 1
            slots.setdefault((levels, number), [None] * len(rows))[index] = thing
    found = []
    for (levels, _), column in slots.items():
        xs, ys, every = [], [], []
        for one, size in zip(column, sizes, strict=True):
            xs.append(np.zeros(size, np.int64) if one is None else one.xs)
            ys.append(np.zeros(size, np.int64) if one is None else one.ys)
            every.append(np.full(size, _ABSENT if one is None else getattr(one, "size", 0)))
        found.append(_Disc(levels, np.concatenate(xs), np.concatenate(ys), np.concatenate(every)))
    return found


def _clear(one: _Disc, other: _Disc, need: Callable[[int], int]) -> np.ndarray:
    """Which pairs of places keep two things as far apart as their sizes need."""
    dx, dy = one.xs[:, None] - other.xs[None, :], one.ys[:, None] - other.ys[None, :]
    sizes = one.sizes[:, None] + other.sizes[None, :]
    asked = needs(lambda size: min(need(size), 2**63 - 1), np.maximum(sizes, 0))
    found: np.ndarray = (dx * dx + dy * dy >= asked) | (sizes < 0)
    return found


def _consistent(left: list[np.ndarray], tables: dict[tuple[int, int], np.ndarray], arcs: set[tuple[int, int]]) -> bool:
    """Arc consistency in place; False: a link has nothing left. arcs: (i, j) where i is to be looked at again."""
    waiting = set(arcs)
    while waiting:
        arc = min(waiting)
        waiting.discard(arc)
        i, j = arc
        with np.errstate(invalid="ignore"):  # entries are 0 and 1; see DEVELOPERS.md
            kept = left[i] * (tables[arc] @ left[j] > 0)
        if kept.sum() == left[i].sum():
            continue
        if not kept.any():
            return False
        left[i] = kept
        waiting |= {(k, other) for k, other in tables if other == i and k != j}
    return True


class _Holding:
    """The search of `Crowd.chosen`."""

    def __init__(
        self,
        stacks: Sequence[_Stack | None],
        bound: list[int],
        tables: dict[tuple[int, int], np.ndarray],
        fits: Fits,
        tick: Callable[[], None],
    ) -> None:
        self.stacks, self.bound, self.tables, self.fits, self.tick = stacks, bound, tables, fits, tick
        self.steps = MOST_STEPS

    def onward(self, left: list[np.ndarray], arcs: set[tuple[int, int]]) -> Iterator[list[np.ndarray | None]]:
        """The choices among what is left. arcs: what is to be looked at again."""
        self.tick()
        self.steps -= 1
        if self.steps < 0:
            raise TooManySteps
        if not _consistent(left, self.tables, arcs):
            return
        shapes = [None if one is None else np.unique(one.shapes[left[i] > 0]) for i, one in enumerate(self.stacks)]
        if not self.fits(shapes):
            return
        split = self._split(left)
        if split is None:
            yield shapes
            return
        index, numbers = split
        for number in np.unique(numbers[left[index] > 0]).tolist():
            narrowed = list(left)
            narrowed[index] = left[index] * (numbers == number)
            yield from self.onward(narrowed, {arc for arc in self.tables if arc[1] == index})

    def _split(self, left: list[np.ndarray]) -> tuple[int, np.ndarray] | None:
        """The link that is split next, by direction or, where each has but one, by shape."""
        for by in ("directions", "shapes"):
            ways = []
            for index in self.bound:
                numbers = getattr(self.stacks[index], by)
                count = len(np.unique(numbers[left[index] > 0]))
                if count > 1:
                    ways.append((count, index, numbers))
            if ways:
                return min(ways, key=lambda way: way[:2])[1:]
        return None
