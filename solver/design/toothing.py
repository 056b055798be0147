"""Whether third gears have pins or short teeth, where a design leaves it to the better of the two."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Literal, TypeVar

from solver.design.design import Design

Toothing = Literal["pins", "teeth"]
TOOTHINGS: tuple[Toothing, ...] = ("pins", "teeth")  # the first where both run alike
BETTER: Literal["better"] = "better"  # what `wire.third` says where both may be taken
T = TypeVar("T")


def is_open(design: Design) -> bool:
    """Whether each train may have either toothing."""
    return design.wire.third == BETTER


def with_toothing(design: Design, toothing: Toothing) -> Design:
    """The design in which third gears are made so."""
    return replace(design, wire=replace(design.wire, third=toothing))


def toothings(design: Design) -> tuple[Design, ...]:
    """The design with each toothing that its trains may have: one or two, whose third gears are settled."""
    return tuple(with_toothing(design, one) for one in TOOTHINGS) if is_open(design) else (design,)


def settled(design: Design, some: Sequence[str]) -> Design:
    """The design as it is searched. some: the toothings that its tooth form knows. Where the toothing is open and there
    is nothing to choose, third gears have pins."""
    if not is_open(design):
        return design
    choice = design.as_made and design.third_counts and set(TOOTHINGS) <= set(some)
    return design if choice else with_toothing(design, "pins")
