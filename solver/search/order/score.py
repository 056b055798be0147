"""From listed trains to the best of them: exact errors for all, third gears and figures only for those that matter.

A list can hold tens of thousands of trains, most of which tie. Floating-point logarithms find the pair of bodies
that decides each train's error; only that pair's ratio is then taken exactly, and only where no other pair comes
near it. Trains are worked out in the order of a lower bound on their key, until `keep` are surely the first.
"""

from __future__ import annotations

import heapq
from bisect import insort
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple

import numpy as np

from solver.design.exact import log_fraction
from solver.design.kinematics import Pair, error_square, ring_ratios
from solver.design.links import KINDS
from solver.design.train import Link, Train
from solver.search.options.candidates import Option
from solver.search.options.thirds import best_thirds
from solver.search.order.question import Question
from solver.search.order.shared import Shared, Tables
from solver.search.place.drive import least_reach
from solver.search.rank import COUPLED_KEYS, Figures, envelope_teeth, sort_key
from solver.search.reach.gears import JigsOfGears
from solver.search.reach.walks import Path
from solver.search.rounding import NEAR


@dataclass(frozen=True)
class Found:
    """A train with what counts of it and its place in the order."""

    key: tuple[object, ...]
    figures: Figures
    train: Train


class LinkLeast(NamedTuple):
    """What one link adds to a train at least: parts, teeth, its largest gear, how far it reaches [teeth], and wheel and
    pinion, as far as they have no jig, as bits, one for each tooth count."""

    parts: int
    teeth: int
    largest: int
    reach: int
    gears: int


def path_of(train: Train) -> Path:
    """A train as a path, without its third gears' teeth."""
    kinds = {kind.name: index for index, kind in enumerate(KINDS)}
    options = tuple(Option(kinds[link.kind], link.wheel, link.pinion) for link in train.links)
    return Path(train.rings, train.seats, options)


def in_order(items: Iterable[tuple[Figures, Train]], keys: tuple[str, ...]) -> list[Found]:
    """Trains with what counts of them, in the order of the keys."""
    found = [Found(sort_key(figures, train, keys), figures, train) for figures, train in items]
    return sorted(found, key=lambda item: item.key)


