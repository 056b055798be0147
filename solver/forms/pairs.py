"""Pairs of toothed gears and pin gears at any distance of centres: one run, the span in which they run, tables.

Spans are whole twentieths of a millimetre: both ends were tried and run, with `running.MARGIN` to spare; one step beyond
they do not. Between them the way from the nominal distance was tried in steps of a fortieth of a pitch.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

import numpy as np

from solver.forms.form import MeshRun, PairTable, Sizes, Span
from solver.forms.gaps import Floats, Gaps, Ints
from solver.forms.running import Bools, pairs_within, perhaps_within, run_pairs

STEPS_PER_MM = 20
_STRIDES = 40  # of a pitch
_MOST = 400


def tips_mm(sizes: Sizes, gaps: Gaps, rows: Ints, pins: Ints, apart_mm: Floats) -> Floats:
    """What the tips of toothed gears leave free of the pin gears' hubs."""
    tips = gaps.outermost_mm[rows] - sizes.pin_mm / 2
    centres = gaps.radius_mm[rows] * (1 + pins / gaps.teeth[rows]) + apart_mm
    return np.asarray(centres - tips - sizes.hub_mm / 2)


def run_of(sizes: Sizes, gaps: Gaps, rows: Ints, pins: Ints, apart_mm: Floats) -> list[MeshRun]:
    """How pairs run: toothed gears `rows` with so many pins, so much farther apart than their pitch radii."""
    runs, free = run_pairs(gaps, rows, pins, apart_mm), tips_mm(sizes, gaps, rows, pins, apart_mm)
    columns = (runs.backlash, runs.uneven, runs.slips, runs.least_pins, runs.most, free)
    return [MeshRun(*row) for row in zip(*(column.tolist() for column in columns), strict=True)]


def spans_of(sizes: Sizes, gaps: Gaps, rows: Ints, pins: Ints, uneven: float) -> list[Span | None]:
    """The spans of pairs about the distance of their pitch radii; None where one does not run there."""
    search = _Ends(sizes, gaps, rows, pins, uneven)
    here = search.runs(np.arange(len(rows)), np.zeros(len(rows), dtype=np.intp))
    some = np.flatnonzero(here)
    low, high = search.end(some, -1), search.end(some, 1)
    found: list[Span | None] = [None] * len(rows)
    for index, first, last in zip(some.tolist(), low.tolist(), high.tolist(), strict=True):
        found[index] = Span(Fraction(first, STEPS_PER_MM), Fraction(last, STEPS_PER_MM))
    return found


class _Ends:
    def __init__(self, sizes: Sizes, gaps: Gaps, rows: Ints, pins: Ints, uneven: float) -> None:
        self.sizes, self.gaps, self.rows, self.pins = sizes, gaps, rows, pins
        self.uneven_mm = uneven * sizes.pitch_mm
        self.stride = max(1, round(sizes.pitch_mm * STEPS_PER_MM / _STRIDES))

    def _free(self, some: Ints, steps: Ints) -> Bools:
        free = tips_mm(self.sizes, self.gaps, self.rows[some], self.pins[some], steps / STEPS_PER_MM)
        return np.asarray(free >= 0)

    def perhaps(self, some: Ints, steps: Ints) -> Bools:
        args = self.gaps, self.rows[some], self.pins[some], steps / STEPS_PER_MM, self.uneven_mm
        return perhaps_within(*args) & self._free(some, steps)

    def runs(self, some: Ints, steps: Ints) -> Bools:
        args = self.gaps, self.rows[some], self.pins[some], steps / STEPS_PER_MM, self.uneven_mm
        return pairs_within(*args) & self._free(some, steps)

    def end(self, some: Ints, way: int) -> Ints:
        """The last step in one direction up to which pairs run that do at 0."""
        good = np.zeros(len(some), dtype=np.intp)
        going = np.arange(len(some))
        for _ in range(_MOST):
            if not len(going):
                break
            going = going[self.perhaps(some[going], good[going] + way * self.stride)]
            good[going] += way * self.stride
        bad = good + way * self.stride
        # What perhaps ran must be sure to: strides back until it does.
        back = np.flatnonzero(good)
        while len(back):
            back = back[~self.runs(some[back], good[back])]
            bad[back] = good[back]
            good[back] -= way * self.stride
            back = back[good[back] != 0]
        while len(open_ := np.flatnonzero(np.abs(bad - good) > 1)):
            middle = (good[open_] + bad[open_]) // 2
            fine = self.runs(some[open_], middle)
            good[open_] = np.where(fine, middle, good[open_])
            bad[open_] = np.where(fine, bad[open_], middle)
        return good


def table_of(
    sizes: Sizes, gaps: Gaps, teeth: Sequence[int], pins: Sequence[int], uneven: float
) -> PairTable:
    """All pairs of the toothed gears, whose teeth these are, with all of these pin gears."""
    rows, columns = np.repeat(np.arange(len(teeth)), len(pins)), np.tile(np.array(pins, dtype=np.intp), len(teeth))
    keys = [(count, mate) for count in teeth for mate in pins]
    runs = run_of(sizes, gaps, rows, columns, np.zeros(len(rows)))
    spans = spans_of(sizes, gaps, rows, columns, uneven)
    held = {key: span for key, span in zip(keys, spans, strict=True) if span is not None}
    return PairTable(dict(zip(keys, runs, strict=True)), held)
