"""Sections of rods and strips: area, and stiffness against bending and twisting."""

from __future__ import annotations

from dataclasses import dataclass
from math import pi

from solver.mechanics.metals import Metal


@dataclass(frozen=True)
class Section:
    """area [mm2]; second moment of area about the axis that it bends about [mm4]; torsion constant [mm4]."""

    area: float
    moment: float
    torsion: float

    def twist(self, metal: Metal) -> float:
        """Stiffness against twisting over that against bending: GJ / EI, with G = E / (2 (1 + Poisson's ratio))."""
        return self.torsion / self.moment / (2 * (1 + metal.poisson))


def round_rod(diameter: float) -> Section:
    """A round rod: pi d2 / 4, pi d4 / 64, pi d4 / 32 (any handbook)."""
    return Section(pi * diameter**2 / 4, pi * diameter**4 / 64, pi * diameter**4 / 32)


def strip(deep: float, thick: float) -> Section:
    """A rectangle that bends in the direction of `deep`: b h3 / 12; torsion of a long side a and a short one b by
    a b3 (1/3 - .21 b/a (1 - b4 / 12 a4)) (Roark's Formulas, from memory)."""
    long, short = max(deep, thick), min(deep, thick)
    share = short / long
    twisted = long * short**3 * (1 / 3 - 0.21 * share * (1 - share**4 / 12))
    return Section(deep * thick, thick * deep**3 / 12, twisted)