class Scorer:
    """Scores trains of one question; what the stop rule raises ends the work. settled: the first trains with certain
    rings that it asks for, or any, as CP-SAT told them."""

    def __init__(
        self,
        tables: Tables,
        shared: Shared,
        question: Question,
        told: Callable[[Iterable[Found]], None],
        *,
        whichever: bool,
    ) -> None:
        """told: is called with what is settled; whichever: the question is for any trains."""
        self.candidates, self.chooser, self.crowds = tables.candidates, tables.chooser, tables.crowds
        self.together = shared.together
        self.rules = self.candidates.third_rules(question.caps)
        self.tick, self.order_ties, self.pairs = shared.check_stop, shared.order_ties, shared.pairs
        self.jigs = JigsOfGears(shared.design.on_bench)
        self.drive, self.made = shared.design.drive, shared.design.on_bench
        self.question, self.keys, self.keep, self.whichever = question, question.keys, question.keep, whichever
        self.told = told
        self.settled: dict[tuple[int, ...], list[Found]] = {}
        self._squares: dict[tuple[int, Fraction], Fraction | None] = {}
        self._links: dict[tuple[int, int, Option], LinkLeast] = {}

    def best(self, paths: Sequence[Path], most: Fraction | None = None) -> list[Found]:
        """The `keep` first of these different trains that are within all limits, in order.

        most: only trains with (1 + error)**2 up to it. Raises TooManyThirds.
        """
        paths = list(paths)
        squares = self.squares(paths)
        # By the error alone at first: the other keys are worked out where they can matter.
        begun = self.keys[:1] == ("error",)
        queue: list[tuple[tuple[object, ...], int, bool]] = []
        for index, square in enumerate(squares):
            if square is not None and (most is None or square <= most):
                queue.append(((square,) if begun else (), index, False))
        heapq.heapify(queue)
        found: list[Found] = []
        last: list[tuple[object, ...]] = []  # keys found, ascending
        while queue:
            self.tick()
            least, index, whole = heapq.heappop(queue)
            if len(last) >= self.keep:
                known = last[self.keep - 1][: len(least)]
                if least > known or (whole and not self.order_ties and least == known):
                    break
            if self.gone(paths[index].rings):
                continue
            square = squares[index]
            assert square is not None
            if not whole:
                heapq.heappush(queue, (self._least_key(paths[index], square), index, True))
                continue
            train = self.train(paths[index])
            worked = self._worked()
            chosen = self.completed(train, square)
            if chosen is not None:
                figures, train = chosen
                key = sort_key(figures, train, self.keys)
                found.append(Found(key, figures, train))
                insort(last, key)
            elif self.chooser is not None and self.together.failed(train.rings, self._worked() - worked):
                self.settle(train.rings)
            elif self.chooser is not None:
                likely = [path for path in self.crowds.failed(train.rings) if path not in paths]
                if not self.order_ties:  # any train will do
                    for path, square in zip(likely, self.squares(likely), strict=True):
                        if square is not None and (most is None or square <= most):
                            heapq.heappush(queue, ((), len(paths), False))
                        paths.append(path)
                        squares.append(square)
        return sorted(found, key=lambda item: item.key)[: self.keep]

    def _worked(self) -> int:
        return 0 if self.chooser is None else self.chooser.fitter.worked

    def gone(self, rings: tuple[int, ...]) -> bool:
        """Whether no train with these rings need be looked at any more: there is none, or the first are settled."""
        return rings in self.settled or rings in self.crowds.dead or self.together.dead(rings, self.question)

    def settle(self, rings: tuple[int, ...]) -> None:
        """Have CP-SAT tell the first trains with these rings, or any; or else go on one by one."""
        found = self.together.asked(
            rings,
            self.question,
            self._exactly_scored,
            self._same_as,
            any_will_do=self.whichever,
            ties=self.order_ties,
        )
        if found is not None:
            self.settled[rings] = in_order(found, self.keys)
            self.told(self.settled[rings])

    def _same_as(self, train: Train) -> Iterator[Train]:
        """Trains that are one solution with a train, that one left out."""
        return iter(())

    def _exactly_scored(self, train: Train) -> tuple[Figures, Train] | None:
        """A train that CP-SAT found, if it is within all limits."""
        path, most = path_of(train), self.question.most
        square = self.squares([path])[0]
        if square is None or (most is not None and square > most):
            return None
        found = self.completed(self.train(path), square)
        self.told([] if found is None else in_order([found], self.keys))
        return found

    def by_error(self, paths: Sequence[Path]) -> list[Path]:
        """Those of these trains that are within the limits on errors, the best first."""
        squares = {path: square for path, square in zip(paths, self.squares(paths), strict=True) if square is not None}
        return sorted(squares, key=squares.__getitem__)

    def count(self, paths: Sequence[Path], square: Fraction | None) -> int:
        """How many trains with (1 + error)**2 up to `square` (None: any) are within all limits.

        Raises TooManyThirds.
        """
        count = 0
        # Without such caps and places no choice of third gears matters.
        alone = COUPLED_KEYS.isdisjoint(self.rules.caps) and self.chooser is None
        for path, one in zip(paths, self.squares(paths), strict=True):
            self.tick()
            if one is not None and (square is None or one <= square):
                count += alone or self.completed(self.train(path), one) is not None
        return count

    def completed(self, train: Train, square: Fraction) -> tuple[Figures, Train] | None:
        """The train with its best third gears, and placed, with its drive, where places are computed. Raises
        TooManyThirds."""
        if self.chooser is None:
            return best_thirds(self.rules, train, self.keys, square)
        return self.chooser.best(self.rules, train, self.keys, square)

    def refused(self, path: Path) -> bool:
        """Whether the train of a path is known to have no place."""
        if self.chooser is None or not self.chooser.refusals:
            return False
        links = [Link(KINDS[option.kind].name, option.wheel, option.pinion) for option in path.options]
        return self.chooser.refused(self.rules.teeth, path.rings, path.seats, links)

    def train(self, path: Path) -> Train:
        """The train of a path, with the smallest third gears that fit."""
        rings, seats, options = path
        links = []
        for index, option in enumerate(options):
            thirds = self.candidates.smallest_thirds(rings[index], rings[index + 1], option)
            links.append(Link(KINDS[option.kind].name, option.wheel, option.pinion, thirds))
        return Train(rings, seats, tuple(links))

    def _least_key(self, path: Path, square: Fraction) -> tuple[object, ...]:
        """A lower bound of the train's key: smallest third gears, none of which costs a jig, and the drive that reaches
        out least."""
        rings, _, options = path
        links = (self.link_least(*link) for link in zip(rings, rings[1:], options))  # noqa: B905
        return self._key_from(path, square, links)

    def _key_from(self, path: Path, square: Fraction, links: Iterable[LinkLeast], reach: int = 0) -> tuple[object, ...]:
        """Likewise from what each of its links, or some of them together, add."""
        rings = path.rings
        parts, teeth, largest, gears = len(rings), sum(rings), 0, 0
        if self.candidates.reverted:
            reach = max(reach, max(rings), 0 if self.drive is None else least_reach(self.drive, rings))
        for one in links:
            parts, teeth, gears = parts + one.parts, teeth + one.teeth, gears | one.gears
            largest = one.largest if one.largest > largest else largest
            reach = one.reach if one.reach > reach else reach
        new = 0
        if self.rules.counted:
            new = self.made.new_gears(z for option in path.options for z in (option.wheel, option.pinion))
        jigs = len(set(rings) - self.made.ring_counts) + gears.bit_count()
        figures = Figures(square, parts, jigs, teeth, largest, reach, new)
        return tuple(figures.value(key) for key in self.keys)

    def link_least(self, inner: int, outer: int, option: Option) -> LinkLeast:
        """What a link between these rings adds."""
        key = (inner, outer, option)
        if key not in self._links:
            self._links[key] = self._link_least(*key)
        return self._links[key]

    def _link_least(self, inner: int, outer: int, option: Option) -> LinkLeast:
        kind, thirds = KINDS[option.kind], self.candidates.smallest_thirds(inner, outer, option)
        link = Link(kind.name, option.wheel, option.pinion, thirds)
        reach = 0
        if self.candidates.reverted:
            found = envelope_teeth(Train((inner, outer), (0, 1), (link,)), self.candidates.gap)
            assert found is not None
            reach = found
        gears = (option.wheel, option.pinion, *thirds)
        return LinkLeast(kind.parts, sum(gears), max(gears), reach, self.jigs.of(option))

    # -- errors ----------------------------------------------------------------------------------------------------

    def squares(self, paths: Sequence[Path]) -> list[Fraction | None]:
        """(1 + error)**2 of each train, exact; None where it breaks a body's cap or the greatest error."""
        found: list[Fraction | None] = [None] * len(paths)
        alike: dict[tuple[int, ...], list[int]] = {}
        for index, path in enumerate(paths):
            alike.setdefault(path.seats, []).append(index)
        for seats, indices in alike.items():
            for index, square in zip(indices, self._alike([paths[i] for i in indices], seats), strict=True):
                found[index] = square
        return found

    def _alike(self, paths: Sequence[Path], seats: tuple[int, ...]) -> list[Fraction | None]:
        """As `squares`, for trains whose bodies ride on the same rings."""
        ratios = _log_ratios(paths)[:, list(seats)]
        worst = np.full(len(paths), -np.inf)
        second = np.full(len(paths), -np.inf)
        decides = np.zeros(len(paths), np.int64)
        unsure = np.zeros(len(paths), bool)
        for index, pair in enumerate(self.pairs):
            over = ratios[:, pair.above] - ratios[:, pair.below] - log_fraction(pair.least)
            value, near_a_cap = _log_square(pair, over)
            unsure |= near_a_cap
            higher = value > worst
            second = np.where(higher, worst, np.maximum(second, value))
            decides = np.where(higher, index, decides)
            worst = np.where(higher, value, worst)
        allowed = np.isfinite(worst)
        unsure[allowed] |= (worst[allowed] - second[allowed] < NEAR) | (np.abs(worst[allowed]) < NEAR)
        return [
            self._exactly(paths[i])
            if unsure[i]
            else None
            if worst[i] == np.inf
            else Fraction(1)
            if worst[i] < 0
            else self._by_pair(paths[i], int(decides[i]))
            for i in range(len(paths))
        ]

    def _exactly(self, path: Path) -> Fraction | None:
        train = self.train(path)
        return error_square(self.pairs, ring_ratios(train), train.seats)

    def _by_pair(self, path: Path, index: int) -> Fraction | None:
        pair = self.pairs[index]
        rings, seats, options = path
        above, below = seats[pair.above], seats[pair.below]
        num, den = 1, 1
        for _, wheel, pinion in options[min(above, below) : max(above, below)]:
            num *= wheel
            den *= pinion
        if above < below:
            num, den = den, num
        ratio = Fraction(num * rings[above], den * rings[below])
        key = (index, ratio)
        if key not in self._squares:
            self._squares[key] = pair.square(ratio)
        return self._squares[key]


def _log_ratios(paths: Iterable[Path]) -> np.ndarray:
    """ln(T[i]/T[0]) of each path and ring, shape (paths, rings)."""
    rings = np.log(np.array([rings for rings, _, _ in paths], float))
    gears = np.log(np.array([[(wheel, pinion) for _, wheel, pinion in options] for _, _, options in paths], float))
    steps = gears[:, :, 0] - gears[:, :, 1]
    turned = np.concatenate([np.zeros((len(rings), 1)), np.cumsum(steps, axis=1)], axis=1)
    ratios: np.ndarray = turned + rings - rings[:, :1]
    return ratios


def _log_square(pair: Pair, over: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """ln of `Pair.square` for ln q = over (infinite: forbidden), and where a cap is too near to be sure.

    Below ln q = 0 the value stays negative: the pair is then within its targets.
    """
    small, large = sorted(np.log1p(float(cap)) for cap in (pair.cap_above, pair.cap_below))
    value = np.where((over <= 2 * small) | (over <= 0), over, 2 * (over - small))
    value = np.where(over > small + large, np.inf, value)
    return value, (np.abs(over - 2 * small) < NEAR) | (np.abs(over - small - large) < NEAR)
