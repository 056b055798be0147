"""What a maker reads besides answers: why nothing fits, and the body sets."""

from __future__ import annotations

from collections.abc import Iterable

from rich.table import Table

from solver.cli.numbers import percent
from solver.cli.summary import reason_text
from solver.cli.tables import Paper, plain_table
from solver.files.body_sets import BodySet
from solver.search.why.explanation import Explanation


def print_explanation(paper: Paper, explanation: Explanation) -> None:
    """Which limits conflict, and what would do."""
    if explanation.feasible:
        paper.print("something fits: there is nothing to explain")
        return
    stopped = explanation.termination != "proved"
    minimal = all(one.needed for one in explanation.conflict)
    if explanation.conflict:
        left = ("rule", "field", "value", *(() if minimal else ("needed",)))
        conflict = plain_table("These limits cannot be met together", left, left=left)
        for one in explanation.conflict:
            needed = () if minimal else ("yes" if one.needed else "not known",)
            conflict.add_row(one.rule, one.field, one.now, *needed)
        paper.print(conflict)
    if explanation.loosenings:
        several = any(len(one.changes) > 1 for one in explanation.loosenings)
        title = "Loosened together, these are enough" if several else "One of these is enough, the rest left as it is"
        left = ("rule", "change in the file")
        errors = any(item.worst_error_pct is not None for item in explanation.loosenings)
        table = plain_table(title, ("no.", *left, *(["least error % then"] if errors else [])), left=left)
        for number, item in enumerate(explanation.loosenings, start=1):
            rules = ", ".join(dict.fromkeys(rule for rule, _, _, _ in item.changes))
            words = ", ".join(f"{field} {now} → {then}" for _, field, now, then in item.changes)
            table.add_row(str(number), rules, words, *([percent(item.worst_error_pct)] if errors else []))
        paper.print(table)
    if explanation.left_open:
        paper.print(
            "left open, too much work to settle: whether, or how far, to loosen " + ", ".join(explanation.left_open)
        )
    if not minimal:
        paper.print("which of these limits could be left out was too much work to settle")
    elif explanation.loosenings and not explanation.conflict and not stopped:
        paper.print("which limits conflict was too much work to settle")
    if stopped:
        paper.print(f"not finished: {reason_text(explanation.termination)}")
    elif explanation.loosenings:
        least = all(one.least for one in explanation.loosenings)
        will_do = "each is the least that will do, and each" if least else "each may be more than is needed, but"
        paper.print(f"{will_do} was confirmed by solving the file with it")
    elif explanation.conflict and not explanation.left_open:
        paper.print("no one of these loosened is enough, and no few together were found to be")
    elif not explanation.left_open:
        paper.print("nothing fits even with every limit loosened as far as was tried; are the periods what you mean?")


def sets_table(sets: Iterable[BodySet]) -> Table:
    """All body sets in short."""
    table = plain_table("Body sets", ("set", "bodies", "what", "source"), left=("what", "source"))
    for entry in sets:
        table.add_row(entry.name, str(len(entry.periods)), entry.title, entry.source)
    return table


def set_table(entry: BodySet) -> Table:
    """One body set with its periods."""
    columns = ("body", f"period ({entry.unit})", "ratio to the first")
    table = plain_table(f"{entry.title} (set {entry.name})", columns, left=("body",), caption=f"source: {entry.source}")
    first = entry.periods[0][1]
    for (name, period), text in zip(entry.periods, entry.printed, strict=True):
        table.add_row(name, text, f"{float(period / first):.6f}")
    return table
