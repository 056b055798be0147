"""Two gears with teeth of wire, how they run: the tips of each among the flanks of the other.

The wire goes round each tip in an arc, and is straight below it; where two such teeth touch, one of them does so with
its tip. So the tips' jig pins are to the other gear what pins are: discs of half a jig pin and the wire, on their own
circle, while the pitch circles roll. One gear's tips among the other's flanks and tips are looked at as pins are
(`pin_pairs`); the other's tips among its flanks are found where their circle meets the line on which they touch a flank
(plane geometry). Of both, what leaves less play counts.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from solver.forms.gaps import Floats, Ints, SawGaps
from solver.forms.pin_pairs import PinPairs
from solver.forms.rolling import Bools


@dataclass(frozen=True)
class TipGaps:
    """The gaps of some gears as the tips of their mates see them, one pair a row. mates: the mates' gaps as their tips
    see them. wire_mm: the thickness of the tooth wires."""

    own: SawGaps
    mates: SawGaps
    wire_mm: float

    @property
    def teeth(self) -> Floats:
        return self.own.teeth

    @property
    def radius_mm(self) -> Floats:
        return self.own.radius_mm

    @property
    def outermost_mm(self) -> Floats:
        return self.own.outermost_mm

    def half_width(self, rows: Ints, distance_mm: Floats) -> Floats:
        return self.own.half_width(rows, distance_mm)

    def free_mm(self, rows: Ints, apart_mm: Floats) -> Floats:
        """What the tips leave free of each other's roots, or of both flanks beside them on the line of centres, so much
        farther apart than the pitch radii; below 0 they are wedged in a gap."""
        both, half = (self.own, self.mates), self.wire_mm / 2
        centres = (self.own.radius_mm + self.mates.radius_mm)[rows] + apart_mm
        free = np.full(len(rows), np.inf)
        for one, other in (both, both[::-1]):
            tips, roots = one.tip_mm + one.bend_mm + half, other.root_mm - other.bend_mm + half
            far = centres - one.tip_mm[rows]
            beside = other.half_width(rows, far[:, None])[:, 0] * far
            beside = np.where(far < other.outermost_mm[rows], beside, np.inf)
            free = np.minimum(free, np.minimum(centres - (tips + roots)[rows], beside))
        return free


def flank_turn(turn: Floats, centres: Floats, circle: Floats, edge: Floats, normal: Floats) -> tuple[Floats, Floats]:
    """Where a gear's tip touches the flank of a tooth of another gear: its angle [rad] at its own centre, and how far
    along the flank, towards the root, from the foot of the other's centre on the line that the middle of the tip's jig
    pin keeps to. turn: of the tooth past the line of centres; circle: of the jig pins; edge: of that line from the
    other's centre; normal: of the flank, to the middle of its tooth. The angle is nan where the circle does not meet
    the line."""
    lean = turn + normal
    share = (centres * np.cos(lean) - edge) / circle
    at = np.arccos(np.where(share > 1, np.nan, np.maximum(share, -1)))
    return at - lean, circle * np.sin(at) - centres * np.sin(lean)


class TipPairs(PinPairs):
    """Some pairs of toothed gears, one a row; phases and angles are counted in pitches of the mates."""

    def __init__(self, gaps: TipGaps, rows: Ints, mates: Ints, apart_mm: Floats) -> None:
        self._mates, self._own = gaps.mates, gaps.own
        super().__init__(gaps, rows, mates, apart_mm)
        self._normal, self._tip = gaps.mates.normal[rows], gaps.own.tip_mm[rows]
        mate_tip = gaps.mates.tip_mm[rows]
        self._edge = mate_tip * np.cos(self._normal) + (gaps.mates.bend_mm + gaps.mates.reach_mm)[rows]
        self._first = -mate_tip * np.sin(self._normal)  # along the flank, where it begins at the tip
        # Deeper than the straight wire no tip comes: it is wider than the bend at a root.
        self._last = self._first + gaps.mates.edge_mm[rows]
        # A gear's tip is half a pitch beside its gap, and among the mate's teeth as long as it is within their tips.
        far = gaps.mates.outermost_mm[rows]
        cosine = (self.centres**2 + self._tip**2 - far**2) / (2 * self.centres * self._tip)
        self._others = np.arccos(np.clip(cosine, -1, 1)) / self.tooth
        self.reach = np.minimum(np.maximum(self.end, self._others + 1), mates / 2)

    def stands_on(self) -> Floats:
        return np.asarray(self._mates.tip_mm[self.rows])

    def lag(self, at: Floats) -> Floats:
        return np.maximum(super().lag(at), self._by_flanks(at))

    def _by_flanks(self, at: Floats) -> Floats:
        """How far the gear lags at most by its own tips, each at the flank of the mate's tooth `at`."""
        columns = (self.centres, self._tip, self._edge, self._normal)
        turned, along = flank_turn(at * self.pitch[:, None], *(column[:, None] for column in columns))
        beside = (along >= self._first[:, None]) & (along <= self._last[:, None])
        beside &= np.abs(at + 0.5) < self._others[:, None] + 0.5
        return np.where(beside, turned - (at + 0.5) * self.tooth[:, None], -np.inf)

    def slips(self) -> Bools:
        # The tooth that comes in holds the gear too, by its own flank.
        own = self._by_flanks(-self.end[:, None])[:, 0]
        return self._passes(own)
