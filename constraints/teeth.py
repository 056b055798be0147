"""Rule `teeth`: tooth counts within their bounds and, where a stock list is given, on it."""

from __future__ import annotations

from dataclasses import dataclass

from constraints.link import Choice


@dataclass(frozen=True)
class Teeth:
    """Every wheel, pinion and third gear has one of the tooth counts that are allowed for it."""

    wheel: frozenset[int]
    pinion: frozenset[int]
    third: frozenset[int]
    name = "teeth"

    def allows(self, inner: int, outer: int, choice: Choice) -> bool:
        thirds = {choice.wheel_third, choice.pinion_third} - {0}
        return choice.wheel in self.wheel and choice.pinion in self.pinion and thirds <= self.third
