"""The ways through a segment that differ in their links: of those that differ in the order of the links alone, one."""

from __future__ import annotations

from collections.abc import Collection, Hashable, Iterable, Iterator
from itertools import pairwise
from typing import Protocol

from solver.search.options.candidates import Option
from solver.search.options.orders import LinkStretch
from solver.search.reach.sums import Combo


class Alike(Protocol):
    """What links between two rings can do, counted from the segment's first, rings named by their teeth beyond those of
    its first ring."""

    def mark(self, link: int, inner: int, outer: int) -> Hashable:
        """What is the same for links that the same candidates can be; a link that stays has one of its own."""

    def allowed(self, link: int, inner: int, outer: int) -> Collection[Option]:
        """The candidates of a link between two rings."""


Latest = tuple[tuple[Hashable, Option], ...]  # of links of each mark, further out, the innermost


def may_precede(latest: Latest, mark: Hashable, options: Iterable[Option]) -> Iterator[tuple[Option, Latest]]:
    """Those of these links that may stand within links that were chosen further out: of links that may change places,
    as nothing tells their gaps apart, the first one comes first. Each with what is chosen then."""
    most = next((option for other, option in latest if other == mark), None)
    others = tuple(one for one in latest if one[0] != mark)
    for option in options:
        if most is None or option <= most:
            yield option, (*others, (mark, option))


class FirstOrders:
    """Tells of each way through some rings whether it is the first of its orders; remembers what it found."""

    def __init__(self, links: Alike) -> None:
        self.links = links
        self._firsts: dict[tuple[object, ...], tuple[Option, ...]] = {}

    def first(self, combo: Combo, end: int) -> bool:
        """Of ways that `may_precede` allows. end: the last ring's teeth beyond those of the first."""
        rings = (0, *combo.blanks, end)
        marks = tuple(self.links.mark(link, *gap) for link, gap in enumerate(pairwise(rings)))
        if len(set(marks)) == 1:
            return True
        key = (marks, tuple(sorted(combo.options)))
        if key not in self._firsts:
            self._firsts[key] = LinkStretch(0, rings, combo.options, self.links.allowed).first()
        return self._firsts[key] == combo.options
