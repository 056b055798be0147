"""Rings whose trains find no places one by one: whether any train with these rings has any, by rates and places alike.

Logic-based Benders' way round: where what the rates allow is refused again and again for want of places, the places of
all plain links are looked at together, and the rates prune them by the bounds of their sums.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import combinations, islice, pairwise

import numpy as np

from solver.design.design import Design, Family, Structure
from solver.design.kinematics import pairs
from solver.design.links import KINDS
from solver.design.train import Link
from solver.search.options.candidates import Candidates, Option
from solver.search.options.caps import caps_of, third_limit
from solver.search.options.choosing import Chooser
from solver.search.place.crowd import MOST_PLACES, Crowd, Shapes, TooManySteps
from solver.search.place.drive import shafts
from solver.search.place.shapes import link_shape
from solver.search.reach.walks import Path
from solver.search.rounding import NEAR

PATIENCE = 3  # trains with the same rings that have no place, before all are looked at together
MOST_FREE = 40  # choices of links with third gears that are looked at
WITNESSES = 20  # trains that may have places, and are tried


class Crowds:
    """What is known of each choice of rings of one design."""

    def __init__(self, design: Design, candidates: Candidates, chooser: Chooser | None) -> None:
        self.design, self.candidates, self.chooser, self.pairs = design, candidates, chooser, pairs(design)
        self.dead: set[tuple[int, ...]] = set()  # rings with which no train is within the design's own limits
        self._failed: dict[tuple[int, ...], int] = {}

    def failed(self, rings: tuple[int, ...]) -> list[Path]:
        """One more train with these rings has no place. Returns others that may have, once for these rings."""
        self._failed[rings] = self._failed.get(rings, 0) + 1
        return self._likely(rings) if self._failed[rings] == PATIENCE else []

    def _likely(self, rings: tuple[int, ...]) -> list[Path]:
        chooser = self.chooser
        assert chooser is not None
        last = len(rings) - 1
        if last < 1:
            return []
        every = ((0, *middle, last) for middle in combinations(range(1, last), len(self.design.bodies) - 2))
        stays = self.design.on_bench.seats_of
        every = (one for one in every if all(stays(body, [ring]) for body, ring in enumerate(one)))
        seats = [one for one in every if chooser.fitter.stiff(rings, one)]
        if not seats:
            self.dead.add(rings)
            return []
        crowd = chooser.crowd(rings, (0, last))
        rates = _Rates(self, rings, seats)
        thirds = max(0, third_limit(self.design, caps_of(self.design), len(rings)))
        free = list(islice(combinations(range(last), min(thirds, last)), MOST_FREE + 1))
        likely = list[Path]()
        try:
            for path in rates.trains(crowd, ()):
                if path is not None and path not in likely:
                    likely.append(path)
                if path is None or len(likely) == WITNESSES:
                    return likely
            if not likely and (not thirds or self._none_free(crowd, rates, free)):
                self.dead.add(rings)
        except TooManySteps:
            pass
        return likely

    def gone(self, what: Family | Structure) -> bool:
        """Whether no train of a family or structure is within the design's own limits."""
        if not self.dead or any(len(choice) > 1 for choice in what.rings):
            return False
        rings = tuple(choice[0] for choice in what.rings)
        counts = what.counts if isinstance(what, Family) else (len(rings),)
        return all(rings[:count] in self.dead for count in counts)

    def _none_free(self, crowd: Crowd, rates: _Rates, free: list[tuple[int, ...]]) -> bool:
        """Whether there is nothing even where so many links have third gears, and are in nobody's way."""
        return len(free) <= MOST_FREE and not any(True for some in free for _ in rates.trains(crowd, some))


class _Rates:
    """What the rates allow of the links between these rings, the bodies on some of them."""

    def __init__(self, crowds: Crowds, rings: tuple[int, ...], seats: Sequence[tuple[int, ...]]) -> None:
        between = [crowds.candidates.of_link(link, *gap) for link, gap in enumerate(pairwise(rings))]
        self.rings, self.seats = rings, np.array(seats)
        self.plain = [[one for one in some if not KINDS[one.kind].thirds] for some in between]
        self.logs = [np.array([math.log(one.wheel / one.pinion) for one in some]) for some in self.plain]
        every = [[math.log(one.wheel / one.pinion) for one in some] for some in between]
        self.spans = [(min(some, default=0.0), max(some, default=0.0)) for some in every]
        self.bounds = [
            (
                pair.above,
                pair.below,
                math.log(pair.least) + math.log1p(float(pair.cap_above)) + math.log1p(float(pair.cap_below)) + NEAR,
            )
            for pair in crowds.pairs
        ]
        self.drive: Shapes | None = None
        if crowds.design.drive is not None:
            shapes = tuple(islice(shafts(crowds.design, rings, crowds.candidates.gap), MOST_PLACES + 1))
            self.drive = shapes if len(shapes) <= MOST_PLACES else None
        self.shapes = [
            tuple(
                link_shape(level, inner, outer, Link("plain", one.wheel, one.pinion), inner + one.wheel) for one in some
            )
            for level, ((inner, outer), some) in enumerate(zip(pairwise(rings), self.plain, strict=True))
        ]

    def trains(self, crowd: Crowd, free: tuple[int, ...]) -> Iterator[Path | None]:
        """Trains of plain links that may have places; None: one whose links in `free`, or others, may be anything."""
        links = [None if level in free else shapes for level, shapes in enumerate(self.shapes)]
        for chosen in crowd.chosen([*links, self.drive], self.seated):
            left = chosen[: len(links)]
            if None in left:
                yield None
                continue
            options = tuple(
                Option(some[kept[0]].kind, some[kept[0]].wheel, some[kept[0]].pinion)
                for some, kept in zip(self.plain, left, strict=True)
                if kept is not None
            )
            for index in np.flatnonzero(self._allowed(left)).tolist():
                yield Path(self.rings, tuple(self.seats[index].tolist()), options)

    def seated(self, left: Sequence[np.ndarray | None]) -> bool:
        """Whether some seats may let every body turn at its rate with the shapes that are left."""
        return bool(self._allowed(left).any())

    def _allowed(self, left: Sequence[np.ndarray | None]) -> np.ndarray:
        """Which of the seats."""
        low, high = [0.0], [0.0]
        for kept, logs, span in zip(left, self.logs, self.spans, strict=False):  # what follows is the drive
            least, most = span if kept is None else (logs[kept].min(), logs[kept].max())
            low.append(low[-1] + least)
            high.append(high[-1] + most)
        lows, highs, rings = np.array(low), np.array(high), np.log(np.array(self.rings, float))
        kept_seats = np.ones(len(self.seats), bool)
        for above, below, most in self.bounds:
            one, other = self.seats[:, above], self.seats[:, below]
            steps = lows[one] - lows[other] if above > below else highs[one] - highs[other]
            kept_seats &= steps + rings[one] - rings[other] <= most
        return kept_seats
