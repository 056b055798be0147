"""The segments of a design at one scale, each made once.

A segment depends on the differences between the rings' teeth and not on where in the train it stands, so the
structures of a design share most of theirs.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Hashable, Iterator, Sequence
from functools import lru_cache

import numpy as np

from solver.design.links import KINDS
from solver.design.made import FixedLink
from solver.search.options.candidates import Candidate, Candidates, Option
from solver.search.reach.gears import Count, SegmentGears
from solver.search.reach.segment import Segment
from solver.search.reach.sums import Layer, LinkStep, OptionGroups

WIDE = 1 << 24  # bits of a set beyond which only the part that can matter is kept

MANY = 10_000  # candidates of a link that are sorted by arrays
Offsets = tuple[tuple[int, ...], ...]  # for each ring the teeth that it may have beyond the first one's
Stays = tuple[FixedLink | None, ...]
Marks = tuple[tuple[object, ...], ...]  # for each ring these, and where gears must run, of what sorts the rings are


@lru_cache(maxsize=1 << 17)
def _log_ratio(wheel: int, pinion: int) -> float:
    return math.log(wheel) - math.log(pinion)


class Segments:
    """The segments of candidates at one scale: units of 1/scale."""

    def __init__(self, candidates: Candidates, scale: int) -> None:
        self.candidates, self.scale = candidates, scale
        self._steps: dict[tuple[int, ...], tuple[LinkStep, ...]] = {}
        self._standing: dict[tuple[tuple[int, ...], FixedLink], tuple[LinkStep, ...]] = {}
        self._segments: dict[tuple[object, ...], Segment] = {}
        self._gears: dict[tuple[int, type[Count]], SegmentGears] = {}
        self._layers: dict[tuple[object, ...], list[Layer]] = {}

    def steps(self, inner: int, outer: int) -> tuple[LinkStep, ...]:
        """The steps of a link between rings of `inner` and `outer` teeth."""
        key = self.candidates.key(inner, outer)
        if key not in self._steps:
            listed = self.candidates.between(inner, outer)
            many = len(listed) > MANY
            steps = self._many_steps(self.candidates.table(inner, outer)) if many else self._few_steps(listed)
            self._steps[key] = tuple(steps)
        return self._steps[key]

    def standing(self, inner: int, outer: int, link: FixedLink) -> tuple[LinkStep, ...]:
        """The steps of a link that stays."""
        key = (self.candidates.key(inner, outer), link)
        if key not in self._standing:
            self._standing[key] = tuple(self._few_steps(self.candidates.standing(inner, outer, link)))
        return self._standing[key]

    def _few_steps(self, listed: Sequence[Candidate]) -> Iterator[LinkStep]:
        found: dict[int, dict[int, list[Option]]] = {}
        for candidate in listed:
            shift = round(self.scale * _log_ratio(candidate.wheel, candidate.pinion))
            option = Option(candidate.kind, candidate.wheel, candidate.pinion)
            found.setdefault(KINDS[candidate.kind].thirds, {}).setdefault(shift, []).append(option)
        for thirds, shifts in sorted(found.items()):
            values = sorted(shifts)
            yield LinkStep(thirds, tuple(values), tuple(tuple(shifts[value]) for value in values))

    def _many_steps(self, table: np.ndarray) -> Iterator[LinkStep]:
        """The same by arrays, the candidates of a shift made when they are asked for."""
        logs = np.log(np.arange(table.max() + 1).clip(1))
        shifts = np.rint(self.scale * (logs[table[:, 1]] - logs[table[:, 2]])).astype(np.int64)
        of_kind = np.array([kind.thirds for kind in KINDS])[table[:, 0]]
        for thirds in np.unique(of_kind).tolist():
            here = np.flatnonzero(of_kind == thirds)
            here = here[np.argsort(shifts[here], kind="stable")]
            values, begins = np.unique(shifts[here], return_index=True)
            yield LinkStep(thirds, values.tolist(), OptionGroups(table[here], [*begins[1:].tolist(), len(here)]))

    def segment(
        self, rings: tuple[tuple[int, ...], ...], most_thirds: int, keep: tuple[int, int], stays: Stays = ()
    ) -> Segment:
        """The segment through these rings, the first and the last of one tooth count each.

        keep: the sums that can matter; stays: for each link what it is, None where that is open, and nothing where all
        are. Where rings do not decide what a link can be, blanks are passed over as if
        they all had one tooth count.
        """
        first = rings[0][0]
        if self.candidates.reverted:
            offsets: Offsets = tuple(tuple(z - first for z in ring) for ring in rings)
        else:
            offsets = ((0,),) * len(rings)
        alike = self.candidates.alike(max(max(ring) for ring in rings))
        kind = (most_thirds, None if alike else first)
        marks: Marks = offsets
        if self.candidates.runs is not None:
            marks = tuple(
                (some, tuple(map(self.candidates.sort, ring))) for some, ring in zip(offsets, rings, strict=True)
            )
        if stays:
            marks = tuple(zip(marks, (None, *stays), strict=True))  # with each ring the link that leads there
        key: tuple[object, ...] = (marks, *kind)
        found = self._segments.get(key)
        if found is None and self._width(rings) > WIDE:
            key = (*key, keep)
            found = self._segments.get(key)
            if found is None:
                found = self._segments[key] = Segment(offsets, _LinksFrom(self, first, stays), most_thirds, keep, [])
        elif found is None:
            begun = self._begun(marks, kind)
            found = self._segments[key] = Segment(offsets, _LinksFrom(self, first, stays), most_thirds, None, begun)
            for length in range(2, len(offsets) + 1):
                self._layers[(marks[:length], *kind)] = found.layers[:length]
        return found

    def gears(self, segment: Segment, count: Count) -> SegmentGears:
        """The sets of gears of one of these segments, as this counts them."""
        return self._gears.setdefault((id(segment), type(count)), SegmentGears(segment, count))

    def _begun(self, marks: Marks, kind: tuple[int, int | None]) -> list[Layer]:
        """The layers of the longest segment known that begins alike."""
        for length in range(len(marks), 1, -1):
            if (marks[:length], *kind) in self._layers:
                return list(self._layers[(marks[:length], *kind)])
        return []

    def _width(self, rings: tuple[tuple[int, ...], ...]) -> int:
        """Greatest number of bits that a set of sums may have."""
        gears = (*self.candidates.wheel_teeth, *self.candidates.pinion_teeth)
        return round((len(rings) - 1) * 2 * self.scale * math.log(max(gears) / min(gears))) if gears else 0


class _LinksFrom:
    """The links of segments that begin at a ring of `first` teeth."""

    def __init__(self, segments: Segments, first: int, stays: Stays) -> None:
        self.segments, self.first, self.stays = segments, first, stays
        self.growing, self.tick = segments.candidates.growing, segments.candidates.tick
        self.one_order = segments.candidates.design.gathers_orders

    def steps(self, link: int, inner: int, outer: int) -> tuple[LinkStep, ...]:
        stays = self.stays[link] if self.stays else None
        if stays is not None:
            return self.segments.standing(self.first + inner, self.first + outer, stays)
        return self.segments.steps(self.first + inner, self.first + outer)

    def teeth(self, inner: int, outer: int, option: Option) -> int:
        return self.segments.candidates.teeth(self.first + inner, self.first + outer, option)

    def mark(self, link: int, inner: int, outer: int) -> Hashable:
        key = self.segments.candidates.key(self.first + inner, self.first + outer)
        return (key, self.stays[link]) if self.stays else key

    def allowed(self, link: int, inner: int, outer: int) -> Collection[Option]:
        rings = self.first + inner, self.first + outer
        stays = self.stays[link] if self.stays else None
        if stays is None:
            return self.segments.candidates.options(*rings)
        return [Option(one.kind, one.wheel, one.pinion) for one in self.segments.candidates.standing(*rings, stays)]
