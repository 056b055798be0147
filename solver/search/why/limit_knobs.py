"""What may be loosened of the limits of the search: the overall error and the caps on rank keys."""

from __future__ import annotations

import math
from collections.abc import Iterator
from copy import deepcopy
from fractions import Fraction
from typing import Any

from solver.design.design import Design
from solver.design.geometry import envelope_mm, mm_in
from solver.design.ranges import MOST_COUNT
from solver.files.schema import DesignFile
from solver.search.reaches import Reaches
from solver.search.why.knob import ALL_ERRORS, Best, Data, Knob, decimal_text, table_of


def limit_knobs(file: DesignFile, design: Design, best: Best) -> Iterator[Knob]:
    table = file.search
    if table.max_error_pct < ALL_ERRORS:
        yield _error_knob(table.max_error_pct, best)
    for key in ("parts", "jigs", "teeth", "largest", "envelope", "new_gears"):
        limit = getattr(table, f"max_{key}")
        if limit is not None:
            yield _cap_knob(key, limit, file, design, best)


def _error_knob(limit: Fraction, best: Best) -> Knob:
    """Degrees are ten-thousandths of a percent, as errors are shown."""

    def edit(data: Data, degree: int) -> None:
        table_of(data, "search")["max_error_pct"] = str(min(limit + Fraction(degree, 10_000), Fraction(ALL_ERRORS)))

    most = math.ceil((ALL_ERRORS - limit) * 10_000)

    def least(rest: Data) -> int | None:
        data = deepcopy(rest)
        edit(data, most)
        square = best(data, "error")
        if square is None:
            return None
        degree = math.floor(((math.sqrt(square) - 1) * 100 - float(limit)) * 10_000)
        while (1 + (limit + Fraction(degree, 10_000)) / 100) ** 2 < square:  # exact: the square root may be a hair off
            degree += 1
        return max(1, degree)

    return Knob(
        "error", "search.max_error_pct", decimal_text(limit), most, edit,
        lambda degree: decimal_text(limit + Fraction(degree, 10_000)), least,
    )  # fmt: skip


def _cap_knob(key: str, limit: Any, file: DesignFile, design: Design, best: Best) -> Knob:
    """Parts, jigs, teeth, largest gear and new gears count in ones, the envelope in thousandths."""
    unit = Fraction(1, 1000) if key == "envelope" else Fraction(1)
    most = math.floor((MOST_COUNT - Fraction(limit)) / unit) + 1  # at the most there is no limit any more

    def edit(data: Data, degree: int) -> None:
        table = table_of(data, "search")
        if degree == most:
            table.pop(f"max_{key}", None)
        else:
            value = limit + degree * unit
            table[f"max_{key}"] = str(value) if key == "envelope" else int(value)

    def least(rest: Data) -> int | None:
        data = deepcopy(rest)
        edit(data, most)
        value = best(data, key)
        if value is None:
            return None
        if key != "envelope":
            return int(value) - int(limit)
        millimetres = envelope_mm(design.rings.pitch, Reaches(design).most, int(value))
        reach = Fraction(round(millimetres * 1000), 1000) / mm_in(file.units)
        return math.ceil((reach - Fraction(limit)) / unit)

    return Knob(
        f"max_{key}", f"search.max_{key}", decimal_text(Fraction(limit)), most, edit,
        lambda degree: decimal_text(limit + degree * unit), least,
    )  # fmt: skip
