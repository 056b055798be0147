"""The judge of arms that end on others: how far each bends with what it carries and with what carries it.

An arm that ends on another goes and turns with the place where it does, and pulls and turns it there in return. All is
added up as if joined arms ran on in one line, where forces turn each other most, so that none bends farther, whichever
way they run. Flat on a table joined arms twist as well, as those do that are bent.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from solver.check.sag import HEAVY, arm_bend, arm_grams
from solver.design.design import Design


@dataclass(frozen=True)
class JoinedArm:
    """An arm of a gap. owner, what: of what it holds, as in `arm.Held`; length_mm: from there to where it ends; bent:
    whether it is; on: the number of the arm that it ends on, None: the frame; at_mm: how far that is along the other
    from where the other ends."""

    owner: str
    what: str
    length_mm: float
    bent: bool = False
    on: int | None = None
    at_mm: float = 0.0


def joined_bends(design: Design, arms: Sequence[JoinedArm]) -> list[float]:
    """How far the end of each arm goes down under the heaviest of its kind and what it carries [mm]; all 0 where the
    weights of the design's parts are not known. Raises ValueError for arms that end on each other in a circle."""
    if design.supports is None or not design.as_made:
        return [0.0] * len(arms)
    return _Tree(design, arms).ends()


class _Tree:
    """Deflections are in N mm3 until they are divided by E I; they are added along the arms."""

    def __init__(self, design: Design, arms: Sequence[JoinedArm]) -> None:
        self.arms = arms
        self.own = [HEAVY * arm_grams(design, arm.owner, arm.what) for arm in arms]
        self.carried: list[list[int]] = [[] for _ in arms]
        for number, arm in enumerate(arms):
            if arm.on is not None:
                self.carried[arm.on].append(number)
        roots = [self._root(number) for number in range(len(arms))]
        # E I by the judge's cantilever, which goes down by L3 / 3 under a unit force.
        alone = {bent: HEAVY / 3 / arm_bend(design, 1.0, 1.0, bent) for bent in (False, True)}
        joined = {root for number, root in enumerate(roots) if root != number}
        self.stiff = [alone[arm.bent or root in joined] for arm, root in zip(arms, roots, strict=True)]

    def _root(self, number: int) -> int:
        """The arm that ends on the frame, over which this one does."""
        for _ in self.arms:
            on = self.arms[number].on
            if on is None:
                return number
            number = on
        raise ValueError("arms end on each other in a circle")

    def ends(self) -> list[float]:
        found = []
        for number, arm in enumerate(self.arms):
            gone, turned = self._base(number)
            more, _ = self._bent(number, arm.length_mm)
            found.append((gone + turned * arm.length_mm + more) / self.stiff[number])
        return found

    def _pull(self, number: int) -> tuple[float, float]:
        """The force of an arm with all that it carries where it ends, and its moment there."""
        force, moment = self.own[number], self.own[number] * self.arms[number].length_mm
        for other in self.carried[number]:
            more, turn = self._pull(other)
            force += more
            moment += turn + more * self.arms[other].at_mm
        return force, moment

    def _base(self, number: int) -> tuple[float, float]:
        """How far the place goes down where an arm ends, and how far it turns."""
        arm = self.arms[number]
        if arm.on is None:
            return 0.0, 0.0
        gone, turned = self._base(arm.on)
        more, turn = self._bent(arm.on, arm.at_mm)
        return gone + turned * arm.at_mm + more, turned + turn

    def _bent(self, number: int, here: float) -> tuple[float, float]:
        """How far an arm has gone at a place, and turned, as a cantilever with all its loads (any handbook)."""
        gone = turned = 0.0
        loads = [(self.arms[number].length_mm, self.own[number], 0.0)]
        loads += [(self.arms[other].at_mm, *self._pull(other)) for other in self.carried[number]]
        for at, force, moment in loads:
            low, beyond = min(here, at), max(here - at, 0.0)
            turn = force * low * (2 * at - low) / 2 + moment * low
            gone += force * low**2 * (3 * at - low) / 6 + moment * low**2 / 2 + turn * beyond
            turned += turn
        return gone, turned
