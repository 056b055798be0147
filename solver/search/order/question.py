"""What is asked of the search, and of each search that it makes of itself: the first trains by keys, under caps."""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction

from solver.search.options.caps import Caps


@dataclass(frozen=True)
class Question:
    """The first `keep` trains by the keys in `lead`, then those in `spent`, which are capped already, then by the teeth
    themselves. caps: the greatest values allowed of keys other than the error; most: likewise of (1 + error)**2, None:
    the design's own limit alone. Such caps are epsilon constraints: they turn the order of several keys into one search
    after the other by a single one."""

    lead: tuple[str, ...]
    spent: tuple[str, ...]
    keep: int
    caps: Caps
    most: Fraction | None = None

    @property
    def keys(self) -> tuple[str, ...]:
        """All keys in the order in which they decide."""
        return self.lead + self.spent

    def capped(self, key: str, value: int) -> Question:
        """The same with one key capped."""
        return replace(self, caps={**self.caps, key: value})

    def within(self, square: Fraction) -> Question:
        """The same with (1 + error)**2 up to `square`."""
        return replace(self, most=square)

    def by_error(self) -> Question:
        """Any `keep` trains within the same caps; those of least error are as good as any."""
        keys = self.keys
        return replace(self, lead=("error", *(key for key in keys if key != "error")), spent=())

    def after_first(self) -> Question:
        """By the keys after the first, which is taken to be settled."""
        return replace(self, lead=self.lead[1:], spent=(*self.spent, self.lead[0]))
