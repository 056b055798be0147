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

import numpy as np

from solver.forms.gaps import Floats, Gaps, Ints
from solver.forms.rolling import Bools, Rolling


class PinPairs(Rolling):
    """Some pairs, one a row; phases and angles are counted in pitches of the pins."""

    def __init__(self, gaps: Gaps, rows: Ints, pins: Ints, apart_mm: Floats) -> None:
        self.gaps, self.rows, self.teeth = gaps, rows, pins
        self.radius = gaps.radius_mm[rows]
        self.tooth = 2 * np.pi / gaps.teeth[rows]  # rad
        self.pitch = 2 * np.pi / pins  # rad
        self.centres = self.radius + self.radius * pins / gaps.teeth[rows] + apart_mm
        self.circle = self.stands_on()
        far = gaps.outermost_mm[rows]
        cosine = (self.centres**2 + self.circle**2 - far**2) / (2 * self.centres * self.circle)
        self.end = np.arccos(np.clip(cosine, -1, 1)) / self.pitch  # pitches from the line of centres to the tips
        self.reach = self.end

    def stands_on(self) -> Floats:
        """The radius of the circle on which the pins stand [mm]."""
        return self.radius * self.teeth / self.gaps.teeth[self.rows]

    def among(self) -> Ints:
        return np.asarray(np.floor(2 * self.reach).astype(np.intp) + 1)

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

    def lag(self, at: Floats) -> Floats:
        """How far [rad] the toothed gear lags at most by pins `at` so many pitches past the line of centres; -inf where
        they are not among the teeth."""
        off, half, inside = self._places(at)
        return np.where(inside, off - half, -np.inf)

    def edge(self, phases: Floats) -> Floats:
        """How far [rad] the toothed gear lags at most at phases of shape (pairs, n), in pitches: the edge below, of all
        pins; -inf where there is none. The edge above is this at -phase, with the other sign."""
        first = phases + np.ceil(-self.reach[:, None] - phases)
        lag = np.full(phases.shape, -np.inf)
        for pin in range(int(self.among().max(initial=0))):
            lag = np.maximum(lag, self.lag(first + pin))
        return lag

    def slips(self) -> Bools:
        """Where a tip can come past a pin: as one comes in, no other is among the teeth, or those leave it so much play
        that it may come into the gap beside its own."""
        return self._passes(np.full(len(self.end), -np.inf))

    def _passes(self, low: Floats) -> Bools:
        """Where a tip can come past a pin, held below by `low` besides the other pins."""
        others = -self.end[:, None] + np.arange(1, int(self.among().max(initial=0)) + 1)[None, :]
        low = np.maximum(low, self.lag(others).max(axis=1))
        high = -self.lag(-others).max(axis=1)
        mine = self._places(-self.end[:, None])[0][:, 0]
        mouth = self.gaps.half_width(self.rows, self.gaps.outermost_mm[self.rows, None])[:, 0]
        return np.asarray((low < mine - mouth) | (high > mine + mouth))
