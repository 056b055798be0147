"""A model as weights on shafts: what every ring carries, how it rubs, and the moment that turns all of it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from math import asin, ceil, degrees, pi

import numpy as np

from solver.forces.power import Moments, powers
from solver.forces.shafts import MOTOR, RING, Shaft, shaft_index
from solver.mechanics.metals import newtons

START_DEG = 90.0  # where every body stands at the start: straight up
STEPS = 72  # at least so many for a turn of the fastest body
MOST_STEPS = 100_000


@dataclass(frozen=True)
class RingLoad:
    """What hangs on a ring. body: the name of its body, "" for a blank. grams: of ring, body and its rod together.
    moment_nmm: of body and rod about the axis where they stand level with it; the ring itself is balanced. body_grams:
    None where it is not told. body_at_mm: from the axis to the body's centre of mass. friction_nmm: of the ring on its
    rollers."""

    ring: int
    body: str
    grams: float
    body_grams: float | None
    body_at_mm: float
    moment_nmm: float
    friction_nmm: float

    def counterweight_grams(self, at_mm: float) -> float:
        """What balances body and rod, opposite to them at so far from the axis: moment / (g * distance)."""
        return self.moment_nmm / newtons(1.0) / at_mm

    @property
    def centre_mm(self) -> float:
        """How far from the axis the centre of mass of ring, body and rod is: moment / weight."""
        return self.moment_nmm / newtons(self.grams)

    @property
    def flops_from_deg(self) -> float | None:
        """How far past straight up the body pulls its ring along: asin(friction / moment); None where friction holds it
        everywhere."""
        if self.moment_nmm <= self.friction_nmm:
            return None
        return degrees(asin(self.friction_nmm / self.moment_nmm))


@dataclass(frozen=True)
class MomentOverTurn:
    """A moment over a stretch of time: where the root is [turns], and the moment there [N mm]."""

    turns: Moments
    moment_nmm: Moments


@dataclass(frozen=True)
class LoadedModel:
    """The shafts of a train, the root first; loads of its rings, by ring; friction of every shaft [N mm], that of
    rings on their rollers too; efficiency of a mesh. upright: a wall model, in which weights pull a ring about."""

    shafts: tuple[Shaft, ...]
    rings: tuple[RingLoad, ...]
    friction_nmm: tuple[float, ...]
    efficiency: float
    upright: bool

    @property
    def motored(self) -> bool:
        """Whether a motor or a crank turns it; else it is turned at ring 0."""
        return self.shafts[0].kind == MOTOR

    def ring_shaft(self, ring: int) -> Shaft:
        return self.shafts[shaft_index(self.shafts, RING, ring)]

    def at(self, turns: Moments) -> Moments:
        """The moment at the root [N mm] after so many turns of it, all bodies straight up at 0; below 0 where the model
        turns the root."""
        own: list[Moments | float] = list(self.friction_nmm)
        if self.upright:
            for load in self.rings:
                index = shaft_index(self.shafts, RING, load.ring)
                rate = float(self.shafts[index].rate)
                lever = np.cos(np.radians(START_DEG) + 2 * pi * rate * turns)
                own[index] = own[index] + load.moment_nmm * lever * (1 if rate > 0 else -1)
        return powers(self.shafts, own, self.efficiency)[0] + np.zeros_like(turns)

    @cached_property
    def most_nmm(self) -> float:
        """What the root never needs more than [N mm], wherever the bodies stand: as if all stood level with the axis on
        the side where they are lifted. The moment at the root only grows with that of each ring."""
        return self._bound(1)

    @cached_property
    def least_nmm(self) -> float:
        """What the root never needs less than [N mm]; below 0: the bodies may turn the root, which must hold them."""
        return self._bound(-1)

    @cached_property
    def friction_alone_nmm(self) -> float:
        """What the root needs if everything is balanced [N mm]."""
        return self._bound(0)

    def _bound(self, way: int) -> float:
        own = list(self.friction_nmm)
        for load in self.rings if self.upright else ():
            own[shaft_index(self.shafts, RING, load.ring)] += way * load.moment_nmm
        return float(powers(self.shafts, own, self.efficiency)[0])

    def turn_of(self, ring: int) -> MomentOverTurn:
        """The moment at the root over one turn of a ring."""
        whole = 1 / self.ring_shaft(ring).speed
        fastest = max((self.ring_shaft(load.ring).speed for load in self.rings if load.moment_nmm), default=1 / whole)
        steps = min(max(ceil(fastest * whole * STEPS), 4 * STEPS), MOST_STEPS)
        turns = np.linspace(0.0, float(whole), steps + 1)
        return MomentOverTurn(turns, self.at(turns))
