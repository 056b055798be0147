"""Caps: the greatest values allowed of rank keys, by the design or by a search (an epsilon constraint on that key)."""

from __future__ import annotations

from solver.design.design import Design
from solver.design.geometry import envelope_limit_teeth
from solver.search.reaches import Reaches

Caps = dict[str, int]  # the greatest value allowed of a rank key, as `Figures.value` counts it


def caps_of(design: Design) -> Caps:
    """The greatest parts, jigs, teeth, largest gear, new gears and envelope [teeth] that the design's limits allow."""
    limits = design.limits
    caps = {key: getattr(limits, f"max_{key}") for key in ("parts", "jigs", "teeth", "largest", "new_gears")}
    if limits.max_envelope is not None:
        caps["envelope"] = envelope_limit_teeth(design.rings.pitch, Reaches(design).most, limits.max_envelope)
    return {key: most for key, most in caps.items() if most is not None}


def third_limit(design: Design, caps: Caps, rings: int) -> int:
    """How many third gears a whole train of so many rings may have, the cap on parts counted in; negative: not even
    none."""
    links = rings - 1
    limit = min(design.arbors.third_gears, 2 * links)
    most = caps.get("parts")
    if most is not None:
        limit = min(limit, (most - rings - 3 * links) // 2)
    return limit
