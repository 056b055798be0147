"""Candidates: every choice of kind, wheel and pinion that one link may take by the rules that look at it alone."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Sequence
from copy import copy
from dataclasses import dataclass, replace
from itertools import pairwise, product
from typing import Any

from solver.design.design import Design, Family
from solver.design.geometry import envelope_limit_teeth, gap_teeth
from solver.design.links import KINDS
from solver.design.ranges import MOST_TEETH
from solver.design.train import Link
from solver.search.options.choosing import Chooser
from solver.search.place.drive import least_reach
from solver.search.place.places import link_shape
from solver.search.place.placing import Fitter
from solver.search.rank import arbor_radii, arbor_teeth
from solver.search.solves import Solves

Caps = dict[str, int]  # the greatest value allowed of a rank key, as `Figures.value` counts it
Option = tuple[int, int, int]  # a candidate in short: kind (index into KINDS), wheel, pinion


def caps_of(design: Design) -> Caps:
    """The greatest parts, jigs, teeth, largest gear and envelope [teeth] that the design's limits allow."""
    limits, rings = design.limits, design.rings
    caps = {key: getattr(limits, f"max_{key}") for key in ("parts", "jigs", "teeth", "largest")}
    if limits.max_envelope is not None:
        caps["envelope"] = envelope_limit_teeth(rings.pitch, rings.addendum, limits.max_envelope)
    return {key: most for key, most in caps.items() if most is not None}


@dataclass(frozen=True)
class Candidate:
    """A kind (index into KINDS), wheel and pinion; `thirds` holds the smallest third gears that fit."""

    kind: int
    wheel: int
    pinion: int
    thirds: tuple[int, ...]


