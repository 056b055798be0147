"""Lengths in words: in the design's unit, or in millimetres and inches both."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from solver.words.numbers import decimal

MM_PER_INCH = Fraction(254, 10)
_INCH = float(MM_PER_INCH)


@dataclass(frozen=True)
class Lengths:
    """How lengths are told: unit "mm" or "in", and whether the other one follows in brackets."""

    unit: str
    both: bool = False

    @property
    def units(self) -> tuple[str, ...]:
        """The units in which columns of tables are given."""
        return (self.unit, *(["in" if self.unit == "mm" else "mm"] if self.both else []))

    def bare(self, mm: float, unit: str, decimals: int = 2) -> str:
        """A length [mm] in a unit, without its name: so many decimals in mm, one more in inches, zeros kept."""
        text = f"{mm:.{decimals}f}" if unit == "mm" else f"{mm / _INCH:.{decimals + 1}f}"
        return text[1:] if text.startswith("-") and not text.strip("-0.") else text

    def text(self, mm: float, decimals: int = 2) -> str:
        """ "357.15 mm" or "357.15 mm (14.061 in)", trailing zeros left out; lines do not break within it."""
        told = [f"{decimal(float(self.bare(mm, unit, decimals)), decimals + 1)}\u00a0{unit}" for unit in self.units]
        return told[0] if len(told) == 1 else f"{told[0]}\u00a0({told[1]})"
