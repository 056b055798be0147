"""A line of the parts list."""

from __future__ import annotations

from dataclasses import dataclass

COLUMNS = ("group", "part", "size", "count", "each_g", "total_g", "numbers", "used_for")


@dataclass(frozen=True)
class BillRow:
    """A line of the parts list. each_g: weight [g], None where it is not known; used_for: where it goes; numbers: those
    of the parts, as steps and pictures have them."""

    group: str
    part: str
    size: str
    count: int
    each_g: float | None = None
    used_for: str = ""
    numbers: str = ""

    @property
    def total_g(self) -> float | None:
        return None if self.each_g is None else self.count * self.each_g

    def cells(self) -> tuple[str, ...]:
        """The row as text, in the order of COLUMNS; weights to a tenth of a gram."""
        weights = ("" if grams is None else f"{grams:.1f}" for grams in (self.each_g, self.total_g))
        return (self.group, self.part, self.size, str(self.count), *weights, self.numbers, self.used_for)
