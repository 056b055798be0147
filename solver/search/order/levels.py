"""Rank keys in any order, and the Pareto front: searches by error under caps, one after the other.

A rank key that stands before the error is a cap that is tightened: the least value v is found under which `keep`
trains exist; fewer exist under v - 1, and those are all known; the rest of the list are the best by the later keys
under v. The front is found the same way: the best train under caps on the other keys splits what is left into parts
in which one of them must be smaller, until every part is empty.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from fractions import Fraction

from solver.design.design import Design
from solver.design.exact import error_below
from solver.design.geometry import envelope_mm
from solver.design.train import Train
from solver.search.options.candidates import Candidates, Caps, caps_of
from solver.search.order.engine import Progress, Search, Tally, Unproven
from solver.search.order.score import Found
from solver.search.rank import Figures, key_order, sort_key
from solver.search.solves import Solves
from solver.search.stop import NoStop, Stopped, StopRule

_TOP = 1 << 40  # above any value of a rank key


@dataclass(frozen=True)
class FrontPoint:
    """One point of the front: its first train, and how many different trains have its values (None: more than were
    counted)."""

    found: Found
    ties: int | None


def value_told(design: Design, key: str, value: int | None) -> float | None:
    """A value of a rank key other than the error, or a bound of it, as it is told: the envelope in mm, as whole
    micrometres that are never less."""
    if value is None or key != "envelope":
        return value
    return envelope_mm(design.rings.pitch, design.rings.addendum, value)


@dataclass
class SearchResult:
    """found: trains in rank order. complete: they are proven to be the first ones, and the front to be whole.

    termination: why the search ended ("proved", a stop rule's reason, "crowded" or "thirds"). bound: proven lower bound
    of (1 + worst error)**2. least: proven lower bound of the first rank key where that is not the error, the envelope
    in teeth. front: the Pareto front, by its first key; empty where the search ended before it was whole.
    """

    found: list[Found]
    complete: bool
    termination: str
    bound: Fraction
    least: int | None
    front: list[FrontPoint]
    structures: int
    tally: Tally
    solves: Solves


def search(
    design: Design, stop: StopRule | None = None, progress: Callable[[Progress], None] | None = None
) -> SearchResult:
    """The `keep` best different trains of a design, or the proof that there is none; and its front, if asked for."""
    return Levels(design, stop or NoStop(), progress).run()


def least_error_square(design: Design, stop: StopRule | None = None) -> Fraction | None:
    """(1 + worst error)**2 of the best train, exact, or None if there is none. Raises Stopped and Unproven."""
    levels = Levels(design, stop or NoStop(), None, order_ties=False)
    found = levels.first(("error",), (), 1, caps_of(design))
    return found[0].figures.error_square if found else None


def least_value(design: Design, key: str, stop: StopRule | None = None) -> int | None:
    """The least value of a rank key other than the error (the envelope in teeth), or None if there is no train.

    Raises Stopped and Unproven.
    """
    design = replace(design, rank=(key,))  # the drive is chosen by what is asked for
    levels = Levels(design, stop or NoStop(), None, order_ties=False)
    return levels._least_cap((key,), 1, caps_of(design), False, None)[0]


def any_train(design: Design, stop: StopRule | None = None) -> Train | None:
    """Some train within all limits of a design, or None if there is none. Raises Stopped and Unproven."""
    found = Levels(design, stop or NoStop(), None, order_ties=False).by_error(("error",), 1, caps_of(design)).some(1)
    return found[0].train if found else None


@dataclass
class Levels:
    """The search of one design: run it once; what it knows so far can be asked for from another thread."""

    design: Design
    stop: StopRule
    progress: Callable[[Progress], None] | None
    order_ties: bool = True
    known: dict[tuple[object, ...], tuple[Figures, Train]] = field(default_factory=dict)
    tally: Tally = field(default_factory=Tally)
    bound: Fraction = Fraction(1)
    least: int | None = None

    def __post_init__(self) -> None:
        self.solves = Solves(self.design.seed, self.stop)
        self.keys = key_order(self.design.rank)
        self.whole: list[Search] = []  # searches whose bound holds for the design itself
        self.tables: dict[tuple[int | None, int | None], Candidates] = {}

    def run(self) -> SearchResult:
        found: list[Found] = []
        front: list[FrontPoint] = []
        try:
            found = self.first(self.keys, (), self.design.keep, caps_of(self.design), top=True)
            if found and self.design.front:
                front = self._front()
        except Stopped as stopped:
            return self.so_far(stopped.reason)
        except Unproven as unproven:
            return self.so_far(str(unproven))
        if found and self.keys[0] == "error":
            self.bound = found[0].figures.error_square
        return self._result(found, True, "proved", self.bound, front)

    def so_far(self, reason: str) -> SearchResult:
        """What is known, as the result of a search that ends here for that reason."""
        found = self._sorted(list(self.known.values()), self.keys)[: self.design.keep]
        return self._result(found, False, reason, self._bound(), [])

    def _result(
        self, found: list[Found], complete: bool, termination: str, bound: Fraction, front: list[FrontPoint]
    ) -> SearchResult:
        structures = self.design.structure_count()
        return SearchResult(found, complete, termination, bound, self.least, front, structures, self.tally, self.solves)

    def _bound(self) -> Fraction:
        """The best bound of (1 + worst error)**2 that holds for the design itself."""
        return max([self.bound, *(one.bound for one in list(self.whole))])

    def by_error(
        self, keys: tuple[str, ...], keep: int, caps: Caps, whole: bool = False, most: Fraction | None = None
    ) -> Search:
        """A search by error under caps. whole: its bound holds for the design itself."""
        one = Search(
            self.design, keys, keep, caps, self.stop, self.solves, self.known, self.tally, self._candidates(caps),
            lambda later, capped, square: self.first(later, (), keep, capped, most=square),
            self._told(whole), self.order_ties, most,
        )  # fmt: skip
        if whole:
            self.whole.append(one)
        return one

    def _told(self, whole: bool) -> Callable[[Progress], None] | None:
        """Progress of one search, told as that of the design: a bound under tighter caps is none."""
        progress, key = self.progress, self.keys[0]
        if progress is None:
            return None
        if key == "error":
            return lambda one: progress(one if whole else replace(one, bound_error=error_below(self._bound())))

        def tell(one: Progress) -> None:
            values = [int(figures.value(key)) for figures, _ in self.known.values()]
            best, least = (
                value_told(self.design, key, min(values, default=None)),
                value_told(self.design, key, self.least),
            )
            progress(replace(one, bound_error=0.0, key=key, best_value=best, least_value=least))

        return tell

    def _candidates(self, caps: Caps) -> Candidates:
        """Candidates under caps; those that differ only in what couples links share their tables."""
        key = (caps.get("largest"), caps.get("envelope"))
        if key not in self.tables:
            self.tables[key] = Candidates(self.design, self.check_stop, caps, self.solves)
        return self.tables[key].under(caps)

    def check_stop(self) -> None:
        if reason := self.stop():
            raise Stopped(reason)

    def first(
        self,
        lead: tuple[str, ...],
        spent: tuple[str, ...],
        keep: int,
        caps: Caps,
        top: bool = False,
        most: Fraction | None = None,
    ) -> list[Found]:
        """The first `keep` trains by the keys in `lead`, then those in `spent`, which are capped already, then by the
        teeth themselves; fewer only if there are no more. most: the greatest (1 + error)**2, None: no such cap.
        """
        keys = (*lead, *spent)
        if not lead:
            alike = self.by_error(keys, keep, caps, most=most)
            return alike.alike() if self.order_ties else alike.some(keep)
        if lead[0] == "error":
            return self._sorted(((one.figures, one.train) for one in self.by_error(keys, keep, caps, top).run()), keys)
        if lead[0] == "envelope" and not self.design.arbors.reverted:  # without places it is no cap
            return self.first(lead[1:], (*spent, lead[0]), keep, caps, most=most)
        least, few = self._least_cap(keys, keep, caps, top, most)
        if least is None:
            return self._sorted(few.values(), keys)
        found = self.first(lead[1:], (*spent, lead[0]), keep, {**caps, lead[0]: least}, most=most)
        both = self._sorted([*few.values(), *((one.figures, one.train) for one in found)], keys)
        different: dict[tuple[object, ...], Found] = {}
        for one in both:
            different.setdefault(one.train.identity(), one)
        return list(different.values())[:keep]

    def _least_cap(
        self, keys: tuple[str, ...], keep: int, caps: Caps, top: bool, most: Fraction | None
    ) -> tuple[int | None, dict[tuple[object, ...], tuple[Figures, Train]]]:
        """The least cap on the first key under which `keep` trains exist, and all trains below that cap.

        None and all trains where fewer exist at all.
        """
        key, order = keys[0], ("error", *(other for other in keys if other != "error"))
        found = self.by_error(order, keep, caps, most=most).some(keep)
        if len(found) < keep:
            if found and top:
                self.least = min(int(one.figures.value(key)) for one in found)
            return None, {one.train.identity(): (one.figures, one.train) for one in found}
        high = max(int(one.figures.value(key)) for one in found)
        low, below = 0, list[Found]()
        while low < high:
            middle = (low + high) // 2
            found = self.by_error(order, keep, {**caps, key: middle}, most=most).some(keep)
            if len(found) < keep:
                low, below = middle + 1, found
                if top:  # fewer than asked for: there are no others up to here
                    self.least = min((int(one.figures.value(key)) for one in found), default=low)
            else:
                high = max(int(one.figures.value(key)) for one in found)
        if top:
            self.least = min([high, *(int(one.figures.value(key)) for one in below)])
        return high, {one.train.identity(): (one.figures, one.train) for one in below}

    def _sorted(self, items: Iterable[tuple[Figures, Train]], keys: tuple[str, ...]) -> list[Found]:
        found = [Found(sort_key(figures, train, keys), figures, train) for figures, train in items]
        return sorted(found, key=lambda item: item.key)

    # -- the front -----------------------------------------------------------------------------------------------

    def _front(self) -> list[FrontPoint]:
        """Every combination of values of the front's keys that no other one beats in all of them."""
        keys = self.design.front
        first = "error" if "error" in keys else keys[0]
        others = tuple(key for key in keys if key != first)
        order = key_order((first, *others, *(key for key in self.keys if key not in keys)))
        own = caps_of(self.design)
        parts = [{key: own.get(key, _TOP) for key in others}]
        answered: list[tuple[dict[str, int], Found | None]] = []
        points: dict[tuple[Fraction | int, ...], Found] = {}
        while parts:
            part = parts.pop()
            best = self._known_best(part, answered)
            if best is _ASK:
                some = self.first(order, (), 1, {**own, **{key: most for key, most in part.items() if most < _TOP}})
                best = some[0] if some else None
                answered.append((part, best))
            if best is None:
                continue
            assert isinstance(best, Found)
            points[tuple(best.figures.value(key) for key in (first, *others))] = best
            for key in others:
                smaller = {**part, key: int(best.figures.value(key)) - 1}
                if smaller not in parts:
                    parts.append(smaller)
        return [FrontPoint(best, self._ties(best, first, others)) for _, best in sorted(points.items())]

    def _known_best(self, part: dict[str, int], answered: list[tuple[dict[str, int], Found | None]]) -> object:
        """The best train of a part where a wider part's answer tells it, else _ASK."""
        for wider, best in answered:
            if all(most <= wider[key] for key, most in part.items()) and (
                best is None or all(best.figures.value(key) <= most for key, most in part.items())
            ):
                return best
        return _ASK

    def _ties(self, best: Found, first: str, others: tuple[str, ...]) -> int | None:
        """How many different trains have the values of this point; None: more than can be listed."""
        capped = others if first == "error" else (first, *others)
        caps = caps_of(self.design) | {key: int(best.figures.value(key)) for key in capped}
        square = best.figures.error_square if first == "error" else None
        return self.by_error(key_order(("error",)), 1, caps, most=square).count()


_ASK = object()
