"""Rule `sense`: every body turns the way it should. Each third gear turns all rings beyond it about."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from constraints.train import TrainVars


@dataclass(frozen=True)
class Senses:
    """Ring 0 turns "same"; a link with an odd number of third gears reverses the ring beyond it. bodies: for each
    whether it must be reversed, None where either will do."""

    bodies: Sequence[bool | None]
    name = "sense"

    def post(self, train: TrainVars) -> None:
        model = train.model
        turned = model.new_constant(0)
        for ring, link in enumerate((None, *train.links)):
            if link is not None and max(link.values("turn", lambda choice: choice.thirds % 2)):
                beyond = model.new_bool_var(f"reverse {ring}")
                model.add_bool_xor([turned, link.column("turn"), beyond, True])
                turned = beyond
            train.turned.append(turned)
            for reversed_, seats in zip(self.bodies, train.seats, strict=True):
                if ring in seats and reversed_ is not None:
                    model.add_implication(seats[ring], turned if reversed_ else ~turned)
