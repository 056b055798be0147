"""What may be loosened of the arms that [supports] asks for: how thick they are, and how far apart levels are."""

from __future__ import annotations

import math
from collections.abc import Iterator
from copy import deepcopy
from fractions import Fraction

from solver.design.design import Design
from solver.design.geometry import mm_in
from solver.search.levels import levels_of
from solver.search.why.knob import Best, Data, Knob, decimal_text, put
from solver.search.why.sag_knobs import NO_LIMIT

WITHOUT = "any, without [supports]"
_THINNER = 12  # steps that are tried beyond the first at which arms are clear


def arm_knobs(design: Design, best: Best) -> Iterator[Knob]:
    """Thinner arms, and, where gears or rollers leave them no room between two levels, levels farther apart; the
    greatest degree takes the rule `arm` off. best: as of `knobs_of`."""
    if design.supports is None or not design.armed:
        return
    unit, levels = mm_in(design.units), levels_of(design)
    yield _thinner(design.supports.arm_mm / unit, Fraction(1, 200) if design.units == "in" else Fraction(1, 10), best)
    need_mm = None if levels is None else levels.armed_mm
    if need_mm is not None and need_mm > design.rings.level_spacing:
        now = design.rings.level_spacing / unit
        yield _farther(now, Fraction(math.ceil(need_mm / unit * 1000), 1000), best)


def _thinner(now: Fraction, step: Fraction, best: Best) -> Knob:
    """The diameter of arms [in the file's unit], down to one step. Thinner ones are clear of more, and bend more: what
    is clear if nothing may bend too far is found first, and then a few steps from there are tried."""
    steps = math.ceil(now / step) - 1  # whole steps below what it is now

    def then(degree: int) -> Fraction:
        return (steps + 1 - degree) * step

    def edit(data: Data, degree: int) -> None:
        if degree > steps:
            data.pop("supports", None)
        elif "supports" in data:  # else another knob has taken the rule off
            put(data, ("supports", "arm"), str(then(degree)))

    def fits(rest: Data, degree: int, bending: bool) -> bool:
        data = deepcopy(rest)
        edit(data, degree)
        if bending and "supports" in data:
            put(data, ("supports", "sag"), NO_LIMIT)
        return best(data, "error") is not None

    def least(rest: Data) -> int | None:
        low, high = 1, steps + 1
        while low < high:
            middle = (low + high) // 2
            low, high = (low, middle) if fits(rest, middle, bending=True) else (middle + 1, high)
        some = range(low, min(low + _THINNER, steps + 1))
        return next((degree for degree in some if fits(rest, degree, bending=False)), steps + 1)

    told = decimal_text(Fraction(round(now * 10_000), 10_000))
    return Knob(
        "arm", "supports.arm", told, steps + 1, edit,
        lambda degree: decimal_text(then(degree)) if degree <= steps else WITHOUT, least,
    )  # fmt: skip


def _farther(now: Fraction, need: Fraction, best: Best) -> Knob:
    """The level spacing [in the file's unit] that leaves arms room; where that is not enough, as in a frame that is not
    so deep, the greatest degree takes the rule off."""

    def edit(data: Data, degree: int) -> None:
        if degree == 1:
            put(data, ("rings", "level_spacing"), str(need))
        else:
            data.pop("supports", None)

    def least(rest: Data) -> int | None:
        data = deepcopy(rest)
        edit(data, 1)
        return 1 if best(data, "error") is not None else 2

    told = decimal_text(Fraction(round(now * 10_000), 10_000))
    return Knob(
        "arm", "rings.level_spacing", told, 2, edit,
        lambda degree: decimal_text(need) if degree == 1 else WITHOUT, least,
    )  # fmt: skip
