"""What holds the parts of a model in its frame, as the table [supports] says it."""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction

from solver.design.canonical import USUAL


@dataclass(frozen=True)
class Supports:
    """Arms from the frame's bars to what stands in each gap between two levels.

    model: "wall", hung so that the main axis is level, or "table", on feet so that it is upright. arm_mm: diameter of
    the wire or rod that arms are made of. bar_mm: diameter or width of the frame's bars. metal: of arms and bars.
    sag_mm: the most that a post, an arm or a ring may bend; None: a quarter of the addendum. begins: "frame", where
    every arm is to, or "arms": one may begin on another of its gap where that takes less wire.
    """

    model: str = "wall"
    arm_mm: Fraction = Fraction(4)
    bar_mm: Fraction = Fraction(6)
    metal: str = "steel"
    sag_mm: Fraction | None = None
    begins: str = field(default="frame", metadata={USUAL: "frame"})

    @property
    def on_arms(self) -> bool:
        """Whether an arm may begin on another."""
        return self.begins == "arms"

    def sag(self, addendum: Fraction) -> Fraction:
        """The most that anything may bend [mm] in a design with this addendum [mm]."""
        return addendum / 4 if self.sag_mm is None else self.sag_mm
