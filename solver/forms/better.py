"""Which teeth run best: for given wire, the addendum, the rim and the jig's pins that make the worst of some meshes run
most evenly.

Whole tenths of a millimetre are tried, in ever smaller steps about the best so far: the best that was found, not
proven.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import product
from math import inf

import numpy as np

from solver.design.errors import DesignError
from solver.forms.form import Sizes, Spec
from solver.forms.pairs import tips_mm
from solver.forms.pinned import PinForm, in_order
from solver.forms.pins import PINS
from solver.forms.rolling import MARGIN
from solver.forms.running import run_pairs
from solver.forms.runs import Counts

_PER_MM = 10
_SHARES = (0.1, 0.6), (0.1, 0.7), (0.05, 0.3)  # of a pitch: addendum, rim, jig pin, where one looks
_FIRST = 5  # of each at first
_ALIKE = 1e-6  # mm: curved teeth are made with a play, and have it but for rounding


@dataclass(frozen=True)
class BetterTeeth:
    """Teeth that run well [mm]; uneven: how far the worst mesh strays, as a share of a pitch; worst: its teeth and
    pins."""

    addendum_mm: float
    rim_mm: float
    jig_pin_mm: float
    uneven: float
    worst: tuple[int, int]


def better_teeth(
    form: PinForm,
    sizes: Sizes,
    pairs: Sequence[tuple[Spec, Spec]],
    adjust_mm: float = 0.0,
    most_mm: float = inf,
    most_rim_mm: float = inf,
    plays_mm: Sequence[float] | None = None,
) -> BetterTeeth | None:
    """The teeth with which the worst of these meshes strays least, at the nominal distance and `adjust_mm` closer and
    farther; None where no teeth were found with which all of them run. most_mm: the largest addendum, most_rim_mm: the
    largest rim, a tenth at least. plays_mm: the least play that each mesh is to have at these distances; none: any."""
    pitch = sizes.pitch_mm * _PER_MM
    spans = [(max(1, round(low * pitch)), round(high * pitch)) for low, high in _SHARES]
    for place, most in enumerate((most_mm, most_rim_mm)):
        high = max(1, min(spans[place][1], int(min(most, sizes.pitch_mm) * _PER_MM + 1e-9)))
        spans[place] = min(spans[place][0], high), high
    least = list(plays_mm or [0.0] * len(pairs))
    tried: dict[Counts, tuple[float, tuple[int, int]]] = {}

    def uneven(lengths: Counts) -> float:
        if lengths not in tried:
            tried[lengths] = _worst(form, _with(sizes, lengths), pairs, least, adjust_mm)
        return tried[lengths][0]

    # A coarse grid over all, then ever smaller steps about the best.
    steps = [max(1, (high - low) // (_FIRST - 1)) for low, high in spans]
    best = min(
        product(*(range(low, high + 1, step) for (low, high), step in zip(spans, steps, strict=True))), key=uneven
    )
    while True:
        near = min(_about(best, steps, spans), key=uneven)
        if uneven(near) < uneven(best):
            best = near
        elif max(steps) > 1:
            steps = [max(1, step // 2) for step in steps]
        else:
            break
    if uneven(best) == inf:
        return None
    addendum, rim, jig_pin = (length / _PER_MM for length in best)
    return BetterTeeth(addendum, rim, jig_pin, *tried[best])


def _about(best: Counts, steps: Sequence[int], spans: Sequence[tuple[int, int]]) -> Iterator[Counts]:
    for ways in product((0, -1, 1), repeat=len(best)):
        there = tuple(one + way * step for one, way, step in zip(best, ways, steps, strict=True))
        if all(low <= one <= high for one, (low, high) in zip(there, spans, strict=True)):
            yield there


def _with(sizes: Sizes, lengths: Counts) -> Sizes:
    addendum, rim, jig_pin = (length / _PER_MM for length in lengths)
    return replace(
        sizes, addendum_mm=addendum, judged_mm=max(sizes.judged_mm, addendum), rim_mm=rim, jig_pin_mm=jig_pin
    )


def _worst(
    form: PinForm, sizes: Sizes, pairs: Sequence[tuple[Spec, Spec]], least_mm: Sequence[float], adjust_mm: float
) -> tuple[float, tuple[int, int]]:
    """How far the worst mesh strays, as a share of a pitch, and its teeth and pins; infinite where one does not run, or
    has less play than it is to have."""
    ordered = [(in_order(*pair), least) for pair, least in zip(pairs, least_mm, strict=True)]
    if any(form.outline(sizes, spec).unmade for pair, _ in ordered for spec in pair):
        return inf, (0, 0)
    # Meshes with pins, and those of teeth with teeth.
    sorts = [[one for one in ordered if (one[0][1].toothing == PINS) is pins] for pins in (True, False)]
    try:
        return max((_worst_alike(form, sizes, some, adjust_mm) for some in sorts if some), key=lambda one: one[0])
    except DesignError:
        return inf, (0, 0)


def _worst_alike(
    form: PinForm, sizes: Sizes, some: Sequence[tuple[tuple[Spec, Spec], float]], adjust_mm: float
) -> tuple[float, tuple[int, int]]:
    pairs = [pair for pair, _ in some]
    gaps = form.among(sizes, pairs)
    rows, pins = np.arange(len(pairs)), np.array([spec.teeth for _, spec in pairs])
    found, where = 0.0, (0, 0)
    for apart in sorted({-adjust_mm, 0.0, adjust_mm}):
        away = np.full(len(rows), apart)
        runs = run_pairs(gaps, rows, pins, away)
        spare = np.maximum(MARGIN * sizes.pitch_mm, [least - _ALIKE for _, least in some])
        fine = (runs.backlash >= spare) & ~runs.slips & (tips_mm(sizes, gaps, rows, pins, away) >= 0)
        uneven = np.where(fine, runs.uneven / sizes.pitch_mm, inf)
        worst = int(uneven.argmax())
        if uneven[worst] > found:
            found, where = float(uneven[worst]), (pairs[worst][0].teeth, pairs[worst][1].teeth)
    return found, where
