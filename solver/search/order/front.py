"""The Pareto front: every combination of values of some keys that no other one beats in all of them.

By epsilon constraints: the best train under caps on all keys but the first splits what is left into boxes, in each of
which one of those keys must be smaller, until every box is empty.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from solver.search.options.caps import caps_of
from solver.search.order.lexicographic import Lexicographic
from solver.search.order.question import Question
from solver.search.order.score import Found
from solver.search.rank import key_order

_TOP = 1 << 40  # above any value of a rank key

Box = dict[str, int]  # the greatest value of each key but the first


@dataclass(frozen=True)
class FrontPoint:
    """One point of the front: its first train, and how many different trains have its values (None: more than were
    counted)."""

    found: Found
    ties: int | None


@dataclass(frozen=True)
class Explored:
    """A box whose best train is known; None: it is empty."""

    box: Box
    best: Found | None

    def tells(self, box: Box) -> bool:
        """Whether the best train of this box is that of another one."""
        best = self.best
        return all(most <= self.box[key] for key, most in box.items()) and (
            best is None or all(best.figures.value(key) <= most for key, most in box.items())
        )


class Front:
    """The front that a design asks for. open: boxes in which there may be more points."""

    def __init__(self, questions: Lexicographic) -> None:
        self.questions, self.design = questions, questions.shared.design
        keys = self.design.front
        self.key = "error" if "error" in keys else keys[0]
        self.others = tuple(key for key in keys if key != self.key)
        caps = caps_of(self.design)
        self.open: list[Box] = [{key: caps.get(key, _TOP) for key in self.others}]
        self._explored: list[Explored] = []
        self._points: dict[tuple[Fraction | int, ...], Found] = {}

    def points(self) -> list[FrontPoint]:
        """The points, by their first key. Raises SearchStopped and Unproven."""
        while self.open:
            best = self._best(self.open[-1])
            box = self.open.pop()
            if best is None:
                continue
            self._points[tuple(best.figures.value(key) for key in (self.key, *self.others))] = best
            for key in self.others:
                smaller = {**box, key: int(best.figures.value(key)) - 1}
                if smaller not in self.open:
                    self.open.append(smaller)
        return [FrontPoint(best, self._ties(best)) for _, best in sorted(self._points.items())]

    def so_far(self) -> list[FrontPoint]:
        """The points known so far, each of which is on the front for sure; how many are alike is not counted."""
        return [FrontPoint(best, None) for _, best in sorted(self._points.items())]

    def _best(self, box: Box) -> Found | None:
        """The best train of a box; one that was explored before may tell it."""
        for known in self._explored:
            if known.tells(box):
                return known.best
        design = self.design
        rest = tuple(key for key in key_order(design.rank) if key not in design.front)
        order = key_order((self.key, *self.others, *rest))
        caps = {**caps_of(design), **{key: most for key, most in box.items() if most < _TOP}}
        found = self.questions.first(Question(order, (), 1, caps))
        self._explored.append(Explored(box, found[0] if found else None))
        return self._explored[-1].best

    def _ties(self, best: Found) -> int | None:
        """How many different trains have the values of this point; None: more than can be listed."""
        capped = self.others if self.key == "error" else (self.key, *self.others)
        caps = caps_of(self.design) | {key: int(best.figures.value(key)) for key in capped}
        square = best.figures.error_square if self.key == "error" else None
        return self.questions.number(Question(key_order(("error",)), (), 1, caps, square))
