"""Rule `run`: gears that work with each other run as they are made."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from constraints.link import Choice


@dataclass(frozen=True)
class Run:
    """ring: whether a ring and a small gear of so many teeth run; ring_third: whether a ring and a third gear do;
    gears: whether a gear behind a third gear, and that, do. A third gear must run with both beside it; `LinkChoices`
    and `LinkVars` choose it by `third`."""

    ring: Callable[[int, int], bool]
    ring_third: Callable[[int, int], bool]
    gears: Callable[[int, int], bool]
    name = "run"

    def allows(self, inner: int, outer: int, choice: Choice) -> bool:
        """Whether the gears run that meet their ring directly."""
        wheel = choice.wheel_third > 0 or self.ring(inner, choice.wheel)
        return wheel and (choice.pinion_third > 0 or self.ring(outer, choice.pinion))

    def third(self, ring: int, gear: int, third: int) -> bool:
        """Whether a third gear runs between a ring and a gear."""
        return self.ring_third(ring, third) and self.gears(gear, third)
