"""The hand method: from the inside outwards, each link's gears as near to the rest of the way as they can be.

What a maker does with a spreadsheet. It proves nothing; it is what a search that is stopped early can show.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import islice, pairwise

from solver.design.design import Design, Family, Structure
from solver.design.exact import log_fraction
from solver.design.kinematics import sense_allowed
from solver.design.links import KINDS
from solver.search.options.candidates import Candidates, Option
from solver.search.reach.walks import Path

FAMILIES, STRUCTURES = 5, 6  # of so many families so many structures are tried


def by_hand(design: Design, candidates: Candidates, families: Sequence[Family]) -> list[Path]:
    """Trains of some structures: of families spread evenly over all, the structures that come first."""
    found = []
    for family in families[:: max(1, len(families) // FAMILIES)][:FAMILIES]:
        for structure in islice(family.structures(), STRUCTURES):
            path = _path(design, candidates, structure)
            if path is not None:
                found.append(path)
    return found


def _path(design: Design, candidates: Candidates, structure: Structure) -> Path | None:
    """The train of a structure, each ring with the first of its tooth counts; None where some link has no gears."""
    rings = tuple(choice[0] for choice in structure.rings)
    targets = [log_fraction(body.low * body.high) / 2 for body in design.bodies]
    options: list[Option] = []
    at, reverse, thirds = targets[0], False, design.arbors.third_gears
    for body, (start, end) in enumerate(pairwise(structure.seats), start=1):
        for level in range(start, end):
            inner, outer = rings[level], rings[level + 1]
            wanted = (targets[body] - at) / (end - level) - math.log(outer / inner)
            turn = level == end - 1 and not sense_allowed(design.bodies[body], reverse)
            among = [
                one
                for one in candidates.between(inner, outer)
                if KINDS[one.kind].reverses == turn and KINDS[one.kind].thirds <= thirds
            ]
            if not among:
                return None
            best = min(among, key=lambda one: (KINDS[one.kind].thirds, abs(math.log(one.wheel / one.pinion) - wanted)))
            options.append(Option(best.kind, best.wheel, best.pinion))
            at += math.log(best.wheel / best.pinion) + math.log(outer / inner)
            reverse, thirds = reverse ^ turn, thirds - KINDS[best.kind].thirds
    return Path(rings, structure.seats, tuple(options))
