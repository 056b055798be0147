"""The search: least error first, then every later key, proven level by level.

1. Bound. The lattice gives each family's least error within rounding, coarsely first; no family is looked at
   more closely unless its bound is within reach of the best.
2. Enumerate. The error is raised until at least `keep` trains lie below it; all of them, and as many more as
   rounding can hide, are listed, scored and sorted exactly.
3. Crowds. Where one error is shared by more trains than can be listed, that error is determined exactly on the
   border, and CP-SAT minimises the later keys one after the other within it.
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
from solver.design.exact import log_fraction
from solver.design.kinematics import pairs
from solver.design.train import Train
from solver.search.border import border_squares
from solver.search.candidates import Candidates, Caps
from solver.search.gearsets import few_gear_paths
from solver.search.ladder import Ladder
from solver.search.lattice import Lattice, Path
from solver.search.rank import Figures
from solver.search.score import Found, Scorer, path_of
from solver.search.segments import Segments, TooMany
from solver.search.solves import Solves
from solver.search.stop import Stopped, StopRule
from solver.search.thirds import TooManyThirds

if TYPE_CHECKING:
    from solver.search.model import TrainModel

LIST_LIMIT = 20_000  # trains that are listed by the window's paths before their error counts as crowded
MODEL_LIMIT = 1000  # likewise, where CP-SAT enumerates
BATCH = 200  # trains that are scored at once where any will do
SHARP = 20  # times the rounding, within a limit on the error, make it worth listing trains
LIST_PER_KEPT = 4  # neither limit is less than so many times the trains asked for
COARSE_SCALES = (10**3, 10**4)  # where the error is first looked for
SCALES = (10**5, 10**6)


@dataclass
class Tally:
    """What the searches of one design did, for the report: structures whose trains were listed one by one (rings and
    the bodies' places), structures that CP-SAT was asked about, and whether there was a crowd."""

    listed: set[tuple[tuple[tuple[int, ...], ...], tuple[int, ...]]] = field(default_factory=set)
    modelled: set[Structure] = field(default_factory=set)
    crowded: bool = False


@dataclass(frozen=True)
class Progress:
    """The truth so far: best worst error (None: none yet), proven lower bound, structures not yet bounded."""

    best_error: float | None
    bound_error: float
    structures_left: int


class Unproven(Exception):
    """An order that could not be settled: "crowded", a crowd whose exact error could not be determined, or
    "thirds", more third gears in one train than can be tried out."""


@dataclass
class Search:
    """One search by error under caps.

    keys: the rank keys in order, "error" first. known: every train scored so far that may matter, by identity, with
    its figures; searches of one design share it, so that a stopped one has something to show. whole: the bound holds
    for the design itself, not only under tighter caps.
    """

    design: Design
    keys: tuple[str, ...]
    keep: int
    caps: Caps
    stop: StopRule
    solves: Solves
    known: dict[tuple[object, ...], tuple[Figures, Train]]
    tally: Tally
    told: Callable[[Progress], None] | None = None
    whole: bool = False

    def __post_init__(self) -> None:
        self.best: dict[tuple[object, ...], Found] = {}
        self.bound_error = 0.0
        self.candidates = Candidates(self.design, self.check_stop, self.caps)
        self.pairs = pairs(self.design)
        self.segments: dict[int, Segments] = {}
        self.scorer = Scorer(self.candidates, self.pairs, self.keys, self.keep, self.check_stop)
        self.list_limit = max(LIST_LIMIT, LIST_PER_KEPT * self.keep)
        self.model_limit = max(MODEL_LIMIT, LIST_PER_KEPT * self.keep)

    def run(self) -> list[Found]:
        """The `keep` best trains in order; fewer only if there are no more. Raises Stopped and Unproven."""
        bounded = self._bound()
        if bounded:
            self._climb(bounded)
        found = sorted(self.best.values(), key=lambda item: item.key)[: self.keep]
        if found:
            self.bound_error = math.sqrt(found[0].figures.error_square) - 1
        return found

    def some(self, count: int) -> list[Found]:
        """So many trains within all limits, whichever; fewer only if there are no more. Raises Stopped, Unproven."""
        scale = self._sharp_scale()
        found: dict[tuple[object, ...], Found] = {}
        listed = 0
        for family in self.design.families():
            self.check_stop()
            lattice = self.lattice(family, scale)
            paths = self.paths(lattice, lattice.most_units)
            while batch := list(islice(paths, max(count, BATCH))):
                listed += len(batch)
                found.update((item.train.identity(), item) for item in self.scored(batch))
                if len(found) >= count:
                    return list(found.values())[:count]
                if listed > self.list_limit:
                    return replace(self, keep=count).run()
        return list(found.values())

    def count(self, square: Fraction | None = None) -> int | None:
        """How many trains within all limits have (1 + error)**2 up to `square` (None: all); None: more than can be
        listed. Raises Stopped, Unproven."""
        count = listed = 0
        for family in self.design.families():
            if square is None:
                lattice = self.lattice(family, self._sharp_scale())
                units: float = lattice.most_units
            else:
                lattice = self.lattice(family, SCALES[-1])
                units = SCALES[-1] * log_fraction(square) / 2 + lattice.slack
            paths = list(islice(self.paths(lattice, units), self.list_limit + 1 - listed))
            listed += len(paths)
            if listed > self.list_limit:
                return None
            try:
                count += self.scorer.count(paths, square)
            except TooManyThirds:
                raise Unproven("thirds") from None
        return count

    def _sharp_scale(self) -> int:
        """The coarsest scale at which rounding does not blur the limit on the error much."""
        links = max(len(family.rings) for family in self.design.families())
        room = math.log1p(float(self.design.limits.max_error))
        return next((s for s in (*COARSE_SCALES, *SCALES) if room * s >= SHARP * (links // 2 + 3)), SCALES[-1])

    def _climb(self, bounded: list[tuple[int, Lattice]]) -> None:
        ladder = Ladder(self, bounded, SCALES[0])
        for scale in SCALES[1:]:
            if ladder.climb() or self._without_error(ladder):
                return
            ladder = Ladder(self, ladder.finer(scale), scale)
        while not (ladder.climb() or self._without_error(ladder) or self._settle(ladder)):
            ladder.low = ladder.top  # fewer than it seemed: everything up to here is known, go on above

    def check_stop(self) -> None:
        if reason := self.stop():
            raise Stopped(reason)

    def report(self, left: int) -> None:
        if self.told is not None:
            squares = [figures.error_square for figures, _ in self.known.values()]
            best = math.sqrt(min(squares)) - 1 if squares else None
            self.told(Progress(best, self.bound_error, left))

    # -- bounds ------------------------------------------------------------------------------------------------

    def lattice(self, what: Family | Structure, scale: int) -> Lattice:
        """A family, or one structure, at a scale; lattices of one scale share their segments."""
        if scale not in self.segments:
            self.segments[scale] = Segments(self.candidates, scale, self.check_stop)
        return Lattice(self.design, what, self.candidates, self.segments[scale], self.check_stop)

    def _bound(self) -> list[tuple[int, Lattice]]:
        """Each family that may have a train, with a lower bound of its error in units, best first.

        Bounds are kept as logarithms of 1 + error. Coarse scales come first: what they rule out is not looked at
        again, and what is left has narrow windows at the finer ones.
        """
        families = self.design.families()
        lows = [(0.0, index) for index in range(len(families))]
        lattices: dict[int, Lattice] = {}
        best = math.inf
        for scale in (*COARSE_SCALES, SCALES[0]):
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
                start = min(max(0, math.floor(low * scale) - slack), high)
                units = lattice.least(start, high)
                if units is not None:
                    low = max(low, (units - 1 - slack) / scale) if units > start else low
                    bounded.append((low, index))
                    if (units + slack) / scale < best:
                        best = (units + slack) / scale
                        if scale == SCALES[0]:
                            self._first_train(lattice, units)
                elif high < most:
                    bounded.append((max(low, (high - slack) / scale), index))
            lows = bounded
            if lows:
                self.bound_error = math.expm1(max(0.0, min(low for low, _ in lows)))
        self.report(0)
        found = []
        for low, index in sorted(lows):
            known = lattices.get(index)
            fine = known if known and known.scale == SCALES[0] else self.lattice(families[index], SCALES[0])
            found.append((max(0, math.floor(low * SCALES[0]) - fine.slack), fine))
        return found

    def paths(self, lattice: Lattice, units: float) -> Iterator[Path]:
        """The trains inside at that worst error that are within the caps, third gears not counted in."""
        most_jigs = self.caps.get("jigs")
        if most_jigs is None or not isinstance(lattice.what, Family):
            return lattice.paths(units, self.caps.get("teeth"))

        def narrowed(family: Family, candidates: Candidates) -> Iterator[Path]:
            segments = Segments(candidates, lattice.scale, self.check_stop)
            return Lattice(self.design, family, candidates, segments, self.check_stop).paths(
                units, self.caps.get("teeth")
            )

        return few_gear_paths(lattice.what, self.candidates, narrowed, most_jigs)

    def _first_train(self, lattice: Lattice, units: int) -> None:
        """Keep one train of a family that is the best so far: what a stopped search can show."""
        for path in islice(self.paths(lattice, units), 1):
            with suppress(Unproven):
                self.scored([path])

    # -- one class of trains -------------------------------------------------------------------------------------

    def model(self, structure: Structure, scale: int, units: float, error: float) -> TrainModel | None:
        """The model of all trains with an error up to `error`, which is below `units`; None: there are none."""
        from solver.search.model import TrainModel, Window, bounds_for  # loads CP-SAT, which few designs need

        options = self.lattice(structure, scale).options(units)
        if options is None:
            return None
        bounds = bounds_for(self.design, structure, self.pairs, error)
        window = Window(bounds, tuple(frozenset(link) for link in options))
        self.tally.modelled.add(structure)
        return TrainModel(self.design, structure, self.candidates, window, self.solves)

    def walked(self, lattices: Sequence[Lattice], units: float) -> tuple[list[Found], bool]:
        """The best trains that the lattices hold at so many units, and whether all could be listed."""
        found: list[Found] = []
        listed = 0
        for lattice in lattices:
            room = self.list_limit - listed
            paths = list(islice(self.paths(lattice, units), room + 1))
            listed += len(paths)
            if len(paths) > room:
                return found, False
            self.tally.listed.update((lattice.rings, places) for places in {path[1] for path in paths})
            found += self.scored(paths)
        return found, True

    def holds(self, lattices: Sequence[Lattice], units: float, count: int) -> bool:
        """Whether so many trains are inside at so many units."""
        for lattice in lattices:
            count -= sum(1 for _ in islice(self.paths(lattice, units), count))
            if count <= 0:
                return True
        return False

    def listed(self, models: Sequence[TrainModel], most: Fraction | None = None) -> tuple[list[Found], bool]:
        """The best trains of the models with (1 + error)**2 up to `most`, and whether all could be listed."""
        found: list[Found] = []
        listed = 0
        for model in models:
            trains, whole = model.enumerate(self.model_limit - listed, one_third_each=self._one_third_each())
            listed += len(trains)
            found += self.scored([path_of(train) for train in trains], most)
            if not whole:
                return found, False
        return found, True

    def _one_third_each(self) -> bool:
        """Whether the smallest third gears stand for all: not where another one could save a jig that is needed."""
        return "jigs" not in self.caps or self.design.arbors.third_gears == 0

    def scored(self, paths: Iterable[Path], most: Fraction | None = None) -> list[Found]:
        """The `keep` best of these trains, with their best third gears; remembered."""
        try:
            found = self.scorer.best(list(dict.fromkeys(paths)), most)
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

    def _without_error(self, ladder: Ladder) -> bool:
        """A crowd of trains without any error needs no border: settle it, if it is one.

        Rounding can lift such trains, all alike, up to `slack` above 0.
        """
        if ladder.low > 2 * ladder.slack:
            return False
        none = Fraction(1)
        _, whole = self.listed(self._models(ladder, none), none)
        if not whole:
            self._levels(ladder, none)
        return self._enough(none)

    def _settle(self, ladder: Ladder) -> bool:
        """A crowd between two errors one unit apart: find its exact error, then minimise the later keys.

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
            models = self._models(ladder, candidates[middle])
            found, whole = self.listed(models, candidates[middle])
            if whole and len(found) < self.keep:
                first = middle + 1
            else:
                last = middle
        for square in candidates[first:]:
            self._levels(ladder, square)
            if self._enough(square):
                return True
        return ladder.top >= ladder.most

    def _models(self, ladder: Ladder, square: Fraction) -> list[TrainModel]:
        error = math.sqrt(square) - 1
        units = ladder.top + 2 * ladder.slack
        models = [
            self.model(structure, ladder.scale, units, error)
            for lattice in ladder.reach(ladder.top)
            for structure in lattice.structures(units)
        ]
        return [model for model in models if model is not None]

    def _levels(self, ladder: Ladder, square: Fraction) -> None:
        """The best trains with an error up to `square`: the next key minimised, and so on within its minimum."""
        for model in self._models(ladder, square):
            keys = [key for key in self.keys if key != "error" and (key != "envelope" or self.candidates.reverted)]
            self._descend(model, [], [*keys, *model.order_keys()], square)

    def _descend(
        self, model: TrainModel, fixed: list[tuple[str, str, int]], keys: list[str], square: Fraction
    ) -> list[Found]:
        """The `keep` best trains under the fixed keys, by the remaining ones."""
        trains, whole = model.enumerate(self.model_limit, fixed, one_third_each=False)
        if whole:
            return self.scored([path_of(train) for train in trains], square)
        if not keys:
            raise RuntimeError(f"a class of one train lists more than {self.model_limit}: {fixed}")
        found: dict[tuple[object, ...], Found] = {}
        least = 0
        while len(found) < self.keep:
            value = model.minimise(keys[0], [*fixed, (keys[0], ">=", least)])
            if value is None:
                break
            for item in self._descend(model, [*fixed, (keys[0], "==", value)], keys[1:], square):
                found[item.train.identity()] = item
            least = value + 1
        return list(found.values())
