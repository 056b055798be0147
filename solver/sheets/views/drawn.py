"""The picture of one solution of an answer."""

from __future__ import annotations

from solver.answer.document import Answer, made_as, train_of
from solver.design.design import Design
from solver.sheets.views.picture import picture


def drawn(design: Design, answer: Answer, rank: int) -> str | None:
    """The solution of that rank as SVG; None where there is none, or places are not computed."""
    if rank > len(answer.solutions) or design.fit.directions is None:
        return None
    solution = answer.solutions[rank - 1]
    return picture(made_as(design, solution), train_of(design, solution))
