"""What is known of a solution, in the words that sheets and the command line have alike."""

from __future__ import annotations

from collections.abc import Iterable

from solver.answer.document import ProofAnswer, SolutionAnswer, Status, proven_twice
from solver.design.design import Design
from solver.design.errors import ordinal


def twice(proofs: Iterable[ProofAnswer] | None) -> str:
    """ ", twice" where all that is proven was proven a second time."""
    return _twice(proven_twice(one.outcome for one in proofs or ()))


def standing(status: str, rank: int, again: bool, keep: int, certified: bool | None = None) -> str:
    """What is known of the solution of that rank of an answer.

    again: all that is proven was proven a second time, which says nothing of the order behind the first; keep: how many
    were to be listed: ranks beyond it stand on the front alone; certified: None where no certificate is kept, else
    whether it tells of what is first, and not of the least error that teeth alone allow.
    """
    known = _known(status, rank, again, keep)
    if rank != 1 or certified is None:
        return known
    what = "it" if certified and status == Status.OPTIMAL else "the least error by teeth"
    return f"{known}; a certificate of {what} is kept with the run"


def _known(status: str, rank: int, again: bool, keep: int) -> str:
    if status != Status.OPTIMAL:
        return "not proven"
    if rank == 1:
        return f"proven best{_twice(again)}"
    return f"proven to be the {ordinal(rank)} in order" if rank <= keep else "proven to be on the front"


# What is known of a list of solutions, by the status of its answer, or of a point that is not solved.
LISTS = {
    "optimal": "proven",
    "feasible": "not proven: a limit stopped the search",
    "infeasible": "proven that nothing fits",
    "unknown": "nothing found before a limit stopped the search",
}


def orders_text(orders: int | None, settled: bool) -> str:
    """In how many orders of its links a solution can be built; with a sign where not all were looked at."""
    return "many" if orders is None else str(orders) if settled else f"≤{orders}"


def orders_told(solutions: Iterable[SolutionAnswer]) -> list[str]:
    """What the column of orders says, a line each; none where every solution has one order alone."""
    several = [one for one in solutions if one.orders != 1]
    lines = ["orders: in so many orders the links of each can stand around blank rings; the first is shown"]
    if not all(one.orders_settled for one in several):
        lines.append("≤: of these each link fits by itself; whether all have places together was not looked at")
    return lines if several else []


def not_judged(design: Design) -> str:
    """What of how gears are made was not judged; "" where all of it was, or no gears stand anywhere."""
    if design.wired or not design.arbors.reverted:
        return ""
    return "running and thickness were not judged: the file has no [wire] table"


def _twice(again: bool) -> str:
    return ", twice" if again else ""
