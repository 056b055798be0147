"""Whether the rule `sag` is in force, and how far parts then bend."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

from solver.design.design import Design

if TYPE_CHECKING:
    from solver.search.sagging import Sagging


def sagging_of(design: Design) -> Sagging | None:
    """How far parts bend, where the rule `sag` is in force: with a table [supports], and places; else None."""
    ruled = design.supports is not None and design.as_made and design.fit.directions is not None
    return _sagging(design) if ruled else None


@lru_cache(maxsize=64)
def _sagging(design: Design) -> Sagging:
    from solver.search.sagging import Sagging  # with the forms, which most designs do not need

    return Sagging(design)