class Candidates:
    """The candidates of a design's links, found once for each pair of neighbouring rings.

    They obey `teeth`, `reverted`, `third`, and of the caps `largest` and `envelope`; what couples links is left to
    the lattice and the model.
    """

    def __init__(
        self,
        design: Design,
        tick: Callable[[], None] = lambda: None,
        caps: Caps | None = None,
        solves: Solves | None = None,
    ) -> None:
        """tick: called now and then; what it raises ends the work. caps: the design's own where None. solves: how to
        run CP-SAT where a placement needs it."""
        self.design, self.tick = design, tick
        self.caps = caps_of(design) if caps is None else caps
        self.reverted = design.arbors.reverted
        self.growing = self.reverted  # without places the rings need not grow
        rings = design.rings
        self.gap = gap_teeth(rings.pitch, rings.addendum, design.fit.clearance) if self.reverted else 0
        if self.gap > 2 * MOST_TEETH:
            self.gap = 2 * MOST_TEETH + 1  # no third gear reaches that far, however much farther it would have to
        self.most_envelope = self.caps.get("envelope")
        most = self.caps.get("largest")
        self.wheel_teeth = tuple(z for z in design.arbors.wheel_teeth if most is None or z <= most)
        self.pinion_teeth = tuple(z for z in design.arbors.pinion_teeth if most is None or z <= most)
        self.third_teeth = tuple(z for z in design.arbors.third_teeth if most is None or z <= most)
        self.fitter = Fitter(design, self.gap, tick, solves) if design.fit.directions is not None else None
        self.chooser = Chooser(design, self.gap, self.fitter, tick) if self.fitter is not None else None
        # Without a limit to what reaches out, only the difference between two rings decides what stands between them.
        self.relative = self.most_envelope is None
        self.roomy = self._roomy()
        self.kept: dict[int, Any] = {}  # segments by scale, which whoever makes them keeps here
        self._families: dict[tuple[int, ...], tuple[Family, ...]] = {}  # by how many third gears there may be
        self._among: tuple[Candidates, Callable[[int, int], bool]] | None = None
        self._found: dict[tuple[int, int], tuple[Candidate, ...]] = {}
        self._thirds: dict[tuple[int, int], dict[Option, tuple[int, ...]]] = {}

    def third_limit(self, rings: int) -> int:
        """How many third gears a whole train of so many rings may have, `max_parts` counted in; negative: not even
        none."""
        links = rings - 1
        limit = min(self.design.arbors.third_gears, 2 * links)
        most = self.caps.get("parts")
        if most is not None:
            limit = min(limit, (most - rings - 3 * links) // 2)
        return limit

    def drive_reach(self, rings: Sequence[int]) -> int:
        """No drive of a train with these rings reaches out less [teeth]; 0 where none is asked for."""
        return 0 if self.design.drive is None else least_reach(self.design.drive, rings)

    def _count_possible(self, family: Family, count: int) -> bool:
        """False where so many rings, the smallest gears between them, or a drive within the cap on the envelope surely
        have no places."""
        assert self.fitter is not None
        choices = family.rings[:count]
        if not self.fitter.rings_sound(choices):
            return False
        if self.most_envelope is not None and self.drive_reach([choice[0] for choice in choices]) > self.most_envelope:
            return False
        if any(len(choice) > 1 for choice in choices):
            return True
        rings = tuple(choice[0] for choice in choices)
        plain = [self._smallest_plain(inner, outer) for inner, outer in pairwise(rings)]
        if rings[-1] <= self.roomy and self.fitter.two_directions_do(rings, plain):
            return True
        return self.fitter.chain_possible(rings, plain, max(0, self.third_limit(count)))

    def _smallest_plain(self, inner: int, outer: int) -> Link | None:
        """The plain link with the smallest gears; wheel and pinion grow together."""
        for index, kind in enumerate(KINDS):
            for wheel, pinion in product(self.wheel_teeth, self.pinion_teeth) if not kind.thirds else ():
                if inner + wheel == outer + pinion and self._smallest(inner, outer, index, wheel, pinion) is not None:
                    one = Candidate(index, wheel, pinion, ())
                    return Link(kind.name, wheel, pinion) if self._in_frame(inner, outer, one) else None
        return None

    def key(self, inner: int, outer: int) -> tuple[int, int]:
        """What of two rings decides which candidates stand between them."""
        if not self.reverted:
            return (0, 0)
        return (0, outer - inner) if self.alike(outer) else (inner, outer)

    def alike(self, outer: int) -> bool:
        """Whether for rings of up to `outer` teeth only their difference decides which candidates stand between."""
        return self.relative and outer <= self.roomy

    def _roomy(self) -> int:
        """The largest outer ring [teeth] up to which the frame is in the way of no candidate."""
        if self.fitter is None or self.design.fit.frame is None:
            return MOST_TEETH
        gears = max((*self.wheel_teeth, *self.pinion_teeth, *self.third_teeth), default=0)
        return self.fitter.placer.free_teeth - 2 * gears - self.gap

    def families(self) -> tuple[Family, ...]:
        """The design's families without the numbers of rings that the frame, stands and rollers leave no room for."""
        if self.fitter is None:
            return self.design.families()
        every = self.design.families()
        limits = tuple(self.third_limit(count) for count in (every[0].counts if every else ()))
        if limits not in self._families:  # of the caps that searches set, only that on parts matters here
            found = []
            for family in every:
                counts = tuple(count for count in family.counts if self._count_possible(family, count))
                if counts:
                    found.append(replace(family, rings=family.rings[: counts[-1]], counts=counts))
            self._families[limits] = tuple(found)
        return self._families[limits]

    def between(self, inner: int, outer: int) -> tuple[Candidate, ...]:
        """All candidates of a link between rings of `inner` and `outer` teeth, in canonical order."""
        key = self.key(inner, outer)
        if key not in self._found:
            self._found[key] = tuple(self._candidates(inner, outer))
            self._thirds[key] = {(one.kind, one.wheel, one.pinion): one.thirds for one in self._found[key]}
        return self._found[key]

    def smallest_thirds(self, inner: int, outer: int, option: Option) -> tuple[int, ...]:
        """The smallest third gears that fit a candidate between these rings. Raises KeyError if it is none."""
        self.between(inner, outer)
        return self._thirds[self.key(inner, outer)][option]

    def teeth(self, inner: int, outer: int, option: Option) -> int:
        """Teeth of a candidate's wheel, pinion and smallest third gears."""
        return option[1] + option[2] + sum(self.smallest_thirds(inner, outer, option))

    def under(self, caps: Caps) -> Candidates:
        """The same under other caps on parts, jigs and teeth, which no link breaks alone."""
        other = copy(self)
        other.caps = caps
        return other

    def narrowed(self, allowed: Callable[[int, int], bool]) -> Candidates:
        """The same with only those wheels and pinions that are allowed together."""
        narrower = copy(self)
        narrower._among, narrower._found, narrower._thirds, narrower.kept = (self, allowed), {}, {}, {}
        return narrower

    def _candidates(self, inner: int, outer: int) -> list[Candidate]:
        if self._among is not None:
            wider, allowed = self._among
            return [one for one in wider.between(inner, outer) if allowed(one.wheel, one.pinion)]
        if self.fitter is not None and self.relative and not self.alike(outer):
            return [one for one in self._shifted(outer - inner) if self._in_frame(inner, outer, one)]
        found = []
        for index, kind in enumerate(KINDS):
            if kind.thirds > self.design.arbors.third_gears or (kind.thirds and not self.third_teeth):
                continue
            for wheel in self.wheel_teeth:
                self.tick()
                for pinion in self.pinion_teeth:
                    thirds = self._smallest(inner, outer, index, wheel, pinion)
                    if thirds is None:
                        continue
                    one = Candidate(index, wheel, pinion, thirds)
                    if self.relative or self.fitter is None or self._in_frame(inner, outer, one):
                        found.append(one)
        return found

    def _shifted(self, step: int) -> tuple[Candidate, ...]:
        """The candidates between two rings of that difference that the frame is not in the way of."""
        key = (0, step)
        if key not in self._found:
            inner = MOST_TEETH  # which of them does not matter without a frame
            free = copy(self)
            free.fitter, free._found, free._thirds = None, {}, {}
            self._found[key] = tuple(free._candidates(inner, inner + step))
            self._thirds[key] = {(one.kind, one.wheel, one.pinion): one.thirds for one in self._found[key]}
        return self._found[key]

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
        if not placer.arbor_fits(least, max(one.wheel, one.pinion)):
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
        if not self.reverted:
            return (self.third_teeth[0],) * kind.thirds if kind.thirds else ()
        widest = Link(kind.name, wheel, pinion, (self.third_teeth[-1],) * kind.thirds if kind.thirds else ())
        arbor = arbor_teeth(inner, outer, widest, self.gap)
        if arbor is None:
            return None
        sides = [(inner, wheel)] * kind.wheel_thirds + [(outer, pinion)] * kind.pinion_thirds
        least = [bisect_left(self.third_teeth, -(-(arbor - ring - gear) // 2)) for ring, gear in sides]
        if any(place == len(self.third_teeth) for place in least):
            return None
        thirds = tuple(self.third_teeth[place] for place in least)
        reach = max([arbor + max(wheel, pinion), outer, *(r + 2 * c for (r, _), c in zip(sides, thirds, strict=True))])
        return thirds if self.most_envelope is None or reach <= self.most_envelope else None
