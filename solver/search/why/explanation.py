"""What an explanation says: the limits that conflict, and the loosenings that are enough."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, NamedTuple

from solver.search.stop import Termination
from solver.search.why.knob import Data


@dataclass(frozen=True)
class Conflict:
    """A limit of a conflicting set. needed: without it the others can be met; False: that is not known."""

    rule: str
    field: str
    now: str
    needed: bool


class Change(NamedTuple):
    """A limit that is loosened: its rule and field, its value in the file now, and then."""

    rule: str
    field: str
    now: str
    then: str


@dataclass(frozen=True)
class Loosening:
    """One or more limits loosened by the least that leaves a solution, the others left as they are.

    data: the edited file; tighter: the file with the last of
    them loosened by one step less, or None where that is the file itself. least: with one step less nothing fits;
    False: that is too much work to settle. worst_error_pct: of the best solution then; None where that is dear to find.
    """

    changes: tuple[Change, ...]
    data: Data
    tighter: Data | None
    least: bool
    worst_error_pct: float | None


@dataclass(frozen=True)
class Explanation:
    """feasible: something fits, there is nothing to explain.

    conflict: limits that cannot be met together, a minimal set of them where all are needed; empty where even all
    limits loosened as far as was tried leave nothing, or where that was not settled. loosenings: each alone is enough.
    left_open: fields of limits of which it is too much work to settle whether, or how far, loosening them is enough.
    termination: PROVED, or the stop rule's reason where it struck first; then what was found by then stands here.
    """

    feasible: bool
    conflict: tuple[Conflict, ...]
    loosenings: tuple[Loosening, ...]
    termination: Termination = Termination.PROVED
    left_open: tuple[str, ...] = ()

    def plain(self) -> dict[str, Any]:
        """As plain JSON data; `field`, `now` and `then` as they stand in the file."""
        return {
            "schema": "ringwright.explanation/1",
            "feasible": self.feasible,
            "termination": self.termination,
            "left_open": list(self.left_open),
            "conflict": [vars(one) for one in self.conflict],
            "loosenings": [
                {
                    "changes": [one._asdict() for one in item.changes],
                    "least": item.least,
                    "worst_error_pct": item.worst_error_pct,
                }
                for item in self.loosenings
            ],
        }
