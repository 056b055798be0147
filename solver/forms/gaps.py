"""The gaps of toothed gears as pins see them: how far from the middle of a gap the middle of a pin may stand.

A pin of diameter d among teeth of wire of diameter w stands with its middle at least s = (d + w) / 2 from the wire's
centre line. At each distance from the gear's centre that leaves an arc about the middle of the gap: `half_width` is
half of it. A row is a toothed gear; arrays of distances have one row for each. Plane geometry.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from solver.forms.lantern import Flank

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]


class Gaps(Protocol):
    """The gaps of some toothed gears. teeth, radius_mm (of the pitch circle) and outermost_mm (the distance from which
    outwards nothing holds a pin): one of each gear."""

    @property
    def teeth(self) -> Floats: ...

    @property
    def radius_mm(self) -> Floats: ...

    @property
    def outermost_mm(self) -> Floats: ...

    def half_width(self, rows: Ints, distance_mm: Floats) -> Floats:
        """Half a gap's free arc [rad] for a pin's middle at distances of shape (rows, any), less than `outermost_mm`;
        below 0 where not even the middle of the gap is free."""
        ...


@dataclass(frozen=True)
class SawGaps:
    """Gaps between saw teeth, exactly: an arc about the tip's jig pin, a straight edge, an arc about the root's.

    tip_mm, root_mm: distances of the jig pins from the centre. normal: angle [rad] of the edge's normal to the middle
    of the tooth. bend_mm: radius of the wire's centre line about a jig pin. reach_mm: s.
    """

    teeth: Floats
    radius_mm: Floats
    tip_mm: Floats
    root_mm: Floats
    normal: Floats
    bend_mm: Floats
    reach_mm: Floats

    @property
    def outermost_mm(self) -> Floats:
        return self.tip_mm + self.bend_mm + self.reach_mm

    @property
    def edge_mm(self) -> Floats:
        """Length of the straight wire between two bends."""
        apart = self.root_mm**2 + self.tip_mm**2 - 2 * self.root_mm * self.tip_mm * np.cos(np.pi / self.teeth)
        return np.asarray(np.sqrt(apart - 4 * self.bend_mm**2))

    def half_width(self, rows: Ints, distance_mm: Floats) -> Floats:
        step = (np.pi / self.teeth)[rows, None]
        tip, root, normal = self.tip_mm[rows, None], self.root_mm[rows, None], self.normal[rows, None]
        bend, reach = self.bend_mm[rows, None], self.reach_mm[rows, None]
        far = distance_mm
        out, deep = bend + reach, bend - reach
        edge = tip * np.cos(normal) + out  # distance of the edge, as far out as a pin's middle, from the centre
        from_tip = np.hypot(tip + out * np.cos(normal), out * np.sin(normal))
        aside = root * np.cos(normal - step) - deep, root * np.sin(normal - step)
        from_root = np.where(deep > 0, np.hypot(*aside), 0.0)
        straight = step - normal + np.arccos(np.clip(edge / far, -1, 1))
        straight = np.where(far < edge, step - normal - (edge - far) / far, straight)
        round_tip = step - _seen(far, tip, out)
        at_root = (far**2 + root**2 - deep**2) / (2 * far * root)
        round_root = np.arccos(np.clip(at_root, -1, 1))
        round_root = np.where(far < root - deep, (far - root + deep) / far, round_root)
        return np.asarray(np.where(far >= from_tip, round_tip, np.where(far < from_root, round_root, straight)))


class CurvedGaps:
    """Gaps between curved teeth, exactly: an arc about the root's jig pin, a leg, the corner where the flank begins,
    the flank, and an arc about the tip's jig pin. Beside the flank a pin stands on its own epicycloid."""

    def __init__(self, teeth: tuple[int, ...], flanks: tuple[Flank, ...]) -> None:
        def column(values: Iterable[float]) -> Floats:
            return np.array(list(values), dtype=float)

        corners = [flank.wire_at(flank.start) for flank in flanks]
        self.teeth = column(teeth)
        self.radius_mm = column(flank.radius for flank in flanks)
        self._circle = column(flank.circle for flank in flanks)
        self._lean = column(flank.lean for flank in flanks)
        self._reach = column(flank.reach for flank in flanks)
        self._root = column(flank.root for flank in flanks)
        self._aside = column(flank.root_bend - flank.reach for flank in flanks)
        self._corner = column(np.hypot(x, y) for x, y in corners)
        self._corner_at = column(np.arctan2(y, x) for x, y in corners)
        self._leg = column(
            np.hypot(corner[0], flank.root_bend - flank.reach) for corner, flank in zip(corners, flanks, strict=True)
        )
        self._flank = column(flank.pin_at(flank.start)[0] for flank in flanks)
        self._end = column(flank.pin_at(flank.end)[0] for flank in flanks)
        self._tip = column(flank.tip[0] for flank in flanks)
        self._tip_at = column(flank.tip[1] for flank in flanks)
        self._out = column(flank.tip_bend + flank.reach for flank in flanks)

    @property
    def outermost_mm(self) -> Floats:
        return self._tip + self._out

    def half_width(self, rows: Ints, distance_mm: Floats) -> Floats:
        def of(column: Floats) -> Floats:
            return column[rows, None]

        far, root, aside, radius, rolls = (
            distance_mm,
            of(self._root),
            of(self._aside),
            of(self.radius_mm),
            of(self._circle),
        )
        at_root = np.arccos(np.clip((far**2 + root**2 - aside**2) / (2 * far * root), -1, 1))
        at_root = np.where(far < root - aside, (far - root + aside) / far, at_root)
        leg = np.arcsin(np.clip(aside / far, -1, 1))
        corner = of(self._corner_at) - _seen(far, of(self._corner), of(self._reach))
        centres = radius + rolls
        turn = np.arccos(np.clip((centres**2 + rolls**2 - far**2) / (2 * centres * rolls), -1, 1))
        flank = (
            turn * rolls / radius - np.arctan2(rolls * np.sin(turn), centres - rolls * np.cos(turn)) + of(self._lean)
        )
        tip = of(self._tip_at) - _seen(far, of(self._tip), of(self._out))
        places = [far < np.hypot(root, aside), far < of(self._leg), far < of(self._flank), far < of(self._end)]
        return np.asarray(np.select(places, [at_root, leg, corner, flank], tip))


def _seen(far: Floats, centre: Floats, radius: Floats) -> Floats:
    """Half the angle under which a circle's part beyond `far` is seen from the middle; its centre and radius [mm]."""
    return np.asarray(np.arccos(np.clip((far**2 + centre**2 - radius**2) / (2 * far * centre), -1, 1)))
