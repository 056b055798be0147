"""Which of a train's places are shown: of all that fit, those that its maker prefers.

Teeth, third gears, radii, and the drive with its ring and gears are settled; what may still change is the direction of
each arbor, the side of each third gear, where the motor stands, and the rollers. What ties by what is preferred is
told apart as places are where nothing is: by the first place of each link, from the inside out, then of the drive, and
the rollers that then come first.
"""

from __future__ import annotations

from dataclasses import replace

from solver.design.design import Design
from solver.design.train import Placement, Train
from solver.search.place.balance import Balance
from solver.search.place.placing import Fitter, link_shapes
from solver.search.place.shapes import ArborShape, Side
from solver.search.place.spread import spread
from solver.search.place.ways import CircleBits, Ways

MOST_STEPS = 10_000  # for what is preferred of one train; half as many again for what ties
FEWER_STEPS = 1_000  # likewise, after one of a list that is left open: they have most links in common


class Arranger:
    """Arranges placed trains of one design; remembers tables."""

    def __init__(self, design: Design, fitter: Fitter) -> None:
        """fitter: of the same design."""
        self.design, self.fitter = design, fitter
        self.circle = CircleBits(design)
        self.balance = Balance(design, fitter.measures) if design.fit.arrange == "balanced" else None

    def arranged(self, train: Train, steps: int | None = None) -> tuple[Train, bool]:
        """The train at the places that are preferred, and whether it is proven that no others are better; else it is at
        the best ones found with so many steps. Raises what the fitter's stop rule raises.

        steps: MOST_STEPS where it is None. Of places that are as good as these, it is at the first ones as far as half
        as many steps tell."""
        steps, placement = MOST_STEPS if steps is None else steps, train.placement
        assert placement is not None
        shapes, drive = link_shapes(train, tuple(at.radius for at in placement.links)), placement.drive
        stood = list(placement.links)
        if drive is not None:
            side = Side(drive.ring, train.rings[drive.ring], drive.pinion, drive.thirds[0] if drive.thirds else None)
            shapes.append(ArborShape((side,), drive.at.radius))
            stood.append(drive.at)
        stack = self.fitter.stack(train)
        known = self.fitter.tabled(stack, shapes)
        assert known is not None, "a train that has a place"
        ways = Ways(self.fitter, self.circle, stack, known, steps)
        way = tuple(
            next(index for index in range(len(domain)) if domain.at(index) == at)
            for domain, at in zip(ways.domains, stood, strict=True)
        )
        ways.held[way] = placement.rollers
        way, asked, proven = spread(ways, way) if self.balance is None else self.balance.best(ways, way)
        if proven:
            ways.steps = steps // 2
            way = ways.first(asked, way)
        rollers = ways.rollers(way)
        assert rollers is not None
        at = [domain.at(index) for domain, index in zip(ways.domains, way, strict=True)]
        links = tuple(at[: len(train.links)])
        moved = None if drive is None else replace(drive, at=at[-1])
        return replace(train, placement=Placement(links, rollers, moved)), proven
