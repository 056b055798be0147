"""Lengths in words: in the design's unit, or in millimetres and inches both."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import ceil

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

    def sawn(self, mm: float, unit: str) -> str:
        """A length to saw to, in tenths of a millimetre already: as it is, or rounded up to a thousandth of an inch."""
        return f"{mm:.1f}" if unit == "mm" else f"{thousandths(mm):.3f}"

    def sawn_text(self, mm: float) -> str:
        """The same with its unit, as `text`."""
        told = [f"{decimal(float(self.sawn(mm, unit)), 3)}\u00a0{unit}" for unit in self.units]
        return told[0] if len(told) == 1 else f"{told[0]}\u00a0({told[1]})"


def thousandths(mm: float) -> float:
    """A length [mm] in inches, rounded up to a thousandth."""
    return ceil(mm / _INCH * 1000 - 1e-6) / 1000
