"""Two gears that turn each other, step by step: how the edge of the play moves, and where its extremes are.

Only one edge is worked out: gears whose teeth are symmetrical have the other mirrored. Phases are pitches of the gear
whose teeth (or pins) are followed among the gaps of the other.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from solver.forms.gaps import Floats, Ints

PHASES = 48
_FINER, _ROUNDS = 4, 3  # steps into which the neighbourhood of an extreme is divided, and how often
MARGIN = 0.001  # of a pitch: within what play and unevenness are true; see tests/test_run_pairs.py
_DIGITS = 6  # of a mm that are kept: the last bits of a sine are not the same everywhere

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


class Rolling(ABC):
    """Some pairs, one a row. radius: of the pitch circle of the gear with gaps [mm]; tooth: its pitch [rad]. end: how
    many pitches past the line of centres a tooth of the other gear leaves the gaps. teeth: of the other gear."""

    radius: Floats
    tooth: Floats
    end: Floats
    teeth: Ints

    @abstractmethod
    def edge(self, phases: Floats) -> Floats:
        """How far [rad] the gear with gaps lags at most at phases of shape (pairs, n), in pitches: the edge below, of
        all teeth; -inf where there is none. The edge above is this at -phase, with the other sign."""

    @abstractmethod
    def slips(self) -> Bools:
        """Where a tip can come past a tooth: as one comes in, no other is among the gaps, or those leave it so much
        play that it may come into the gap beside its own."""

    def among(self) -> Ints:
        """How many teeth are in gaps at most."""
        return np.asarray(np.floor(2 * self.end).astype(np.intp) + 1)

    def phases(self) -> tuple[Floats, Floats, Floats]:
        """Phases at even steps, and the moments at which a tooth comes in and goes out, where edges end; the edge below
        at each; and less play at each, below 0 where there is some."""
        even = np.broadcast_to(np.arange(PHASES) / PHASES, (len(self.end), PHASES))
        phases = np.concatenate([even, np.stack([-self.end % 1, self.end % 1], axis=1)], axis=1)
        low = self.edge(phases)
        mirrored = np.concatenate([low[:, -np.arange(PHASES) % PHASES], low[:, [PHASES + 1, PHASES]]], axis=1)
        return phases, low, low + mirrored

    def run(self) -> Runs:
        """How they run."""
        phases, low, tight = self.phases()
        held = np.isfinite(low)
        known, none = np.where(held, low, np.nan), ~held.any(axis=1)
        least = self._extreme(phases, -known, lambda some: -self.edge(some))
        most = self._extreme(phases, known, self.edge)
        room = self._extreme(phases, tight, self._tight)
        loose = self._extreme(phases, -tight, lambda some: -self._tight(some))
        return Runs(
            backlash=_rounded(np.where(none, 0.0, -room * self.radius)),
            uneven=_rounded(np.where(none, 0.0, (most + least) * self.radius)),
            slips=self.slips(),
            least_pins=np.minimum(np.floor(2 * self.end + 1e-12).astype(np.intp), self.teeth),
            most=_rounded(np.where(none, 0.0, loose * self.radius)),
        )

    def within(self, uneven_mm: float) -> Bools:
        """Whether they run with MARGIN to spare."""
        phases, low, tight = self.phases()
        known = np.where(np.isfinite(low), low, np.nan)
        uneven = self._extreme(phases, known, self.edge)
        uneven += self._extreme(phases, -known, lambda some: -self.edge(some))
        return self._good(uneven, self._extreme(phases, tight, self._tight), uneven_mm)

    def perhaps_within(self, uneven_mm: float) -> Bools:
        """Where this says no they do not."""
        _, low, tight = self.phases()
        held = np.isfinite(low)
        uneven = np.where(held, low, -np.inf).max(axis=1) - np.where(held, low, np.inf).min(axis=1)
        return self._good(uneven, np.where(np.isfinite(tight), tight, -np.inf).max(axis=1), uneven_mm)

    def _good(self, uneven: Floats, tight: Floats, uneven_mm: float) -> Bools:
        spare = MARGIN * self.tooth * self.radius
        strays, play = _rounded(uneven * self.radius), _rounded(-tight * self.radius)
        fine = (strays <= uneven_mm - spare) & (play >= spare)
        return np.asarray(fine & ~self.slips())

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


def _rounded(mm: Floats) -> Floats:
    return np.asarray(np.round(mm, _DIGITS), dtype=np.float64)
