"""Rule `level`: what stands on a level stays within it, so that it touches nothing on the neighbouring ones."""

from __future__ import annotations

from dataclasses import dataclass

from constraints.link import Choice


@dataclass(frozen=True)
class WithinLevel:
    """kinds: indices of the kinds of link whose gears are no thicker than their levels leave."""

    kinds: frozenset[int]
    name = "level"

    def allows(self, inner: int, outer: int, choice: Choice) -> bool:
        """Whether the gears of this choice stay within their levels."""
        return choice.kind in self.kinds
