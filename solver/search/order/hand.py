"""The hand method: from the inside outwards, each link's gears as near to the rest of the way as they can be.

What a maker does with a spreadsheet. It proves nothing; it is what a search that is stopped early can show.
"""

from __future__ import annotations

import math
from bisect import bisect
from collections.abc import Sequence
from itertools import islice, pairwise

from solver.design.design import Design, Family, Structure
from solver.design.exact import log_fraction
from solver.design.kinematics import sense_allowed
from solver.design.links import KINDS
from solver.search.options.candidates import Candidate, Candidates, Option
from solver.search.reach.walks import Path

FAMILIES, STRUCTURES = 5, 6  # of so many families so many structures are tried


def by_hand(design: Design, candidates: Candidates, families: Sequence[Family]) -> list[Path]:
    """Trains of some structures: of families spread evenly over all, the structures that come first."""
    found, near = [], _Nearest(candidates)
    for family in families[:: max(1, len(families) // FAMILIES)][:FAMILIES]:
        for structure in islice(family.structures(), STRUCTURES):
            path = _path(design, near, structure)
            if path is not None:
                found.append(path)
    return found


def _path(design: Design, near: _Nearest, structure: Structure) -> Path | None:
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
            best = near.get(level, turn, thirds, wanted, (inner, outer))
            if best is None:
                return None
            options.append(Option(best.kind, best.wheel, best.pinion))
            at += math.log(best.wheel / best.pinion) + math.log(outer / inner)
            reverse, thirds = reverse ^ turn, thirds - KINDS[best.kind].thirds
    return Path(rings, structure.seats, tuple(options))


class _Nearest:
    """The candidates of a link by their ratio."""

    def __init__(self, candidates: Candidates) -> None:
        self._candidates = candidates
        self._known: dict[tuple[object, ...], tuple[list[float], list[Candidate]]] = {}

    def get(self, level: int, turn: bool, thirds: int, wanted: float, rings: tuple[int, int]) -> Candidate | None:
        """Of the link on a level the one nearest to ln(wheel/pinion) = wanted, with one third gear where it is to turn
        the sense and there are so many left, else with none; None: there is none such."""
        key = (self._candidates.key(*rings), turn, self._candidates.design.on_bench.by_link.get(level))
        if key not in self._known:
            fewest = [one for one in self._candidates.of_link(level, *rings) if KINDS[one.kind].thirds == turn]
            fewest.sort(key=lambda one: one.wheel / one.pinion)
            self._known[key] = [math.log(one.wheel / one.pinion) for one in fewest], fewest
        logs, found = self._known[key]
        if not found or turn > thirds:
            return None
        at = bisect(logs, wanted)
        return min(found[max(0, at - 1) : at + 1], key=lambda one: abs(math.log(one.wheel / one.pinion) - wanted))
