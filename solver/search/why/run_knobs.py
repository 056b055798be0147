"""What may be loosened of how gears run, made as [wire] says."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from copy import deepcopy
from dataclasses import dataclass
from fractions import Fraction

from solver.design.design import Design
from solver.design.geometry import mm_in
from solver.design.toothing import BETTER, is_open, toothings
from solver.files.wire_table import either_third, of_plate
from solver.search.levels import levels_of
from solver.search.why.knob import Best, Data, Knob, decimal_text, put, table_of

_FINER = Fraction(1, 100)  # of a pitch, a degree of unevenness
WITHOUT = "any, without [wire]"


def run_knobs(design: Design, best: Best) -> Iterator[Knob]:
    """The limit of unevenness, and the addendum of teeth of wire or the rim of plate, where the rule `run` is in force;
    and the level spacing and the length of pins, where thick parts break the rule `level`. best: as of `knobs_of`."""
    levels, unit = levels_of(toothings(design)[0]), mm_in(design.units)  # gears at rings have pins with either
    if levels is not None:
        spacings = sorted({Fraction(math.ceil(mm / unit * 1000), 1000) for mm in levels.spacings()})
        if spacings:
            yield _level_knob(("rings", "level_spacing"), levels.spacing / unit, spacings, best)
        round_ = math.ceil if levels.narrow else math.floor
        lengths = {Fraction(round_(mm / unit * 1000), 1000) for mm in levels.pin_lengths()}
        if lengths:
            yield _level_knob(("wire", "pin_length"), levels.pins / unit, sorted(lengths, reverse=True), best)
    if not design.as_made:
        return
    yield from _third_knob(design)
    now = design.unevenness

    def uneven(degree: int) -> Fraction:
        return min(now + degree * _FINER, Fraction(1))

    def stray(data: Data, degree: int) -> None:
        if "wire" in data:  # else another knob has taken the rule off
            put(data, ("fit", "unevenness"), str(uneven(degree)))

    if now < 1:
        most = math.ceil((1 - now) / _FINER)
        yield Knob("run", "fit.unevenness", decimal_text(now), most, stray, lambda degree: decimal_text(uneven(degree)))
    yield _length_knob(design, best, _RIM if of_plate(design.wire.form) else _ADDENDUM)


def _third_knob(design: Design) -> Iterator[Knob]:
    """Third gears of the other toothing as well, where the file asks for one and the form knows both."""
    if is_open(design) or not design.third_counts or not either_third(design.wire.form):
        return

    def either(data: Data, degree: int) -> None:
        if "wire" in data:
            put(data, ("wire", "third"), BETTER)

    yield Knob("run", "wire.third", design.wire.third, 1, either, lambda degree: BETTER)


def _level_knob(field: tuple[str, str], now: Fraction, then: Sequence[Fraction], best: Best) -> Knob:
    """A length [in the file's unit] with which less touches on other levels, the mildest change first; where none is
    enough, as in a frame that is not so deep, the greatest degree takes the rule off."""

    def change(data: Data, degree: int) -> None:
        if degree <= len(then) and (field[0] != "wire" or "wire" in data):
            put(data, field, str(then[degree - 1]))
            return
        data.pop("wire", None)
        data.pop("supports", None)  # it needs [wire]
        table_of(data, "fit").pop("unevenness", None)

    def least(rest: Data) -> int | None:
        for degree in range(1, len(then) + 1):
            data = deepcopy(rest)
            change(data, degree)
            if best(data, "error") is not None:
                return degree
        return len(then) + 1

    def says(degree: int) -> str:
        return decimal_text(then[degree - 1]) if degree <= len(then) else WITHOUT

    told = decimal_text(Fraction(round(now * 10_000), 10_000))
    return Knob("level", ".".join(field), told, len(then) + 1, change, says, least)


@dataclass(frozen=True)
class _Length:
    """A length of table [rings]. usual: what it is where it is left out; most: as far as it is tried; steps: to a
    pitch; the others are shares of a pitch."""

    name: str
    usual: Fraction
    most: Fraction
    steps: int

    def of(self, design: Design) -> Fraction:
        """In mm."""
        return design.rings.addendum if self.name == "addendum" else design.rings.rim


_ADDENDUM = _Length("addendum", Fraction(1, 3), Fraction(1, 2), 50)  # teeth that stand out farther are not bent
_RIM = _Length("rim", Fraction(1, 2), Fraction(1), 20)  # roots of plate are about half a pitch deep


def _length_knob(design: Design, best: Best, length: _Length) -> Knob:
    """Longer teeth, or more metal below them, up to where nothing is gained any more; the greatest degree takes the
    rule off, so that it allows all that is allowed at any other. Between, longer teeth may run worse, and more metal
    may be in the way, and so the degrees are tried one by one."""
    unit = mm_in(design.units)
    pitch = Fraction(math.floor(2 * math.pi * design.rings.pitch.radius_mm(1) / float(unit) * 1000), 1000)
    now = length.of(design) / unit
    step = max(Fraction(round(pitch / length.steps * 100), 100), Fraction(1, 1000))
    start = now or Fraction(math.floor(pitch * length.usual * 100), 100)
    last = max(0, math.floor((pitch * length.most - start) / step))

    def longer(data: Data, degree: int) -> None:
        if degree <= last:
            put(data, ("rings", length.name), str(start + degree * step))
            return
        data.pop("wire", None)
        data.pop("supports", None)  # it needs [wire]
        table_of(data, "fit").pop("unevenness", None)

    def least(rest: Data) -> int | None:
        for degree in range(1, last + 1):
            data = deepcopy(rest)
            longer(data, degree)
            if best(data, "error") is not None:
                return degree
        return last + 1

    def says(degree: int) -> str:
        return decimal_text(start + degree * step) if degree <= last else WITHOUT

    told = decimal_text(Fraction(round(now * 10_000), 10_000))
    return Knob("run", f"rings.{length.name}", told, last + 1, longer, says, least)
