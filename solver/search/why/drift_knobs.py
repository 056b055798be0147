"""What may be loosened of the wishes that bodies do not drift: more degrees after the same years, at last any."""

from __future__ import annotations

import math
from collections.abc import Iterator
from fractions import Fraction

from solver.design.design import Design
from solver.files.drift_wish import UNIT_DAYS, drift_cap, unit_told
from solver.files.schema import DesignFile, DriftWish
from solver.search.why.knob import ALL_ERRORS, Data, Knob, decimal_text


def drift_knobs(file: DesignFile, design: Design) -> Iterator[Knob]:
    """The wish for all bodies, and those of single ones."""
    bodies = [body for body in design.bodies if body.low == body.high]
    if file.search.max_drift is not None and bodies:
        yield _knob(
            file, file.search.max_drift, "search.max_drift.degrees", ("search",), min(body.low for body in bodies)
        )
    for index, entry in enumerate(file.bodies.own):
        if entry.max_drift is not None:
            period = next(body.low for body in bodies if body.name == entry.name)
            yield _knob(
                file, entry.max_drift, f"bodies.list[{index}].max_drift.degrees", ("bodies", "list", index), period
            )


def _knob(file: DesignFile, wish: DriftWish, field: str, path: tuple[str | int, ...], period: Fraction) -> Knob:
    """Degrees are hundredths of the wish, up to the one at which the fastest body may have any error; there the wish is
    left out."""
    unit = unit_told(file.bodies)
    assert unit is not None  # the file has been read
    cap = drift_cap(period, UNIT_DAYS[unit], wish)
    most = max(1, math.ceil((Fraction(ALL_ERRORS, 100) / cap - 1) * 100))

    def edit(data: Data, degree: int) -> None:
        table = data
        for name in path:
            table = table[name]  # type: ignore[index]  # a list has numbers
        if degree == most:
            table.pop("max_drift", None)
        else:
            table["max_drift"] = {"degrees": str(_more(wish, degree)), "years": str(wish.years)}

    return Knob(
        "error", field, decimal_text(wish.degrees), most, edit,
        lambda degree: "any" if degree == most else decimal_text(_more(wish, degree)),
    )  # fmt: skip


def _more(wish: DriftWish, degree: int) -> Fraction:
    return wish.degrees * (100 + degree) / 100
