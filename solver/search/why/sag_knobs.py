"""What may be loosened where parts bend too far: the limit itself, thicker loops, arms or posts, nearer levels.

More rollers are a knob of `fit.rollers.count`.
"""

from __future__ import annotations

from collections.abc import Iterator
from copy import deepcopy
from dataclasses import dataclass
from fractions import Fraction
from math import ceil

from solver.design.design import Design
from solver.design.geometry import mm_in
from solver.search.sagged import sagging_of
from solver.search.why.knob import Best, Data, Knob, decimal_text, put

WITHOUT = "any, without a limit to what may bend"
_DEGREES = 40  # of the limit: eight thousand times as much
_LOOP_STEPS = 6  # of the wire of loops, which decides how gears run and how thick they are
_STEPS = 12  # of a length that may also stand in the way
NO_LIMIT = "1000000"  # in either unit; no part is as long


def sag_knobs(design: Design, best: Best) -> Iterator[Knob]:
    """Where the rule `sag` is in force. best: as of `knobs_of`. Fewer rings are a knob of `rings.blanks`."""
    sagging = sagging_of(design)
    if sagging is None or design.supports is None:
        return
    unit = mm_in(design.units)
    step = Fraction(1, 200) if design.units == "in" else Fraction(1, 10)
    told = design.supports.sag_mm
    limit = Fraction(sagging.limit_mm) if told is None else told
    yield _limit_knob(Fraction(ceil(limit / unit * 10_000), 10_000))
    if design.fit.rollers is not None and not sagging.form.plate:
        now = Fraction(round(Fraction(design.wire.loop.mm) / unit * 1000), 1000)
        yield _knob(_Stretch(("wire", "loop"), now, 2 * step, _LOOP_STEPS), best)
    if design.armed:
        yield _knob(_Stretch(("supports", "arm"), design.supports.arm_mm / unit, 2 * step, _STEPS), best)
    if sagging.posts_bend:
        post = design.fit.post_radius / unit
        yield _knob(_Stretch(("fit", "post_radius"), post, 2 * step, _STEPS), best)
        spacing = design.rings.level_spacing / unit
        nearer = max(1, round(spacing / 16 / step)) * step
        yield _knob(
            _Stretch(("rings", "level_spacing"), spacing, -nearer, min(_STEPS, ceil(spacing / nearer) - 1)), best
        )


@dataclass(frozen=True)
class _Stretch:
    """A length [in the file's unit] that is changed by so much for each of so many degrees."""

    path: tuple[str, str]
    now: Fraction
    step: Fraction
    most: int


def _limit_knob(now: Fraction) -> Knob:
    """The limit, a quarter more with each degree: it may be too low by far, and each question costs a search. The last
    is none at all, for arms of frames that are loosened too."""

    def then(degree: int) -> str:
        if degree == _DEGREES:
            return NO_LIMIT
        more = now * Fraction(5, 4) ** degree
        return decimal_text(Fraction(ceil(more * 1000), 1000) if more < 10 else Fraction(ceil(more)))

    def edit(data: Data, degree: int) -> None:
        if "supports" in data:  # else another knob has taken the rule off
            put(data, ("supports", "sag"), then(degree))

    return Knob("sag", "supports.sag", decimal_text(now), _DEGREES, edit, then)


def _knob(length: _Stretch, best: Best) -> Knob:
    """Thicker posts or arms may meet what thinner ones clear, and thinner levels be too thin for gears, so that the
    degrees are tried one by one; the greatest takes the limit off, and allows all that is allowed at any other."""

    def then(degree: int) -> str:
        return decimal_text(length.now + degree * length.step)

    def change(data: Data, degree: int) -> None:
        if length.path[0] == "supports" and "supports" not in data:
            return  # another knob has taken the rule off
        if degree <= length.most:
            put(data, length.path, then(degree))
        elif "supports" in data:
            put(data, ("supports", "sag"), NO_LIMIT)

    def least(rest: Data) -> int | None:
        for degree in range(1, length.most + 1):
            data = deepcopy(rest)
            change(data, degree)
            if best(data, "error") is not None:
                return degree
        return length.most + 1

    def says(degree: int) -> str:
        return then(degree) if degree <= length.most else WITHOUT

    return Knob("sag", ".".join(length.path), decimal_text(length.now), length.most + 1, change, says, least)
