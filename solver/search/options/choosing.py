"""What a train's teeth leave open, chosen together with its places: third gears, arbor radii and the drive.

What ranks first among all that has a place and is within the limits is taken, exactly. The drive is part of the
envelope: where that is a rank key or on the front, the drive that leaves the envelope least comes first, and of those
the one nearest to the wished time; else the wish alone decides.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise, product
from math import prod

from solver.design.design import Design
from solver.design.geometry import envelope_limit_teeth
from solver.design.links import KIND_BY_NAME
from solver.design.train import Link, Train
from solver.search.options.refusals import Context, Part, Refusals
from solver.search.options.thirds import ThirdRules, TooManyThirds, best_thirds
from solver.search.place.blame import Thing
from solver.search.place.crowd import Crowd
from solver.search.place.drive import DriveChoice, drive_reach, driven_rings, motors_within, turned
from solver.search.place.places import any_apart
from solver.search.place.placing import Fitter, Radii
from solver.search.place.shapes import ArborShape, RingStack, link_shape
from solver.search.rank import Figures, arbor_radii, sort_key
from solver.search.reaches import Reaches
from solver.search.replayed import Replayed
from solver.search.runs import runs_of

MOST_CHOICES = 50_000  # of third gears and radii of one train that are put in order


@dataclass(frozen=True)
class _Attempt:
    """A train with all its third gears, its arbors' radii, and the motors to be tried in turn (None: no drive is asked
    for), in the order in which attempts are made; figures: as far as they decide that order."""

    order: tuple[object, ...]
    figures: Figures
    train: Train
    radii: Radii
    motors: Iterable[DriveChoice] | None


@dataclass(frozen=True)
class _Choosing:
    """What is to be chosen for: a train with its smallest third gears, what they must keep, the rank keys, the train's
    (1 + error)**2, and the motors to be tried in turn (None: no drive is asked for)."""

    rules: ThirdRules
    train: Train
    keys: tuple[str, ...]
    error_square: Fraction
    motors: Replayed[DriveChoice] | None


class Chooser:
    """Chooses for trains of one design; remembers what it found out about their links."""

    def __init__(self, design: Design, gap: int, fitter: Fitter, tick: Callable[[], None] = lambda: None) -> None:
        """gap: teeth that a third gear's wheel stays clear of its ring. tick: called now and then; what it raises ends
        the work."""
        self.design, self.gap, self.fitter, self.tick = design, gap, fitter, tick
        self.runs = runs_of(design)
        self.compact = "envelope" in (*design.rank, *design.front)
        most, rings = design.limits.max_envelope, design.rings
        self.most = None if most is None else envelope_limit_teeth(rings.pitch, Reaches(design).most, most)
        self._standing: dict[tuple[object, ...], tuple[tuple[Link, int], ...]] = {}
        self._clear: dict[tuple[object, ...], bool] = {}
        self.refusals = Refusals()
        self._crowds: dict[RingStack, Crowd] = {}

    def best(
        self, rules: ThirdRules, train: Train, keys: tuple[str, ...], error_square: Fraction
    ) -> tuple[Figures, Train] | None:
        """The train, given with its smallest third gears, with the third gears, arbor radii and drive that rank first
        among those that have a place and are within the limits; None: none has. Raises TooManyThirds."""
        # Where the wish decides, a cap that a search sets must not make it another drive, only the design's own may;
        # whether the drive is within the search's is asked at the end.
        most = rules.caps.get("envelope") if self.compact else self.most
        refused = self.refused(rules.teeth, train.rings, train.seats, train.links)
        if refused or not self.fitter.sound(train.rings, train.seats):
            return None
        within = motors_within(self.design, train, self.gap, most)
        motors = None if within is None else Replayed(self.fitter.with_room(train, within))
        found = self._first(_Choosing(rules, train, keys, error_square, motors))
        return found if found is not None and rules.kept_by(found[0]) else None

    def _first(self, wanted: _Choosing) -> tuple[Figures, Train] | None:
        rules, train, motors = wanted.rules, wanted.train, wanted.motors
        if not any(link.thirds for link in train.links):
            figures = rules.figures(train, wanted.error_square)
            if figures is None or not rules.kept_by(figures):
                return None
            found = self._placed(self._attempts(wanted, figures, train, self._least_radii(train)))
            if found is None:
                self._learn(rules.teeth, train)
            return found
        if motors is not None and not motors:
            return None
        floor = min(motor.reach for motor in motors) if motors and self.compact else 0
        if not self._neighbours_clear(rules, train):
            return None
        best = best_thirds(rules, train, wanted.keys, wanted.error_square, floor)
        if best is None:
            return None
        figures, chosen = best
        # The best of all third gears at the least radii comes before any other; what else there is, in order.
        foremost = next(self._attempts(wanted, figures, chosen, self._least_radii(chosen)))
        found = self._placed([foremost])
        if found is None and (things := self._learn(rules.teeth, train)) is not None:
            standing = self.fitter.blame.standing(things)[: len(train.links)]
            found = self._placed(self._in_order(wanted, standing))
        return found

    # -- what cannot be had ------------------------------------------------------------------------------------------

    def refused(
        self, teeth: tuple[int, ...], rings: tuple[int, ...], seats: tuple[int, ...], links: Sequence[Link]
    ) -> bool:
        """Whether a train is known to have no place, whatever its third gears, of these tooth counts, are."""
        return bool(self.refusals) and self.refusals.holds(
            self._context(teeth, rings, seats), self._parts(rings, links)
        )

    def hopeless(
        self, teeth: tuple[int, ...], rings: tuple[int, ...], seats: tuple[int, ...], some: Iterable[tuple[int, Link]]
    ) -> bool:
        """Likewise whether every train with these links, each with its level, is."""
        parts = [self._part(level, rings, link) for level, link in some] if self.refusals else []
        return bool(parts) and self.refusals.holds(self._context(teeth, rings, seats), parts)

    def _context(self, teeth: tuple[int, ...], rings: tuple[int, ...], seats: tuple[int, ...]) -> Context:
        """What else matters to whether parts of a train have places together."""
        fit = self.design.fit
        alone = fit.plate == "none" and fit.stands == "none" and self.design.drive is None
        alone = alone and self.fitter.measures.thick is None
        return teeth if alone else (teeth, rings, seats if fit.stands != "none" else ())

    def _parts(self, rings: tuple[int, ...], links: Sequence[Link]) -> list[Part]:
        """The links of a train without their third gears, then the drive with the senses that say which it may be."""
        parts: list[Part] = [self._part(level, rings, link) for level, link in enumerate(links)]
        if (drive := self.design.drive) is not None:
            senses = () if drive.reverse_ok else turned(link.kind for link in links)
            parts.append(tuple(senses[ring] for ring in driven_rings(drive, len(rings))) if senses else ())
        return parts

    def _part(self, level: int, rings: tuple[int, ...], link: Link) -> Part:
        return (level, rings[level], rings[level + 1], link.kind, link.wheel, link.pinion)

    def _learn(self, teeth: tuple[int, ...], train: Train) -> list[Thing] | None:
        """None: the train has no place, whatever its third gears, radii and drive, and what of it is to blame is known
        from here on; else its links and drive with all the places that they may have."""
        things = self.things(teeth, train)
        culprits = self.fitter.blame.culprits(things)
        parts = self._parts(train.rings, train.links)
        for guilty in culprits:
            self.refusals.add(
                self._context(teeth, train.rings, train.seats), [parts[index] for index in sorted(guilty, reverse=True)]
            )
        return None if culprits else things

    def things(self, teeth: tuple[int, ...], train: Train) -> list[Thing]:
        """The links of a train, with every choice of third gears of these tooth counts and radius, then the drive."""
        stack, blame = self.fitter.stack(train), self.fitter.blame
        things = [
            blame.thing(
                stack, tuple(link_shape(level, *rings, *one) for one in self._choices(teeth, level, *rings, link))
            )
            for level, (rings, link) in enumerate(zip(pairwise(train.rings), train.links, strict=True))
        ]
        motors = motors_within(self.design, train, self.gap, self.most)
        if motors is not None:
            things.append(blame.thing(stack, tuple(sorted({motor.shape for motor in motors}, key=repr))))
        return things

    def crowd(self, rings: tuple[int, ...], riders: tuple[int, ...]) -> Crowd:
        """The crowd of trains with these rings, bodies on those in `riders`."""
        stack = RingStack(rings, riders if self.design.fit.stands != "none" else ())
        if stack not in self._crowds:
            self._crowds[stack] = Crowd(self.fitter, stack)
        return self._crowds[stack]

    # -- what is tried -----------------------------------------------------------------------------------------------

    def _attempts(self, wanted: _Choosing, figures: Figures, train: Train, radii: Radii) -> Iterator[_Attempt]:
        """The attempts at one choice of third gears and radii, in their order: one for each envelope that drives make,
        or only one where the envelope is not asked for."""
        motors, keys = wanted.motors, wanted.keys
        if motors is None or not self.compact:
            yield _Attempt((sort_key(figures, train, keys), radii), figures, train, radii, motors)
            return
        reaches: dict[int, list[DriveChoice]] = {}
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

    def _choices(
        self, teeth: tuple[int, ...], level: int, inner: int, outer: int, link: Link
    ) -> tuple[tuple[Link, int], ...]:
        """Every choice of third gears, of these tooth counts, and arbor radius with which the frame has room for a
        link's arbor."""
        stays = self.design.on_bench.by_link.get(level)
        held = None if stays is None else stays.thirds
        key = (teeth, inner, outer, link.kind, link.wheel, link.pinion, held)
        if key not in self._standing:
            self._standing[key] = tuple(
                (same, radius)
                for thirds in product(*self._thirds(teeth, inner, outer, link))
                if held in (None, thirds)
                for same in (replace(link, thirds=thirds),)
                for radius in arbor_radii(inner, outer, same, self.gap)
                if self.fitter.placer.arbor_fits(link_shape(0, inner, outer, same, radius))
            )
        return self._standing[key]

    def _thirds(self, teeth: tuple[int, ...], inner: int, outer: int, link: Link) -> list[tuple[int, ...]]:
        """What each third gear of a link, of these tooth counts, may be."""
        kind = KIND_BY_NAME[link.kind]
        sides = [(inner, link.wheel)] * kind.wheel_thirds + [(outer, link.pinion)] * kind.pinion_thirds
        return [teeth if self.runs is None else self.runs.thirds(teeth, ring, gear) for ring, gear in sides]

    def _neighbours_clear(self, rules: ThirdRules, train: Train) -> bool:
        """False only where two neighbouring links cannot have places together, whatever their third gears are: the
        gears that they have on the level they share are looked at, for every radius and third gear."""
        widest = rules.teeth[-1:]
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
            key = (rules.teeth, ring, *sides)
            if key not in self._clear:
                one, other = (
                    self.fitter.placer.side_choices(
                        ring, gear, rules.allowed(ring, gear) if third else (), among, self.gap
                    )
                    for gear, third, among in sides
                )
                self._clear[key] = any_apart(self.fitter.measures, one, other, self.tick)
            if not self._clear[key]:
                parts = self._parts(train.rings, train.links)
                self.refusals.add(
                    self._context(rules.teeth, train.rings, train.seats), [parts[level], parts[level - 1]]
                )
                return False
        return True

    def _least_radii(self, train: Train) -> Radii:
        return tuple(
            arbor_radii(train.rings[i], train.rings[i + 1], link, self.gap)[0] for i, link in enumerate(train.links)
        )

    def _in_order(self, wanted: _Choosing, standing: Sequence[set[ArborShape] | None]) -> Iterator[_Attempt]:
        """The attempts at every choice of third gears and radii within the limits, of shapes that may have a place, in
        order. Raises TooManyThirds."""
        rules, train = wanted.rules, wanted.train
        choices = [
            [
                one
                for one in self._choices(rules.teeth, level, *rings, link)
                if some is None or link_shape(level, *rings, *one) in some
            ]
            for level, (rings, link, some) in enumerate(zip(pairwise(train.rings), train.links, standing, strict=True))
        ]
        if prod(map(len, choices)) > MOST_CHOICES:
            raise TooManyThirds
        found = []
        for chosen in product(*choices):
            self.tick()
            radii = tuple(radius for _, radius in chosen)
            candidate = replace(train, links=tuple(link for link, _ in chosen))
            figures = rules.figures(candidate, wanted.error_square, radii)
            if figures is not None and rules.kept_by(figures):
                found.append(self._attempts(wanted, figures, candidate, radii))
        return heapq.merge(*found, key=lambda attempt: attempt.order)
