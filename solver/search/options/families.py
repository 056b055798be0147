"""Which families of structures are left: those numbers of rings that the frame, stands and rollers leave room for."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

from solver.design.design import Design, Family
from solver.search.options.candidates import Candidates
from solver.search.options.caps import Caps, third_limit
from solver.search.place.drive import least_reach


class Families:
    """The families of a design that its candidates leave, found once for each limit on the third gears."""

    def __init__(self, design: Design, candidates: Candidates) -> None:
        self.design, self.candidates = design, candidates
        self._left: dict[tuple[int, ...], tuple[Family, ...]] = {}

    def under(self, caps: Caps) -> tuple[Family, ...]:
        """The design's families without the numbers of rings that surely have no places."""
        every = self.design.families()
        if self.candidates.fitter is None:
            return every
        limits = tuple(third_limit(self.design, caps, count) for count in (every[0].counts if every else ()))
        if limits not in self._left:  # of the caps that searches set, only that on parts matters here
            found = []
            for family in every:
                counts = tuple(
                    count
                    for count in family.counts
                    if self._possible(family.rings[:count], third_limit(self.design, caps, count))
                )
                if counts:
                    found.append(replace(family, rings=family.rings[: counts[-1]], counts=counts))
            self._left[limits] = tuple(found)
        return self._left[limits]

    def _possible(self, choices: tuple[tuple[int, ...], ...], thirds: int) -> bool:
        """False where so many rings, the smallest gears between them, or a drive within the cap on the envelope surely
        have no places. choices: the teeth that each ring may have; thirds: how many third gears there may be."""
        candidates, drive = self.candidates, self.design.drive
        fitter, most = candidates.fitter, candidates.most_envelope
        assert fitter is not None
        if not fitter.rings_sound(choices):
            return False
        if most is not None and drive is not None and least_reach(drive, [choice[0] for choice in choices]) > most:
            return False
        if any(len(choice) > 1 for choice in choices):
            return True
        rings = tuple(choice[0] for choice in choices)
        plain = [candidates.smallest_plain(inner, outer) for inner, outer in pairwise(rings)]
        if rings[-1] <= candidates.roomy and fitter.two_directions_do(rings, plain):
            return True
        return fitter.chain_possible(rings, plain, max(0, thirds))
