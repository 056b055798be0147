"""The search of a design with places against enumeration, where orders of the same links are one solution."""

from __future__ import annotations

from contextlib import AbstractContextManager, nullcontext

from brute_classes import gears, placed_classes
from brute_places import TooMany, TooNear
from enumerated import plain, teeth

from solver.design.design import Design
from solver.search.order.search import search


def compare_places(design: Design | None, told: str, knowing: AbstractContextManager[object] | None = None):
    """Compare the search of a design with enumeration. told: its text, for the message; knowing: in which enumeration
    knows of more rules. Whether it has a solution, and one of more than one order; None: floats cannot tell."""
    if design is None:
        return None
    try:
        with knowing or nullcontext():
            best, counts = placed_classes(design)
    except (TooMany, TooNear):
        return None
    result = search(design)
    assert result.complete, told
    wanted = [plain((key, teeth(train), radii)) for key, train, radii, _, _ in best]
    found = [
        plain((one.key, teeth(one.train), tuple(at.radius for at in one.train.placement.links))) for one in result.found
    ]
    assert found == wanted, told
    for one in result.found:
        if result.orders and result.orders[one.train].settled:
            assert result.orders[one.train].orders == counts[gears(one.train)], told
    return bool(best), any(count > 1 for count in counts.values())
