"""Rule `reverted`: wheel and pinion share an arbor, so both centre distances must agree."""

from __future__ import annotations

from dataclasses import dataclass

from constraints.link import Span


@dataclass(frozen=True)
class Reverted:
    """A gear that meets its ring directly puts the arbor at ring + gear teeth from the main axis."""

    name = "reverted"

    def span(self, ring: int, gear: int, third: int) -> Span:
        return ring + gear, ring + gear
