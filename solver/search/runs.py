"""Which pairs of gears run as made, for designs in which the rule `run` is in force.

Of wire, what works with a ring has pins; with a third gear between, either that has pins and the gear behind it teeth,
or it has short teeth and the gear behind it pins (`wire.third`). All is worked out when it is asked for, by the tooth
form, and kept for a process: points of a sweep share it.

A ring works with the gears of two links, perhaps with a motor's too, and gears of one tooth count are made alike. Where
a form makes teeth for their mates, a pair runs here only if it does so whichever smaller mates of the design the larger
gear has besides (`Form.running`); so the gears of any train run that are found link by link.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import TYPE_CHECKING

from solver.design.design import Design

if TYPE_CHECKING:  # tooth forms are loaded for designs with wire alone
    from solver.forms.form import Form, MeshSort, Roles, Sizes

_BLOCK = 16  # rings, and counts of gears behind, that are worked out at once
_SINGLE = 12  # so many first are worked out one by one, as a design may have no others


class RunningPairs:
    """Pairs of one tooth form, of the same lengths, toothings and limit. All small gears that are ever asked for are
    among these counts."""

    def __init__(
        self, form: Form, sizes: Sizes, roles: Roles, uneven: float, gears: tuple[int, ...], thirds: tuple[int, ...]
    ) -> None:
        """gears: all that may work with a ring, third gears that are made like these too; thirds: those that may be
        third gears."""
        self._form, self._sizes, self._roles, self._uneven = form, sizes, roles, uneven
        self._mates = {roles.behind_third: thirds, roles.third_at_ring: thirds, roles.at_ring: gears}
        self._with: dict[tuple[MeshSort, int], frozenset[int]] = {}
        self._sorts: dict[tuple[frozenset[int], frozenset[int]], int] = {}
        self._thirds: dict[tuple[tuple[int, ...], int, int], tuple[int, ...]] = {}

    def ring_runs(self, ring: int, gear: int) -> bool:
        """Whether a ring and a small gear of so many teeth, no third gear, run."""
        return gear in self._running(self._roles.at_ring, ring)

    def third_runs(self, ring: int, third: int) -> bool:
        """Whether a ring and a third gear run."""
        return third in self._running(self._roles.third_at_ring, ring)

    def gears_run(self, behind: int, third: int) -> bool:
        """Whether a gear behind a third gear runs with it."""
        return third in self._running(self._roles.behind_third, behind)

    def thirds(self, among: tuple[int, ...], ring: int, gear: int) -> tuple[int, ...]:
        """The third gears that run both with a ring and with the gear behind them."""
        key = (among, self.sort(ring), gear)
        if key not in self._thirds:
            roles = self._roles
            both = self._running(roles.third_at_ring, ring) & self._running(roles.behind_third, gear)
            self._thirds[key] = tuple(third for third in among if third in both)
        return self._thirds[key]

    def sort(self, ring: int) -> int:
        """A number that is the same for rings with which the same small gears and third gears run."""
        key = self._running(self._roles.at_ring, ring), self._running(self._roles.third_at_ring, ring)
        return self._sorts.setdefault(key, len(self._sorts))

    def _running(self, sort: MeshSort, teeth: int) -> frozenset[int]:
        """The small gears that run with a ring, or the third gears that run with a gear behind them."""
        if (sort, teeth) not in self._with:
            first = teeth // _BLOCK * _BLOCK
            block = range(first, first + _BLOCK) if len(self._with) >= _SINGLE else (teeth,)
            self._work_out(sort, [count for count in block if count >= 2 and (sort, count) not in self._with])
        return self._with[sort, teeth]

    def _work_out(self, sort: MeshSort, counts: Sequence[int]) -> None:
        pairs = self._form.running(self._sizes, sort, tuple(counts), self._mates[sort], self._uneven)
        found: dict[int, set[int]] = {count: set() for count in counts}
        for count, gear in pairs:
            found[count].add(gear)
        self._with.update({(sort, count): frozenset(gears) for count, gears in found.items()})


@lru_cache(maxsize=32)
def _kept(
    form: str, sizes: Sizes, third: str, uneven: float, gears: tuple[int, ...], thirds: tuple[int, ...]
) -> RunningPairs:
    from solver.forms import FORMS

    return RunningPairs(FORMS[form], sizes, FORMS[form].roles(third), uneven, gears, thirds)


def runs_of(design: Design) -> RunningPairs | None:
    """How pairs of a design's gears run; None where they need not."""
    if not design.as_made:
        return None
    from solver.forms.form import sizes_of

    wire, gears, thirds = design.wire, design.gear_counts, design.third_counts
    if wire.third == "pins":  # of which all small gears at rings are made alike
        gears |= thirds
    counts = tuple(sorted(gears)), tuple(sorted(thirds))
    return _kept(wire.form, sizes_of(design), wire.third, float(design.unevenness), *counts)
