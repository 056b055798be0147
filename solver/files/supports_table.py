"""Resolves the table [supports]: lengths to mm, and what the rest of the file must say for it."""

from __future__ import annotations

from fractions import Fraction

from solver.design.errors import single
from solver.design.supports import Supports
from solver.files.schema import FitTable, SupportsTable


def supports_of(
    table: SupportsTable | None, scale: Fraction, fit: FitTable, wired: bool, reverted: bool, spacing: Fraction
) -> Supports | None:
    """The table with its defaults; None where the file has none. scale: millimetres in one unit of the file. wired:
    whether it has a table [wire]; reverted: whether places are computed; spacing: of levels [mm].

    Raises DesignError."""

    def told(mm: Fraction) -> float:
        return float(f"{float(mm / scale):.6g}")

    if table is None:
        return None
    if not reverted:
        raise single("supports", None, "needs arbors.reverted = true: without it nothing stands anywhere")
    if not wired:
        raise single("supports", None, "needs a [wire] table: without one it is not known how thick gears are")
    if fit.frame is None:
        raise single("supports", None, "needs fit.frame: arms begin at its bars")
    usual = Supports()
    bar = usual.bar_mm if table.bar is None else table.bar * scale
    if fit.plate == "none" and bar > spacing:
        why = f"must be at most rings.level_spacing = {told(spacing)}, or the bars of neighbouring gaps meet"
        raise single("supports.bar", told(bar), why)
    return Supports(
        table.model,
        usual.arm_mm if table.arm is None else table.arm * scale,
        bar,
        table.metal,
        None if table.sag is None else table.sag * scale,
        table.begins,
    )
