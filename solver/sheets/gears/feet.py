"""The feet of the rods that bodies stand on: how they are filed flat within their ring's own level [mm].

A rod stands in the middle of the rim, and where it passes other levels everything keeps clear of it (rule `stand`). On
its own level the gears that work with its ring dip into the pitch circle, pins by half their thickness, and the flanges
of its rollers reach up the inner edge: a whole rod would meet both. So its foot is filed flat on both sides, as long as
half the level, to what is free between them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from solver.forms.form import Remark, Sizes

FREE = 0.2  # mm that a foot keeps from what passes it (common practice, no source)
LEAST, SHARE = 1.0, 1 / 3  # mm, or a share of the rod: the thinnest foot that holds (common practice, no source)


@dataclass(frozen=True)
class StandFoot:
    """How much is filed off a rod's foot on the side of the teeth and on the side of the main axis, how thick it is
    then, and how long the flats are [mm]."""

    outside_mm: float
    inside_mm: float
    thick_mm: float
    long_mm: float


def foot_of(sizes: Sizes, dips_mm: Sequence[float], flange_mm: float) -> StandFoot:
    """The foot of a rod. dips_mm: how far those gears that work with its ring and are thicker reach into its
    pitch circle; flange_mm: how
    far flanges of rollers reach up from the ring's inner edge, 0 without rollers."""
    middle, rod = -sizes.rim_mm / 2, sizes.post_mm / 2  # from the pitch circle, outwards
    outer, inner = -max(dips_mm, default=0.0) - FREE, -sizes.rim_mm + flange_mm + FREE
    outside = max(middle + rod - outer, 0.0)
    inside = max(inner - (middle - rod), 0.0) if flange_mm else 0.0
    return StandFoot(outside, inside, sizes.post_mm - outside - inside, sizes.level_spacing_mm / 2)


def foot_remark(sizes: Sizes, ring: str, foot: StandFoot) -> Remark | None:
    """What is said of a foot that is too thin to hold; None of one that holds."""
    least = min(LEAST, SHARE * sizes.post_mm)
    if foot.thick_mm >= least - 1e-9:
        return None
    more = sizes.rim_mm + least - foot.thick_mm
    left = f"{sizes.told(foot.thick_mm)} thick" if foot.thick_mm > 0 else "no foot at all"
    told = f"between the gears that work with it and its rollers a rod has {left}"
    return Remark(f"stand on {ring}", f"{told}; take a rings.rim of {sizes.at_least(more)}, or flatter flanges", False)
