"""How pairs of gears of wire run, many at once: toothed gears with pin gears, and with each other."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from solver.forms.gaps import Floats, Gaps, Ints
from solver.forms.pin_pairs import PinPairs
from solver.forms.rolling import PHASES, Bools, Runs
from solver.forms.tips import TipGaps, TipPairs

_SIZE = 400_000  # so many places of a pin are worked out at once


def run_pairs(gaps: Gaps, rows: Ints, pins: Ints, apart_mm: Floats) -> Runs:
    """How pairs run: toothed gear `rows` with so many pins (or teeth) each, `apart_mm` farther apart than their pitch
    radii. All three are arrays of one length."""
    count = len(rows)
    whole = Runs(*(np.empty(count, dtype=kind) for kind in (float, float, bool, np.intp, float)))
    for part in _parts(gaps, rows, pins, apart_mm):
        found = _meshes(gaps, rows[part], pins[part], apart_mm[part]).run()
        for name in ("backlash", "uneven", "slips", "least_pins", "most"):
            getattr(whole, name)[part] = getattr(found, name)
    return whole


def perhaps_within(gaps: Gaps, rows: Ints, pins: Ints, apart_mm: Floats, uneven_mm: float) -> Bools:
    """Where this says no, pairs do not run; it costs a quarter of `pairs_within`."""
    good = np.zeros(len(rows), dtype=bool)
    for part in _parts(gaps, rows, pins, apart_mm):
        good[part] = _meshes(gaps, rows[part], pins[part], apart_mm[part]).perhaps_within(uneven_mm)
    return good


def pairs_within(gaps: Gaps, rows: Ints, pins: Ints, apart_mm: Floats, uneven_mm: float) -> Bools:
    """Whether pairs run, as `run_pairs` and `Runs.within` would say, with MARGIN to spare."""
    good = perhaps_within(gaps, rows, pins, apart_mm, uneven_mm)
    sure = np.flatnonzero(good)
    for part in _parts(gaps, rows[sure], pins[sure], apart_mm[sure]):
        some = sure[part]
        good[some] = _meshes(gaps, rows[some], pins[some], apart_mm[some]).within(uneven_mm)
    return good


def _parts(gaps: Gaps, rows: Ints, pins: Ints, apart_mm: Floats) -> Iterator[Ints]:
    """Pairs that have as many pins among the teeth, so many that they are worked out at once."""
    sizes = _meshes(gaps, rows, pins, apart_mm).among()
    for size in np.unique(sizes):
        some = np.flatnonzero(sizes == size)
        most = max(1, _SIZE // (PHASES * int(size)))
        for first in range(0, len(some), most):
            yield some[first : first + most]


def _meshes(gaps: Gaps, rows: Ints, pins: Ints, apart_mm: Floats) -> PinPairs:
    if isinstance(gaps, TipGaps):
        return TipPairs(gaps, rows, pins, apart_mm)
    return PinPairs(gaps, rows, pins, apart_mm)
