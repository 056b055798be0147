"""What a train's teeth leave open, chosen together with its places: third gears, arbor radii and the drive.

What ranks first among all that has a place and is within the limits is taken, exactly. The drive is part of the
envelope: where that is a rank key or on the front, the drive that leaves the envelope least comes first, and of those
the one nearest to the wished time; else the wish alone decides.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise, product
from math import prod
from typing import TYPE_CHECKING

from solver.design.design import Design
from solver.design.geometry import envelope_limit_teeth
from solver.design.links import KIND_BY_NAME
from solver.design.train import Link, Train
from solver.search.options.thirds import TooManyThirds, best_thirds, figures_of, within_limits
from solver.search.place.drive import Motor, drive_reach, motors_within
from solver.search.place.places import any_apart
from solver.search.place.placing import Fitter, Radii
from solver.search.rank import Figures, arbor_radii, sort_key

if TYPE_CHECKING:
    from solver.search.options.candidates import Candidates

MOST_CHOICES = 50_000  # of third gears and radii of one train that are put in order


@dataclass(frozen=True)
class _Attempt:
    """A train with all its third gears, its arbors' radii, and the motors to be tried in turn (None: no drive is asked
    for), in the order in which attempts are made; figures: as far as they decide that order."""

    order: tuple[object, ...]
    figures: Figures
    train: Train
    radii: Radii
    motors: list[Motor] | None


class Chooser:
    """Chooses for trains of one design; remembers what it found out about their links."""

    def __init__(self, design: Design, gap: int, fitter: Fitter, tick: Callable[[], None] = lambda: None) -> None:
        """gap: teeth that a third gear's wheel stays clear of its ring. tick: called now and then; what it raises ends
        the work."""
        self.design, self.gap, self.fitter, self.tick = design, gap, fitter, tick
        self.compact = "envelope" in (*design.rank, *design.front)
        most, rings = design.limits.max_envelope, design.rings
        self.most = None if most is None else envelope_limit_teeth(rings.pitch, rings.addendum, most)
        self._stands_of: dict[tuple[object, ...], tuple[tuple[Link, int], ...]] = {}
        self._clear: dict[tuple[object, ...], bool] = {}

    def best(
        self, candidates: Candidates, train: Train, keys: tuple[str, ...], error_square: Fraction
    ) -> tuple[Figures, Train] | None:
        """The train, given with its smallest third gears, with the third gears, arbor radii and drive that rank first
        among those that have a place and are within the limits; None: none has. Raises TooManyThirds."""
        # Where the wish decides, a cap that a search sets must not make it another drive, only the design's own may;
        # whether the drive is within the search's is asked at the end.
        most = candidates.caps.get("envelope") if self.compact else self.most
        motors = motors_within(self.design, train, self.gap, most)
        if motors is not None:
            motors = self.fitter.with_room(train, motors)
            if not motors:
                return None
        found = self._first(candidates, train, keys, error_square, motors)
        return found if found is not None and within_limits(candidates, found[0]) else None

    def _first(
        self,
        candidates: Candidates,
        train: Train,
        keys: tuple[str, ...],
        error_square: Fraction,
        motors: list[Motor] | None,
    ) -> tuple[Figures, Train] | None:
        if not any(link.thirds for link in train.links):
            figures = figures_of(candidates, train, error_square)
            if figures is None or not within_limits(candidates, figures):
                return None
            return self._placed(self._attempts(figures, train, self._least_radii(train), keys, motors))
        floor = min(motor.reach for motor in motors) if motors and self.compact else 0
        best = best_thirds(candidates, train, keys, error_square, floor)
        if best is None or not self._neighbours_clear(candidates, train):
            return None
        figures, chosen = best
        # The best of all third gears at the least radii comes before any other; what else there is, in order.
        foremost = next(self._attempts(figures, chosen, self._least_radii(chosen), keys, motors))
        found = self._placed([foremost])
        return found or self._placed(self._in_order(candidates, train, keys, error_square, motors))

    def _attempts(
        self, figures: Figures, train: Train, radii: Radii, keys: tuple[str, ...], motors: list[Motor] | None
    ) -> Iterator[_Attempt]:
        """The attempts at one choice of third gears and radii, in their order: one for each envelope that drives make,
        or only one where the envelope is not asked for."""
        if motors is None or not self.compact:
            yield _Attempt((sort_key(figures, train, keys), radii), figures, train, radii, motors)
            return
        reaches: dict[int, list[Motor]] = {}
        for motor in motors:
            reaches.setdefault(max(figures.envelope_teeth, motor.reach), []).append(motor)
        for reach, some in sorted(reaches.items()):
            reaching = replace(figures, envelope_teeth=reach)
            yield _Attempt((sort_key(reaching, train, keys), radii), reaching, train, radii, some)

    def _placed(self, attempts: Iterable[_Attempt]) -> tuple[Figures, Train] | None:
        """The first of these attempts that has a place, with its figures."""
        for attempt in attempts:
            train, placement = attempt.train, self.fitter.placement(attempt.train, attempt.radii, attempt.motors)
            if placement is not None:
                reach = attempt.figures.envelope_teeth
                if (drive := placement.drive) is not None:
                    ring = train.rings[drive.ring]
                    reach = max(reach, drive_reach(ring, drive.at.radius, drive.pinion, drive.thirds))
                return replace(attempt.figures, envelope_teeth=reach), replace(train, placement=placement)
        return None

    def _stands(self, candidates: Candidates, inner: int, outer: int, link: Link) -> tuple[tuple[Link, int], ...]:
        """Every choice of third gears and arbor radius with which the frame has room for a link's arbor."""
        key = (candidates.third_teeth, inner, outer, link.kind, link.wheel, link.pinion)
        if key not in self._stands_of:
            self._stands_of[key] = tuple(
                (same, radius)
                for thirds in product(candidates.third_teeth, repeat=len(link.thirds))
                for same in (replace(link, thirds=thirds),)
                for radius in arbor_radii(inner, outer, same, self.gap)
                if self.fitter.placer.arbor_fits(radius, max(link.wheel, link.pinion))
            )
        return self._stands_of[key]

    def _neighbours_clear(self, candidates: Candidates, train: Train) -> bool:
        """False only where two neighbouring links cannot have places together, whatever their third gears are: the
        gears that they have on the level they share are looked at, for every radius and third gear."""
        widest = candidates.third_teeth[-1:]
        for level, (before, after) in enumerate(pairwise(train.links), start=1):
            ring = train.rings[level]
            inner, outer = train.rings[level - 1], train.rings[level + 1]
            radii = (
                arbor_radii(inner, ring, replace(before, thirds=widest * len(before.thirds)), self.gap),
                arbor_radii(ring, outer, replace(after, thirds=widest * len(after.thirds)), self.gap),
            )
            sides = (
                (before.pinion, KIND_BY_NAME[before.kind].pinion_thirds, radii[0]),
                (after.wheel, KIND_BY_NAME[after.kind].wheel_thirds, radii[1]),
            )
            key = (candidates.third_teeth, ring, *sides)
            if key not in self._clear:
                one, other = (
                    self.fitter.placer.side_choices(
                        ring, gear, candidates.third_teeth if third else (), among, self.gap
                    )
                    for gear, third, among in sides
                )
                self._clear[key] = any_apart(self.fitter.measures, one, other, self.tick)
            if not self._clear[key]:
                return False
        return True

    def _least_radii(self, train: Train) -> Radii:
        return tuple(
            arbor_radii(train.rings[i], train.rings[i + 1], link, self.gap)[0] for i, link in enumerate(train.links)
        )

    def _in_order(
        self,
        candidates: Candidates,
        train: Train,
        keys: tuple[str, ...],
        error_square: Fraction,
        motors: list[Motor] | None,
    ) -> Iterator[_Attempt]:
        """The attempts at every choice of third gears and radii within the limits, in order. Raises TooManyThirds."""
        choices = [
            self._stands(candidates, *rings, link)
            for rings, link in zip(pairwise(train.rings), train.links, strict=True)
        ]
        if prod(map(len, choices)) > MOST_CHOICES:
            raise TooManyThirds
        found = []
        for chosen in product(*choices):
            self.tick()
            radii = tuple(radius for _, radius in chosen)
            candidate = replace(train, links=tuple(link for link, _ in chosen))
            figures = figures_of(candidates, candidate, error_square, radii)
            if figures is not None and within_limits(candidates, figures):
                found.append(self._attempts(figures, candidate, radii, keys, motors))
        return heapq.merge(*found, key=lambda attempt: attempt.order)
