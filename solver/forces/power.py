"""The moment at the root of a train: every shaft's own moment, brought there with what the meshes lose on the way.

A moment that a shaft needs to keep turning, times its speed, is the work that it takes for a radian of the root
(virtual work). A mesh passes on the share `efficiency` of what goes in: a shaft that takes p has the mesh before it
take p / efficiency; one that gives (p < 0, a body that falls) gives p * efficiency. At the root work and moment are
one.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from solver.forces.shafts import Shaft

Moments = NDArray[np.floating[Any]]


def powers(shafts: Sequence[Shaft], own_nmm: Sequence[Moments | float], efficiency: float) -> tuple[Moments, ...]:
    """What passes into each shaft from the side of the root [N mm for a radian of the root], with all that it turns; of
    the root itself the moment that turns the model.

    own_nmm: what each shaft itself needs in the direction that it turns, below 0 where its weight drives it; numbers or
    arrays of one shape, a value for each moment of time.
    """
    found = [np.asarray(own, dtype=float) * float(shaft.speed) for own, shaft in zip(own_nmm, shafts, strict=True)]
    for index in range(len(shafts) - 1, 0, -1):
        parent = shafts[index].parent
        found[parent] = found[parent] + passed(found[index], efficiency)
    return tuple(found)


def passed(power: Moments, efficiency: float) -> Moments:
    """What a mesh takes from the side of the root for so much power behind it."""
    return np.where(power >= 0, power / efficiency, power * efficiency)


def lost(shafts: Sequence[Shaft], through: Sequence[Moments], efficiency: float) -> Moments:
    """What all meshes lose [N mm for a radian of the root], of what `powers` found."""
    found: Moments = np.zeros_like(np.asarray(through[0], dtype=float))
    for power in through[1:]:
        found = found + passed(power, efficiency) - power
    return found
