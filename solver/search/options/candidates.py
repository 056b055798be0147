"""Candidates: every choice of kind, wheel and pinion that one link may take by the rules that look at it alone."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from itertools import product
from operator import itemgetter
from typing import NamedTuple

import numpy as np

from solver.design.design import Design
from solver.design.links import KINDS, LinkKind
from solver.design.made import FixedLink
from solver.design.ranges import MOST_TEETH
from solver.design.train import Link
from solver.search.levels import least_step, levels_of
from solver.search.options.caps import Caps, caps_of
from solver.search.options.thirds import ThirdRules
from solver.search.place.placing import Fitter
from solver.search.place.shapes import link_shape
from solver.search.rank import arbor_radii, arbor_teeth
from solver.search.reaches import gap_of
from solver.search.runs import runs_of
from solver.search.solves import Solves


class Option(NamedTuple):
    """A candidate in short: kind (index into KINDS), wheel, pinion."""

    kind: int
    wheel: int
    pinion: int


class Candidate(NamedTuple):
    """A kind (index into KINDS), wheel and pinion; `thirds` holds the smallest third gears that fit."""

    kind: int
    wheel: int
    pinion: int
    thirds: tuple[int, ...]


class Candidates:
    """The candidates of a design's links, found once for each pair of neighbouring rings.

    They obey `teeth`, `reverted`, `third`, `level`, `run`, and of the caps `largest` and `envelope`; what couples links
    (parts, jigs, teeth) is left to the lattice and the model.
    """

    def __init__(
        self,
        design: Design,
        tick: Callable[[], None] = lambda: None,
        caps: Caps | None = None,
        solves: Solves | None = None,
        fitter: Fitter | None = None,
    ) -> None:
        """tick: called now and then; what it raises ends the work. caps: the design's own where None. solves: how to
        run CP-SAT where a placement needs it. fitter: one that knows something of the design's places already."""
        self.design, self.tick = design, tick
        caps = caps_of(design) if caps is None else caps
        self.reverted = design.arbors.reverted
        self.growing = self.reverted  # without places the rings need not grow
        self.gap = gap_of(design) if self.reverted else 0
        if self.gap > 2 * MOST_TEETH:
            self.gap = 2 * MOST_TEETH + 1  # no third gear reaches that far, however much farther it would have to
        self.most_envelope = caps.get("envelope")
        most = caps.get("largest")
        self.wheel_teeth = tuple(z for z in design.arbors.wheel_teeth if most is None or z <= most)
        self.pinion_teeth = tuple(z for z in design.arbors.pinion_teeth if most is None or z <= most)
        self.third_teeth = tuple(z for z in design.arbors.third_teeth if most is None or z <= most)
        self.fitter = fitter
        if fitter is None and design.fit.directions is not None:
            self.fitter = Fitter(design, self.gap, tick, solves)
        # Without a limit to what reaches out, only the difference between two rings decides what stands between them,
        # and where gears must run, what sort of ring each is.
        self.relative = self.most_envelope is None
        self.runs, levels = runs_of(design), levels_of(design)
        self.kinds = [kind for kind in KINDS if levels is None or levels.link(kind)]
        self.least_step = least_step(design)
        self.roomy = self._roomy()
        self._found: dict[tuple[int, ...], tuple[Candidate, ...]] = {}
        self._tables: dict[tuple[int, ...], np.ndarray] = {}
        self._thirds: dict[tuple[int, ...], dict[Option, tuple[int, ...]]] = {}
        self._standing: dict[tuple[tuple[int, ...], FixedLink], tuple[Candidate, ...]] = {}

    def third_rules(self, caps: Caps) -> ThirdRules:
        """What the third gears of a train of these candidates must keep under caps."""
        design = self.design
        return ThirdRules(
            self.third_teeth, self.gap, self.reverted, caps, self.runs,
            design.on_bench, design.counts_new, design.ranks_new,
        )  # fmt: skip

    def standing(self, inner: int, outer: int, link: FixedLink) -> tuple[Candidate, ...]:
        """The candidate that is a link which stays, or none where it cannot stand between these rings."""
        key = self.key(inner, outer)
        if (key, link) not in self._standing:
            self._standing[key, link] = tuple(
                one for one in self.between(inner, outer) if self.is_link(inner, outer, one, link)
            )
        return self._standing[key, link]

    def of_link(self, number: int, inner: int, outer: int) -> tuple[Candidate, ...]:
        """The candidates between two rings that the link of this number can be: one at most where it stays."""
        link = self.design.on_bench.by_link.get(number)
        return self.between(inner, outer) if link is None else self.standing(inner, outer, link)

    def is_link(self, inner: int, outer: int, one: Candidate, link: FixedLink) -> bool:
        """Whether a candidate between two rings can be a link that stays."""
        kind = KINDS[one.kind]
        if (kind.name, one.wheel, one.pinion) != (link.kind, link.wheel, link.pinion):
            return False
        if link.thirds is None:
            return True
        sides = [(inner, one.wheel)] * kind.wheel_thirds + [(outer, one.pinion)] * kind.pinion_thirds
        return all(
            third >= least
            and third in (self.third_teeth if self.runs is None else self.runs.thirds(self.third_teeth, *side))
            and self._within(side[0], third)
            for third, least, side in zip(link.thirds, one.thirds, sides, strict=True)
        )

    def _within(self, ring: int, third: int) -> bool:
        """Whether a third gear at a ring does not reach out too far."""
        return self.most_envelope is None or ring + 2 * third <= self.most_envelope

    def smallest_plain(self, inner: int, outer: int) -> Link | None:
        """The plain link with the smallest gears; wheel and pinion grow together."""
        for index, kind in enumerate(KINDS):
            for wheel, pinion in product(self.wheel_teeth, self.pinion_teeth) if self._plain(kind) else ():
                if inner + wheel == outer + pinion and self._smallest(inner, outer, index, wheel, pinion) is not None:
                    one = Candidate(index, wheel, pinion, ())
                    if not any(True for _ in self._running(inner, outer, (one,))):
                        continue
                    return Link(kind.name, wheel, pinion) if self._in_frame(inner, outer, one) else None
        return None

    def _plain(self, kind: LinkKind) -> bool:
        return not kind.thirds and kind in self.kinds

    def key(self, inner: int, outer: int) -> tuple[int, ...]:
        """What of two rings decides which candidates stand between them."""
        if not self.reverted:
            return (0, 0)
        if not self.alike(outer):
            return (inner, outer)
        return (0, outer - inner) if self.runs is None else (outer - inner, self.sort(inner), self.sort(outer))

    def alike(self, outer: int) -> bool:
        """Whether for rings of up to `outer` teeth only their difference and their sorts decide which candidates stand
        between."""
        return self.relative and outer <= self.roomy

    def sort(self, ring: int) -> int:
        """A number that is the same for rings that the same small gears run with; 0 where gears need not run."""
        return 0 if self.runs is None else self.runs.sort(ring)

    def _roomy(self) -> int:
        """The largest outer ring [teeth] up to which the frame is in the way of no candidate."""
        if self.fitter is None or self.design.fit.frame is None:
            return MOST_TEETH
        gears = max((*self.wheel_teeth, *self.pinion_teeth, *self.third_teeth), default=0)
        return self.fitter.placer.free_teeth - 2 * gears - self.gap

    def between(self, inner: int, outer: int) -> tuple[Candidate, ...]:
        """All candidates of a link between rings of `inner` and `outer` teeth, in canonical order."""
        key = self.key(inner, outer)
        if key not in self._found:
            self._found[key] = tuple(self._candidates(inner, outer))
        return self._found[key]

    def table(self, inner: int, outer: int) -> np.ndarray:
        """The same as whole numbers, of shape (candidates, 3): kind, wheel and pinion."""
        key = self.key(inner, outer)
        if key not in self._tables:
            listed = self.between(inner, outer)
            columns = [np.fromiter(map(itemgetter(index), listed), np.int64, len(listed)) for index in range(3)]
            self._tables[key] = np.stack(columns, axis=1)
        return self._tables[key]

    def smallest_thirds(self, inner: int, outer: int, option: Option) -> tuple[int, ...]:
        """The smallest third gears that fit a candidate between these rings. Raises KeyError if it is none."""
        return self.options(inner, outer)[option] if KINDS[option.kind].thirds else ()

    def options(self, inner: int, outer: int) -> dict[Option, tuple[int, ...]]:
        """The candidates of a link between these rings, each with the smallest third gears that fit."""
        key = self.key(inner, outer)
        if key not in self._thirds:
            listed = self.between(inner, outer)
            self._thirds[key] = {Option(one.kind, one.wheel, one.pinion): one.thirds for one in listed}
        return self._thirds[key]

    def options_of(self, number: int, inner: int, outer: int) -> dict[Option, tuple[int, ...]]:
        """Likewise of the link of this number alone."""
        if number not in self.design.on_bench.by_link:
            return self.options(inner, outer)
        listed = self.of_link(number, inner, outer)
        return {Option(one.kind, one.wheel, one.pinion): one.thirds for one in listed}

    def teeth(self, inner: int, outer: int, option: Option) -> int:
        """Teeth of a candidate's wheel, pinion and smallest third gears."""
        return option[1] + option[2] + sum(self.smallest_thirds(inner, outer, option))

    def _candidates(self, inner: int, outer: int) -> Iterator[Candidate]:
        if abs(outer - inner) < self.least_step:
            return iter(())
        if self.runs is None and (self.fitter is None or self.alike(outer)):
            return self._unframed(inner, outer)
        among: Iterable[Candidate] = (
            self._shifted(outer - inner) if self.relative and self.reverted else self._unframed(inner, outer)
        )
        among = self._running(inner, outer, among)
        if self.fitter is None or self.alike(outer):
            return iter(among)
        return (one for one in among if self._in_frame(inner, outer, one))

    def _running(self, inner: int, outer: int, among: Iterable[Candidate]) -> Iterable[Candidate]:
        """Those whose gears run, each with the smallest third gears that do."""
        if self.runs is None:
            return among
        return (one for given in among if (one := self._if_it_runs(inner, outer, given)) is not None)

    def _if_it_runs(self, inner: int, outer: int, one: Candidate) -> Candidate | None:
        kind, least, thirds, runs = KINDS[one.kind], iter(one.thirds), list[int](), self.runs
        assert runs is not None
        for ring, gear, between in ((inner, one.wheel, kind.wheel_thirds), (outer, one.pinion, kind.pinion_thirds)):
            if not between:
                if not runs.ring_runs(ring, gear):
                    return None
                continue
            needed = next(least)
            third = next((z for z in runs.thirds(self.third_teeth, ring, gear) if z >= needed), None)
            if third is None or not self._within(ring, third):
                return None
            thirds.append(third)
        return one._replace(thirds=tuple(thirds))

    def _shifted(self, step: int) -> tuple[Candidate, ...]:
        """The candidates between two rings of that difference, as if there were no frame."""
        key = (0, step)
        if key not in self._found:
            inner = MOST_TEETH  # which of them does not matter without a frame
            self._found[key] = tuple(self._unframed(inner, inner + step))
        return self._found[key]

    def _unframed(self, inner: int, outer: int) -> Iterator[Candidate]:
        """Likewise between two rings."""
        for index, kind in enumerate(KINDS):
            if (
                kind not in self.kinds
                or kind.thirds > self.design.arbors.third_gears
                or (kind.thirds and not self.third_teeth)
            ):
                continue
            free = None if self.reverted else (self.third_teeth[0],) * kind.thirds if kind.thirds else ()
            for wheel in self.wheel_teeth:
                self.tick()
                if free is not None:
                    yield from [Candidate(index, wheel, pinion, free) for pinion in self.pinion_teeth]
                    continue
                for pinion in self.pinion_teeth:
                    thirds = self._smallest(inner, outer, index, wheel, pinion)
                    if thirds is not None:
                        yield Candidate(index, wheel, pinion, thirds)

    def _in_frame(self, inner: int, outer: int, one: Candidate) -> bool:
        """False only where the frame leaves the candidate no place, whatever its third gears are.

        A gear that is nearer to the main axis fits wherever a farther one does. With third gears on both sides only
        their arbor is looked at; the rest is left to the placement.
        """
        assert self.fitter is not None
        if self.design.fit.frame is None:
            return True
        kind, placer = KINDS[one.kind], self.fitter.placer
        self.tick()
        link = Link(kind.name, one.wheel, one.pinion, one.thirds)
        least = arbor_radii(inner, outer, replace(link, thirds=self.third_teeth[-1:] * kind.thirds), self.gap)[0]
        if not placer.arbor_fits(link_shape(0, inner, outer, link, least)):
            return False
        if kind.thirds != 1:
            return True
        return any(
            placer.fits_frame(link_shape(0, inner, outer, replace(link, thirds=(third,)), least))
            for third in self.third_teeth
            if third >= one.thirds[0]
        )

    def _smallest(self, inner: int, outer: int, index: int, wheel: int, pinion: int) -> tuple[int, ...] | None:
        kind = KINDS[index]
        if self.reverted and not kind.thirds:
            centre = inner + wheel
            reach = max(centre + max(wheel, pinion), outer)
            fits = centre == outer + pinion and (self.most_envelope is None or reach <= self.most_envelope)
            return () if fits else None
        widest = Link(kind.name, wheel, pinion, (self.third_teeth[-1],) * kind.thirds if kind.thirds else ())
        arbor = arbor_teeth(inner, outer, widest, self.gap)
        if arbor is None:
            return None
        sides = [(inner, wheel)] * kind.wheel_thirds + [(outer, pinion)] * kind.pinion_thirds
        least = [bisect_left(self.third_teeth, -(-(arbor - ring - gear) // 2)) for ring, gear in sides]
        if any(rank == len(self.third_teeth) for rank in least):
            return None
        thirds = tuple(self.third_teeth[rank] for rank in least)
        reach = max([arbor + max(wheel, pinion), outer, *(r + 2 * c for (r, _), c in zip(sides, thirds, strict=True))])
        return thirds if self.most_envelope is None or reach <= self.most_envelope else None
