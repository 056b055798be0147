"""How a toothed gear and a pin gear run: turned through one pin's pitch in small steps, at any distance of centres.

One pin is enough to say it all. At an angle b past the line of centres it stands off the place where it would be if
the pitch circles rolled on each other, by `off`(b), and the gap lets it stand `half_width`: so the toothed gear may lag
behind even turning by at most h - off, and lead by h + off. All pins are that one, whole pitches apart; what they leave
in common is the play, and how its edge moves within a pitch is how unevenly one gear turns the other, whichever of them
drives. `off` is odd and the gap is symmetrical, so one edge is the other mirrored: both directions of turning, and both
flanks, are the same run. Plane geometry; nothing is assumed about the curve of the teeth.

Pins are counted at the gaps they belong to, however far they are from the middle. A pair slips where a tooth's tip can
come past a pin: where at times no pin is among the teeth, or where the other pins leave so much play when one comes in
that it may come into the wrong gap.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from solver.forms.form import MeshRun
from solver.forms.gaps import Floats, Gaps, Ints

PHASES = 48
_FINER, _ROUNDS = 4, 3  # steps into which the neighbourhood of an extreme is divided, and how often
MARGIN = 0.001  # of a pitch: within what play and unevenness are true; see tests/test_run_pairs.py
_SIZE = 400_000  # so many places of a pin are worked out at once

Bools = NDArray[np.bool_]
_Measure = Callable[[Floats], Floats]


@dataclass(frozen=True)
class Runs:
    """Many pairs at once: arrays of what `MeshRun` holds [mm at the pitch circle]."""

    backlash: Floats
    uneven: Floats
    slips: Bools
    least_pins: Ints
    most: Floats

    def of(self, index: int) -> MeshRun:
        return MeshRun(
            float(self.backlash[index]),
            float(self.uneven[index]),
            bool(self.slips[index]),
            int(self.least_pins[index]),
            float(self.most[index]),
        )

    def within(self, uneven_mm: float) -> Bools:
        return np.asarray((self.backlash >= 0) & ~self.slips & (self.uneven <= uneven_mm))


def run_pairs(gaps: Gaps, rows: Ints, pins: Ints, apart_mm: Floats) -> Runs:
    """How pairs run: toothed gear `rows` with so many pins each, `apart_mm` farther apart than their pitch radii. All
    three are arrays of one length."""
    count = len(rows)
    whole = Runs(*(np.empty(count, dtype=kind) for kind in (float, float, bool, np.intp, float)))
    for part in _parts(gaps, rows, pins, apart_mm):
        found = _Pairs(gaps, rows[part], pins[part], apart_mm[part]).run()
        for name in ("backlash", "uneven", "slips", "least_pins", "most"):
            getattr(whole, name)[part] = getattr(found, name)
    return whole


def perhaps_within(gaps: Gaps, rows: Ints, pins: Ints, apart_mm: Floats, uneven_mm: float) -> Bools:
    """Where this says no, pairs do not run; it costs a quarter of `pairs_within`."""
    good = np.zeros(len(rows), dtype=bool)
    for part in _parts(gaps, rows, pins, apart_mm):
        good[part] = _Pairs(gaps, rows[part], pins[part], apart_mm[part]).perhaps_within(uneven_mm)
    return good


def pairs_within(gaps: Gaps, rows: Ints, pins: Ints, apart_mm: Floats, uneven_mm: float) -> Bools:
    """Whether pairs run, as `run_pairs` and `Runs.within` would say, with MARGIN to spare."""
    good = perhaps_within(gaps, rows, pins, apart_mm, uneven_mm)
    sure = np.flatnonzero(good)
    for part in _parts(gaps, rows[sure], pins[sure], apart_mm[sure]):
        some = sure[part]
        good[some] = _Pairs(gaps, rows[some], pins[some], apart_mm[some]).within(uneven_mm)
    return good


def _parts(gaps: Gaps, rows: Ints, pins: Ints, apart_mm: Floats) -> Iterator[Ints]:
    """Pairs that have as many pins among the teeth, so many that they are worked out at once."""
    sizes = _Pairs(gaps, rows, pins, apart_mm).among()
    for size in np.unique(sizes):
        some = np.flatnonzero(sizes == size)
        most = max(1, _SIZE // (PHASES * int(size)))
        for first in range(0, len(some), most):
            yield some[first : first + most]


class _Pairs:
    """Some pairs, one a row; phases and angles are counted in pitches of the pins."""

    def __init__(self, gaps: Gaps, rows: Ints, pins: Ints, apart_mm: Floats) -> None:
        self.gaps, self.rows, self.pins = gaps, rows, pins
        self.radius = gaps.radius_mm[rows]
        self.tooth = 2 * np.pi / gaps.teeth[rows]  # rad
        self.pitch = 2 * np.pi / pins  # rad
        self.circle = self.radius * pins / gaps.teeth[rows]
        self.centres = self.radius + self.circle + apart_mm
        far = gaps.outermost_mm[rows]
        cosine = (self.centres**2 + self.circle**2 - far**2) / (2 * self.centres * self.circle)
        self.end = np.arccos(np.clip(cosine, -1, 1)) / self.pitch  # pitches from the line of centres to the tips

    def among(self) -> Ints:
        """How many pins are among the teeth at most."""
        return np.asarray(np.floor(2 * self.end).astype(np.intp) + 1)

    def _places(self, at: Floats) -> tuple[Floats, Floats, Bools]:
        """For pins `at` so many pitches past the line of centres, one row a pair: what they are off [rad] the place at
        which they would be by rolling, half the arc that they have [rad], and whether they are among the teeth."""
        turn = at * self.pitch[:, None]
        x = self.centres[:, None] - self.circle[:, None] * np.cos(turn)
        y = self.circle[:, None] * np.sin(turn)
        off = np.arctan2(y, x) - at * self.tooth[:, None]
        inside = np.abs(at) < self.end[:, None]
        wide = self.gaps.half_width(self.rows, np.hypot(x, y))
        return off, wide, inside

    def edge(self, phases: Floats) -> Floats:
        """How far [rad] the toothed gear lags at most at phases of shape (pairs, n), in pitches: the edge below, of all
        pins; -inf where there is none. The edge above is this at -phase, with the other sign."""
        first = phases + np.ceil(-self.end[:, None] - phases)
        lag = np.full(phases.shape, -np.inf)
        for pin in range(int(self.among().max(initial=0))):
            off, half, inside = self._places(first + pin)
            lag = np.maximum(lag, np.where(inside, off - half, -np.inf))
        return lag

    def _phases(self) -> tuple[Floats, Floats, Floats]:
        """Phases at even steps, and the moments at which a pin comes in and goes out, where edges end; the edge below
        at each; and less play at each, below 0 where there is some."""
        even = np.broadcast_to(np.arange(PHASES) / PHASES, (len(self.rows), PHASES))
        phases = np.concatenate([even, np.stack([-self.end % 1, self.end % 1], axis=1)], axis=1)
        low = self.edge(phases)
        mirrored = np.concatenate([low[:, -np.arange(PHASES) % PHASES], low[:, [PHASES + 1, PHASES]]], axis=1)
        return phases, low, low + mirrored

    def run(self) -> Runs:
        phases, low, tight = self._phases()
        held = np.isfinite(low)
        known, none = np.where(held, low, np.nan), ~held.any(axis=1)
        least = self._extreme(phases, -known, lambda some: -self.edge(some))
        most = self._extreme(phases, known, self.edge)
        room = self._extreme(phases, tight, self._tight)
        loose = self._extreme(phases, -tight, lambda some: -self._tight(some))
        return Runs(
            backlash=np.where(none, 0.0, -room * self.radius),
            uneven=np.where(none, 0.0, (most + least) * self.radius),
            slips=self._slips(),
            least_pins=np.minimum(np.floor(2 * self.end + 1e-12).astype(np.intp), self.pins),
            most=np.where(none, 0.0, loose * self.radius),
        )

    def within(self, uneven_mm: float) -> Bools:
        """Whether they run with MARGIN to spare."""
        phases, low, tight = self._phases()
        known = np.where(np.isfinite(low), low, np.nan)
        uneven = self._extreme(phases, known, self.edge)
        uneven += self._extreme(phases, -known, lambda some: -self.edge(some))
        return self._good(uneven, self._extreme(phases, tight, self._tight), uneven_mm)

    def perhaps_within(self, uneven_mm: float) -> Bools:
        _, low, tight = self._phases()
        held = np.isfinite(low)
        uneven = np.where(held, low, -np.inf).max(axis=1) - np.where(held, low, np.inf).min(axis=1)
        return self._good(uneven, np.where(np.isfinite(tight), tight, -np.inf).max(axis=1), uneven_mm)

    def _good(self, uneven: Floats, tight: Floats, uneven_mm: float) -> Bools:
        spare = MARGIN * self.tooth * self.radius
        fine = (uneven * self.radius <= uneven_mm - spare) & (-tight * self.radius >= spare)
        return np.asarray(fine & ~self._slips())

    def _tight(self, phases: Floats) -> Floats:
        """The play at these phases [rad], below 0 where there is some."""
        return self.edge(phases) + self.edge(-phases)

    def _extreme(self, phases: Floats, values: Floats, measure: _Measure) -> Floats:
        """The greatest value over all phases: the greatest of those that are known, and of finer steps about the two
        highest peaks."""
        values = np.where(np.isfinite(values), values, -np.inf)
        even = values[:, :PHASES]
        peak = (even >= np.roll(even, 1, axis=1)) & (even >= np.roll(even, -1, axis=1))
        heights = np.concatenate([np.where(peak, even, -np.inf), values[:, PHASES:]], axis=1)
        places = np.argpartition(heights, -2, axis=1)[:, -2:]
        best = values.max(axis=1)
        at, step = np.take_along_axis(phases, places, axis=1), 1 / PHASES
        for _ in range(_ROUNDS):
            some = at[:, :, None] + step * np.linspace(-1, 1, 2 * _FINER + 1)
            some = some.reshape(len(values), -1)
            found = measure(some)
            found = np.where(np.isfinite(found), found, -np.inf)
            place = found.argmax(axis=1)[:, None]
            best = np.maximum(best, np.take_along_axis(found, place, axis=1)[:, 0])
            at, step = np.take_along_axis(some, place, axis=1), step / _FINER
        return np.asarray(best)

    def _slips(self) -> Bools:
        """Where a tip can come past a pin: as one comes in, no other is among the teeth, or those leave it so much play
        that it may come into the gap beside its own."""
        others = -self.end[:, None] + np.arange(1, int(self.among().max(initial=0)) + 1)[None, :]
        off, half, inside = self._places(others)
        low = np.where(inside, off - half, -np.inf).max(axis=1)
        high = np.where(inside, off + half, np.inf).min(axis=1)
        mine = self._places(-self.end[:, None])[0][:, 0]
        return np.asarray((low < mine - self.tooth / 2) | (high > mine + self.tooth / 2))
