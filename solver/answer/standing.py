"""What is known of a solution, in the words that sheets and the command line have alike."""

from __future__ import annotations

from collections.abc import Iterable

from solver.answer.document import ProofAnswer, SolutionAnswer, Status, proven_twice
from solver.design.design import Design


def twice(proofs: Iterable[ProofAnswer] | None) -> str:
    """ ", twice" where all that is proven was proven a second time."""
    return _twice(proven_twice(one.outcome for one in proofs or ()))


def standing(status: str, rank: int, again: bool) -> str:
    """What is known of the solution of that rank of an answer: "proven best", or nothing. again: all that is proven was
    proven a second time."""
    return f"proven best{_twice(again)}" if status == Status.OPTIMAL and rank == 1 else ""


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
