"""One search by error under caps: least error first, then every later key, proven.

1. Bound. The lattice gives each family's least error within rounding, coarsely first; no family is looked at
   more closely unless its bound is within reach of the best.
2. Enumerate. The error is raised until at least `keep` trains lie below it; all of them, and as many more as
   rounding can hide, are listed, scored and sorted exactly.
3. Crowds. Where one error is shared by more trains than can be listed, that error is determined exactly on the
   border, and the later keys are decided one after the other within it (`levels.py`); CP-SAT orders what then still
   ties and is too long to list.
Every answer is the same for the same design: nothing depends on the clock unless a stop rule strikes.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from fractions import Fraction
from itertools import islice
from typing import TYPE_CHECKING

from solver.design.design import Design, Family, Structure
from solver.design.exact import error_above, error_below, log_fraction
from solver.design.kinematics import pairs
from solver.design.train import Train
from solver.search.options.candidates import Candidates, Caps
from solver.search.options.thirds import TooManyThirds
from solver.search.order.gearsets import few_gear_paths
from solver.search.order.ladder import Ladder
from solver.search.order.score import Found, Scorer, path_of
from solver.search.rank import Figures, sort_key
from solver.search.reach.border import border_squares
from solver.search.reach.lattice import Lattice, Path
from solver.search.reach.segments import Segments, TooMany, segments_of
from solver.search.solves import Solves
from solver.search.stop import Stopped, StopRule

if TYPE_CHECKING:
    from solver.search.prove.model import TrainModel

SCALES = (10**3, 10**4, 10**5, 10**6)  # units of a logarithm, coarsest first
FINE = 10_000  # units within a large error that make a finer scale not worth its wider sets
FEW = 500  # trains under caps that couple links that are listed whatever their error
LARGE = 2500  # choices of wheel and pinion that make a single family worth an early look
COUNT_LIMIT = 5000  # trains that are counted at a point of the front
LIST_LIMIT = 5000  # trains that the lattice lists before their error counts as crowded
MODEL_LIMIT = 1000  # likewise, where CP-SAT enumerates
BATCH = 200  # trains that are scored at once where any will do
SHARP = 20  # times the rounding, within the best error, make a scale fine enough for it
CLEAR = 20  # times the rounding, within the limit on the error, make it worth walking trains
LIST_PER_KEPT = 4  # neither limit is less than so many times the trains asked for


@dataclass
class Tally:
    """What the searches of one design did, for the report: structures whose trains were listed one by one (rings and
    the bodies' places), structures that CP-SAT was asked about, and whether there was a crowd."""

    listed: set[tuple[tuple[tuple[int, ...], ...], tuple[int, ...]]] = field(default_factory=set)
    modelled: set[Structure] = field(default_factory=set)
    crowded: bool = False


@dataclass(frozen=True)
class Progress:
    """The truth so far: best worst error, rounded up (None: none yet), proven lower bound of it, rounded down, both as
    fractions; structures not yet bounded.

    key: the first rank key where that is not the error, with its least value found and its proven lower bound; the
    envelope in mm.
    """

    best_error: float | None
    bound_error: float
    structures_left: int
    key: str | None = None
    best_value: float | None = None
    least_value: float | None = None


class Unproven(Exception):
    """An order that could not be settled: "crowded", a crowd whose exact error could not be determined, or
    "thirds", more third gears in one train than can be tried out."""


@dataclass
class Search:
    """One search by error under caps.

    keys: the rank keys in order, "error" first. known: every train scored so far that may matter, by identity, with
    its figures; searches of one design share it, so that a stopped one has something to show. crowd: gives the best
    trains by some keys under caps, up to a (1 + error)**2. order_ties: False where it does not matter which of
    trains that tie by the keys come first. most: the greatest (1 + error)**2 allowed; None: the design's own limit
    alone.
    """

    design: Design
    keys: tuple[str, ...]
    keep: int
    caps: Caps
    stop: StopRule
    solves: Solves
    known: dict[tuple[object, ...], tuple[Figures, Train]]
    tally: Tally
    candidates: Candidates
    crowd: Callable[[tuple[str, ...], Caps, Fraction], list[Found]]
    told: Callable[[Progress], None] | None = None
    order_ties: bool = True
    most: Fraction | None = None

    def __post_init__(self) -> None:
        self.best: dict[tuple[object, ...], Found] = {}
        self.bound = Fraction(1)  # no train has a smaller (1 + worst error)**2
        self.pairs = pairs(self.design)
        self.coupled = "jigs" in self.caps or "teeth" in self.caps
        self.scorer = Scorer(self.candidates, self.pairs, self.keys, self.keep, self.check_stop, self.order_ties)
        self.list_limit = max(LIST_LIMIT, LIST_PER_KEPT * self.keep)
        self.model_limit = max(MODEL_LIMIT, LIST_PER_KEPT * self.keep)

    def run(self) -> list[Found]:
        """The `keep` best trains in order; fewer only if there are no more. Raises Stopped and Unproven."""
        if not (self.coupled and self._all_listed()):
            bounded, start = self._bound()
            if bounded:
                self._climb(bounded, start)
        found = sorted(self.best.values(), key=lambda item: item.key)[: self.keep]
        if found:
            self.bound = found[0].figures.error_square
        return found

    def _all_listed(self) -> bool:
        """Whether caps that couple links leave so few trains that all of them could be listed."""
        lattices, units = self._all_inside()
        return self.walked(lattices, units, FEW)[1]

    def some(self, count: int) -> list[Found]:
        """So many trains within all limits, whichever; fewer only if there are no more. Raises Stopped, Unproven."""
        # Where caps couple links, finding one is the work; else scoring is cheaper for many at once.
        found = self._gathered(count, count if self.coupled else max(count, BATCH), self.list_limit)
        if found is not None:
            return found
        # Rounding hides that those inside are beyond the limit, or caps that there are none.
        if self.most is None:
            return self.run()
        listed, whole = self._listed_by_models()
        if whole or len(listed) >= count:
            return listed
        return self._gathered(count, self.list_limit, None) or []

    def _gathered(self, count: int, size: int, limit: int | None) -> list[Found] | None:
        """As `some`, `size` trains scored at a time; None: more than `limit` were looked at (None: no limit).

        Trains that are surely within the limit on the error come first: those at its border may all be beyond it.
        """
        lattices, units = self._all_inside()
        found: dict[tuple[object, ...], Found] = {}
        listed = 0
        within = [units - 3 * one.slack for one in lattices]
        rounds = [(one, sure) for one, sure in zip(lattices, within, strict=True) if sure > 0]
        rounds += [(one, units) for one in lattices]
        for lattice, reach in rounds:
            self.check_stop()
            paths = self.paths(lattice, reach)
            while batch := list(islice(paths, size)):
                listed += len(batch)
                found.update((item.train.identity(), item) for item in self.scored(batch))
                if len(found) >= count:
                    return list(found.values())[:count]
                if limit is not None and listed > limit:
                    return None
        return list(found.values())

    def count(self) -> int | None:
        """How many trains are within all limits; None: more than can be listed. Raises Stopped, Unproven."""
        count = listed = 0
        lattices, units = self._all_inside()
        for lattice in lattices:
            paths = list(islice(self.paths(lattice, units), COUNT_LIMIT + 1 - listed))
            listed += len(paths)
            if listed > COUNT_LIMIT:
                return None
            try:
                count += self.scorer.count(paths, self.most)
            except TooManyThirds:
                raise Unproven("thirds") from None
        return count

    def _all_inside(self) -> tuple[list[Lattice], float]:
        """Lattices of every family that may have a train, and the units within which all trains of the limits are.

        Coarse scales come first: what has no train there is left out, and never walked at a fine one.
        """
        families = list(self.candidates.families())
        if not families:
            return [], 0.0
        slack = max(len(family.rings) for family in families) // 2 + 3
        room = math.log1p(float(self.design.limits.max_error))
        if self.most is not None:
            room = min(room, log_fraction(self.most) / 2)
        for scale in SCALES:
            lattices = [self.lattice(family, scale) for family in families]
            units = min(math.ceil(room * scale) + slack, max(one.most_units for one in lattices)) if lattices else 0
            if scale == SCALES[-1] or room * scale >= (CLEAR * slack if self.most is None else FINE):
                break
            families = [one.what for one in lattices if one.feasible(units) and isinstance(one.what, Family)]
        return lattices, units

    def _climb(self, bounded: list[tuple[int, Lattice]], start: int) -> None:
        scale = bounded[0][1].scale
        ladder = Ladder(self, bounded, scale, start, self._near(bounded))
        for finer in SCALES[SCALES.index(scale) + 1 :]:
            if ladder.climb():
                return
            if ladder.high >= FINE:
                break
            if not self.known:
                self._first_train(bounded[0][1], max(start, bounded[0][0]))
            if finer == SCALES[-1] and self._without_error(ladder):
                return
            bounded = ladder.finer(finer)
            ladder = Ladder(self, bounded, finer, near=self._near(bounded))
        ladder.near = 1
        while not (ladder.climb() or self._without_error(ladder) or self._settle(ladder)):
            ladder.low = ladder.top  # fewer than it seemed: everything up to here is known, go on above

    def _near(self, bounded: list[tuple[int, Lattice]]) -> int:
        """How closely a crowd is worth enclosing: to the rounding, but to one unit at the finest scale."""
        lattice = bounded[0][1]
        return 1 if lattice.scale == SCALES[-1] else lattice.slack

    def check_stop(self) -> None:
        if reason := self.stop():
            raise Stopped(reason)

    def report(self, left: int) -> None:
        if self.told is not None:
            squares = [figures.error_square for figures, _ in self.known.values()]
            best = error_above(min(squares)) if squares else None
            self.told(Progress(best, error_below(self.bound), left))

    # -- bounds ------------------------------------------------------------------------------------------------

    def lattice(self, what: Family | Structure, scale: int) -> Lattice:
        """A family, or one structure, at a scale; lattices of one scale share their segments."""
        return Lattice(self.design, what, self.candidates, segments_of(self.candidates, scale), self.check_stop)

    def _bound(self) -> tuple[list[tuple[int, Lattice]], int]:
        """Each family that may have a train, with a lower bound of its error in units, best first; and an error at
        which some train is inside.

        Bounds are kept as logarithms of 1 + error. Coarse scales come first: what they rule out is not looked at
        again, and what is left has narrow windows at the finer ones; a scale whose rounding is small beside the best
        error is fine enough. Caps that couple links are not seen here, so that nothing is gained by fineness.
        """
        families = self.candidates.families()
        if not families:
            return [], 0
        lows = [(0.0, index) for index in range(len(families))]
        lattices: dict[int, Lattice] = {}
        best = math.inf
        first: tuple[Lattice, int] | None = None
        gears = len(self.candidates.wheel_teeth) * len(self.candidates.pinion_teeth)
        large = len(families) > 1 or gears > LARGE  # then a stopped search wants something to show
        for scale in SCALES[1:3]:
            bounded: list[tuple[float, int]] = []
            left = sum(families[index].structure_count() for _, index in lows)
            for low, index in sorted(lows):
                self.check_stop()
                self.report(left)
                left -= families[index].structure_count()
                if low > best:
                    bounded.append((low, index))
                    continue
                lattice = lattices[index] = self.lattice(families[index], scale)
                slack, most = lattice.slack, lattice.most_units
                high = most if best == math.inf else min(most, math.ceil(best * scale) + 2 * slack)
                bracket = lattice.bracket(min(max(0, math.floor(low * scale) - slack), high), high, slack)
                if bracket is not None:
                    bounded.append((max(low, (bracket[0] - 1 - slack) / scale), index))
                    if (bracket[1] + slack) / scale < best:
                        best, first = (bracket[1] + slack) / scale, (lattice, bracket[1])
                elif high < most:
                    bounded.append((max(low, (high - slack) / scale), index))
            lows = bounded
            if first is not None and large:
                self._first_train(*first)
            if lows:
                # What rounding can do to a logarithm of this size is far below what is taken off.
                self.bound = max(self.bound, Fraction(math.exp(2 * min(low for low, _ in lows)) * (1 - 1e-12)))
            slack = max(len(family.rings) for family in families) // 2 + 3
            if (self.coupled and scale == SCALES[1]) or (best < math.inf and best * scale >= SHARP * slack):
                break
        self.report(0)
        found = []
        for low, index in sorted(lows):
            known = lattices.get(index)
            fine = known if known and known.scale == scale else self.lattice(families[index], scale)
            found.append((max(0, math.floor(low * scale) - fine.slack), fine))
        return found, first[1] if first is not None and first[0].scale == scale else 0

    def paths(self, lattice: Lattice, units: float) -> Iterator[Path]:
        """The trains inside at that worst error that are within the caps, third gears not counted in."""
        most_jigs = self.caps.get("jigs")
        if most_jigs is None or not isinstance(lattice.what, Family):
            return lattice.paths(units, self.caps.get("teeth"))

        def narrowed(family: Family, candidates: Candidates) -> Iterator[Path]:
            segments = Segments(candidates, lattice.scale)
            return Lattice(self.design, family, candidates, segments, self.check_stop).paths(
                units, self.caps.get("teeth")
            )

        return few_gear_paths(lattice.what, self.candidates, narrowed, most_jigs)

    def _first_train(self, lattice: Lattice, units: int) -> None:
        """Keep one train of the family that is the best so far: what a stopped search can show."""
        if self.coupled:
            return
        for path in islice(self.paths(lattice, units), 1):
            with suppress(Unproven):
                self.scored([path])

    # -- one class of trains -------------------------------------------------------------------------------------

    def model(self, structure: Structure, scale: int, units: float) -> TrainModel | None:
        """The model of all trains of a structure within the limits; None: there are none inside."""
        from solver.search.prove.model import TrainModel, Window, bounds_for  # loads CP-SAT, which few designs need

        options = self.lattice(structure, scale).options(units)
        if options is None:
            return None
        error = float(self.design.limits.max_error)
        if self.most is not None:
            error = min(error, math.sqrt(self.most) - 1)
        window = Window(bounds_for(self.design, structure, self.pairs, error), tuple(map(frozenset, options)))
        self.tally.modelled.add(structure)
        return TrainModel(self.design, structure, self.candidates, window, self.solves)

    def walked(self, lattices: Sequence[Lattice], units: float, limit: int | None = None) -> tuple[list[Found], bool]:
        """The best trains that the lattices hold at so many units, and whether all could be listed.

        limit: how many may be; None: the usual number.
        """
        found: list[Found] = []
        listed = 0
        limit = self.list_limit if limit is None else limit
        for lattice in lattices:
            room = limit - listed
            walk = self.paths(lattice, units)
            paths = list(islice(walk, min(room + 1, FEW)))
            if len(paths) == FEW:  # counting is dearer than listing few and far cheaper than listing many
                if self._too_many(lattices, units, limit):
                    return found, False
                paths += islice(walk, room + 1 - FEW)
            listed += len(paths)
            if len(paths) > room:
                return found, False
            self.tally.listed.update((lattice.rings, places) for places in {path[1] for path in paths})
            found += self.scored(paths)
        return found, True

    def _too_many(self, lattices: Sequence[Lattice], units: float, limit: int) -> bool:
        """Whether it is certain, without listing, that more trains are inside."""
        if self.coupled or self.design.reference != "first":
            return False
        count = 0.0
        for lattice in lattices:
            count += lattice.count(units)
            if count > limit:
                return True
        return False

    def holds(self, lattices: Sequence[Lattice], units: float, count: int) -> bool:
        """Whether so many trains are inside at so many units."""
        for lattice in lattices:
            count -= sum(1 for _ in islice(self.paths(lattice, units), count))
            if count <= 0:
                return True
        return False

    def _listed_by_models(self) -> tuple[list[Found], bool]:
        """The best trains within all limits as CP-SAT enumerates them, and whether it could list all."""
        found: list[Found] = []
        listed = 0
        for model in self._models():
            trains, whole = model.enumerate(self.model_limit - listed, one_third_each=self._one_third_each())
            listed += len(trains)
            found += self.scored([path_of(train) for train in trains])
            if not whole:
                return found, False
        return found, True

    def _one_third_each(self) -> bool:
        """Whether the smallest third gears stand for all: not where another one could save a jig that is needed."""
        return "jigs" not in self.caps or self.design.arbors.third_gears == 0

    def scored(self, paths: Iterable[Path]) -> list[Found]:
        """The `keep` best of these trains, with their best third gears; remembered."""
        try:
            found = self.scorer.best(list(dict.fromkeys(paths)), self.most)
        except TooManyThirds:
            raise Unproven("thirds") from None
        for item in found:
            self.best[item.train.identity()] = item
            self.known[item.train.identity()] = (item.figures, item.train)
        return found

    # -- crowds --------------------------------------------------------------------------------------------------

    def _enough(self, square: Fraction) -> bool:
        """Whether `keep` trains are known with (1 + error)**2 up to `square`."""
        return sum(item.figures.error_square <= square for item in self.best.values()) >= self.keep

    def _remember(self, found: Iterable[Found]) -> None:
        for item in found:
            key = sort_key(item.figures, item.train, self.keys)
            self.best[item.train.identity()] = Found(key, item.figures, item.train)

    def _hold(self, square: Fraction) -> bool:
        """Whether there are `keep` trains with (1 + error)**2 up to `square`; if not, all of them are known now."""
        found = replace(self, most=square).some(self.keep)
        self._remember(found)
        return len(found) >= self.keep

    def _without_error(self, ladder: Ladder) -> bool:
        """A crowd of trains without any error needs no border: settle it, if it is one.

        Rounding can lift such trains, all alike, up to `slack` above 0.
        """
        if ladder.low > 2 * ladder.slack:
            return False
        if self._hold(Fraction(1)):
            self._remember(self.crowd(self.keys[1:], self.caps, Fraction(1)))
        return self._enough(Fraction(1))

    def _settle(self, ladder: Ladder) -> bool:
        """A crowd between two errors one unit apart: find its exact error, then decide by the later keys.

        True: enough trains are known; False: all trains up to the crowd's error are.
        """
        self.tally.crowded = True
        squares: set[Fraction] = set()
        try:
            for lattice in ladder.reach(ladder.top):
                self.check_stop()
                squares |= border_squares(lattice, self.pairs, ladder.low, ladder.top)
        except TooMany:
            raise Unproven("crowded") from None
        # Beyond the top the strips are not complete, so nothing is concluded from what they hold there.
        sure = 2 * ladder.top / ladder.scale
        candidates = sorted(square for square in squares if log_fraction(square) <= sure)
        first, last = 0, len(candidates) - 1
        while first < last:
            middle = (first + last) // 2
            if self._hold(candidates[middle]):
                last = middle
            else:
                first = middle + 1
        for square in candidates[first:]:
            self._remember(self.crowd(self.keys[1:], self.caps, square))
            if self._enough(square):
                return True
        return ladder.top >= ladder.most

    def alike(self) -> list[Found]:
        """The first `keep` of trains that differ in no key, by the teeth themselves; CP-SAT orders what is too long
        to list."""
        _, whole = self.walked(*self._all_inside())
        if not whole:
            for model in self._models():
                self._descend(model, [], model.order_keys())
        return sorted(self.best.values(), key=lambda item: item.key)[: self.keep]

    def _models(self) -> Iterator[TrainModel]:
        """A model for each structure that may have a train."""
        lattices, units = self._all_inside()
        for lattice in lattices:
            for structure in lattice.structures(units):
                model = self.model(structure, lattice.scale, units)
                if model is not None:
                    yield model

    def _descend(self, model: TrainModel, fixed: list[tuple[str, str, int]], keys: list[str]) -> list[Found]:
        """The `keep` best trains under the fixed keys, by the remaining ones."""
        trains, whole = model.enumerate(self.model_limit, fixed, one_third_each=False)
        if whole:
            return self.scored([path_of(train) for train in trains])
        if not keys:
            raise RuntimeError(f"a class of one train lists more than {self.model_limit}: {fixed}")
        found: dict[tuple[object, ...], Found] = {}
        least = 0
        while len(found) < self.keep:
            value = model.minimise(keys[0], [*fixed, (keys[0], ">=", least)])
            if value is None:
                break
            for item in self._descend(model, [*fixed, (keys[0], "==", value)], keys[1:]):
                found[item.train.identity()] = item
            least = value + 1
        return list(found.values())
