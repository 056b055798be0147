"""Rule `reverted`: wheel and pinion share an arbor, so both centre distances must agree."""

from __future__ import annotations

from dataclasses import dataclass

from constraints.train import TrainVars


@dataclass(frozen=True)
class Reverted:
    """A gear that meets its ring directly puts the arbor at ring + gear teeth from the main axis."""

    name = "reverted"

    def post(self, train: TrainVars) -> None:
        for i, link in enumerate(train.links):
            for kind in link.kinds:
                for thirds, ring, gear in (
                    (kind.wheel_thirds, train.rings[i], link.wheel),
                    (kind.pinion_thirds, train.rings[i + 1], link.pinion),
                ):
                    if thirds == 0:
                        direct = train.model.add(link.arbor == ring.value + gear.value)
                        direct.only_enforce_if(kind.chosen)
