"""Rule `sense`: every body turns the way it should. Each third gear turns all rings beyond it about."""

from __future__ import annotations

from dataclasses import dataclass

from constraints.train import TrainVars


@dataclass(frozen=True)
class SenseOfRings:
    """Ring 0 turns "same"; a link with an odd number of meshes reverses the ring beyond it."""

    name = "sense"

    def post(self, train: TrainVars) -> None:
        model = train.model
        model.add(train.reverse[0] == 0)
        for i, link in enumerate(train.links):
            for kind in link.kinds:
                turned = ~train.reverse[i] if kind.thirds % 2 else train.reverse[i]
                model.add(train.reverse[i + 1] == turned).only_enforce_if(kind.chosen)


@dataclass(frozen=True)
class SenseOfBody:
    """The ring that carries a body turns against ring 0, or with it."""

    ring: int
    reverse: bool
    name = "sense"

    def post(self, train: TrainVars) -> None:
        train.model.add(train.reverse[self.ring] == int(self.reverse))
