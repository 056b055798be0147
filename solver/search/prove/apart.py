"""One question put as several: families of rings with the same steps, whose links have the same choices, are asked
about together, and the others in models of their own.

Where gears are counted over all links, much of CP-SAT's work is to find out which choices go with which rings. A model
of one step has that behind it.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from solver.design.design import Design, Family

MOST_PARTS = 12  # models that one question is put as


def families_apart(design: Design) -> list[Sequence[Family]]:
    """The families of a design, those together that have the same steps; all of them, where that would be too many
    parts."""
    parts: dict[object, list[Family]] = {}
    for family in design.families():
        steps = [{b - a for a in inner for b in outer} for inner, outer in pairwise(family.rings)]
        parts.setdefault(tuple(map(frozenset, steps)), []).append(family)
    return list(parts.values()) if len(parts) <= MOST_PARTS else [design.families()]
