"""Pairs of toothed gears and pin gears at any distance of centres: one run, the span in which they run, tables."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from solver.forms.ends import Asked, span_of_each
from solver.forms.form import Sizes, Spec
from solver.forms.gaps import Floats, Gaps, Ints
from solver.forms.rolling import Bools
from solver.forms.running import pairs_within, perhaps_within, run_pairs
from solver.forms.runs import MeshRun, PairTable, Span


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


def running_of(sizes: Sizes, gaps: Gaps, specs: Sequence[Spec], uneven: float) -> frozenset[tuple[int, int]]:
    """The pairs of `table_of` that have a span."""
    rows, pins = np.arange(len(specs)), np.array([spec.mates[0] for spec in specs], dtype=np.intp)
    fine = _runs_at(pairs_within, sizes, gaps, rows, pins, np.zeros(len(rows)), uneven)
    return frozenset((specs[index].teeth, specs[index].mates[0]) for index in np.flatnonzero(fine).tolist())


def running_for_all(sizes: Sizes, gaps: Gaps, specs: Sequence[Spec], uneven: float) -> frozenset[tuple[int, int]]:
    """The pairs that run whichever of the mates of these specs the toothed gear may have besides: with the teeth made
    for that pair alone, and with those for every smaller mate with which it does not jam or slip. specs: of every
    toothed gear one for each mate, ascending."""
    own = np.array([spec.mates[0] for spec in specs], dtype=np.intp)
    nothing = np.zeros(len(specs))
    holds = _runs_at(pairs_within, sizes, gaps, np.arange(len(specs)), own, nothing, np.inf)
    by_teeth: dict[int, list[int]] = {}
    for index in np.flatnonzero(holds).tolist():
        by_teeth.setdefault(specs[index].teeth, []).append(index)
    asked = [(row, mate) for some in by_teeth.values() for row in some for mate in some if own[mate] >= own[row]]
    rows, mates = (np.array(column, dtype=np.intp) for column in (zip(*asked, strict=True) if asked else ((), ())))
    fine = _runs_at(pairs_within, sizes, gaps, rows, own[mates], np.zeros(len(rows)), uneven)
    sound = holds.copy()
    np.logical_and.at(sound, mates, fine)
    return frozenset((specs[index].teeth, specs[index].mates[0]) for index in np.flatnonzero(sound).tolist())


def table_of(sizes: Sizes, gaps: Gaps, specs: Sequence[Spec], uneven: float) -> PairTable:
    """The toothed gears, whose gaps these are, each with pin gears of its only mate."""
    rows, pins = np.arange(len(specs)), np.array([spec.mates[0] for spec in specs], dtype=np.intp)
    keys = [(spec.teeth, spec.mates[0]) for spec in specs]
    runs = run_of(sizes, gaps, rows, pins, np.zeros(len(rows)))
    spans = spans_of(sizes, gaps, rows, pins, uneven)
    held = {key: span for key, span in zip(keys, spans, strict=True) if span is not None}
    return PairTable(dict(zip(keys, runs, strict=True)), held)
