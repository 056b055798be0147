"""Pairs of toothed gears with pin gears, or with each other, at any distance of centres: one run, spans, tables."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from solver.forms.ends import Asked, span_of_each
from solver.forms.form import Sizes, Spec
from solver.forms.gaps import Floats, Gaps, Ints
from solver.forms.rolling import Bools
from solver.forms.running import pairs_within, perhaps_within, run_pairs
from solver.forms.runs import MeshRun, PairTable, Span
from solver.forms.tips import TipGaps


def tips_mm(sizes: Sizes, gaps: Gaps, rows: Ints, pins: Ints, apart_mm: Floats) -> Floats:
    """What the tips of toothed gears leave free of the pin gears' hubs, or of each other's roots."""
    if isinstance(gaps, TipGaps):
        return gaps.free_mm(rows, apart_mm)
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

    def asked(within: Callable[..., Bools]) -> Asked:
        def ask(some: Ints, apart_mm: Floats) -> Bools:
            return _runs_at(within, sizes, gaps, rows[some], pins[some], apart_mm, uneven)

        return ask

    return span_of_each(len(rows), asked(perhaps_within), asked(pairs_within), sizes.pitch_mm)


def _runs_at(
    within: Callable[..., Bools], sizes: Sizes, gaps: Gaps, rows: Ints, pins: Ints, apart_mm: Floats, uneven: float
) -> Bools:
    free = tips_mm(sizes, gaps, rows, pins, apart_mm) >= 0
    return np.asarray(free & within(gaps, rows, pins, apart_mm, uneven * sizes.pitch_mm))


def running_of(sizes: Sizes, gaps: Gaps, pairs: Sequence[tuple[Spec, Spec]], uneven: float) -> frozenset[int]:
    """Which of these pairs, by number, have a span. gaps: of the first gear of each."""
    rows, pins = np.arange(len(pairs)), _teeth(pairs)
    fine = _runs_at(pairs_within, sizes, gaps, rows, pins, np.zeros(len(rows)), uneven)
    return frozenset(np.flatnonzero(fine).tolist())


def running_for_all(sizes: Sizes, gaps: Gaps, pairs: Sequence[tuple[Spec, Spec]], uneven: float) -> frozenset[int]:
    """Which of these pairs, by number, run whichever of the mates of the others the toothed gear may have besides: with
    the teeth made for that pair alone, and with those for every smaller mate with which it does not jam or slip. pairs:
    of every toothed gear, the first, one for each mate, ascending; gaps: of the first gear of each."""
    own = _teeth(pairs)
    nothing = np.zeros(len(pairs))
    holds = _runs_at(pairs_within, sizes, gaps, np.arange(len(pairs)), own, nothing, np.inf)
    by_teeth: dict[int, list[int]] = {}
    for index in np.flatnonzero(holds).tolist():
        by_teeth.setdefault(pairs[index][0].teeth, []).append(index)
    asked = [(row, mate) for some in by_teeth.values() for row in some for mate in some if own[mate] >= own[row]]
    rows, mates = (np.array(column, dtype=np.intp) for column in (zip(*asked, strict=True) if asked else ((), ())))
    fine = _runs_at(pairs_within, sizes, gaps, rows, own[mates], np.zeros(len(rows)), uneven)
    sound = holds.copy()
    np.logical_and.at(sound, mates, fine)
    return frozenset(np.flatnonzero(sound).tolist())


def table_of(
    sizes: Sizes, gaps: Gaps, pairs: Sequence[tuple[Spec, Spec]], keys: Sequence[tuple[int, int]], uneven: float
) -> PairTable:
    """How pairs run, by their keys. gaps: of the first gear of each."""
    rows, pins = np.arange(len(pairs)), _teeth(pairs)
    runs = run_of(sizes, gaps, rows, pins, np.zeros(len(rows)))
    spans = spans_of(sizes, gaps, rows, pins, uneven)
    held = {key: span for key, span in zip(keys, spans, strict=True) if span is not None}
    return PairTable(dict(zip(keys, runs, strict=True)), held)


def _teeth(pairs: Sequence[tuple[Spec, Spec]]) -> Ints:
    return np.array([other.teeth for _, other in pairs], dtype=np.intp)
