"""The scales that drawings are made at."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import count

SCALES = (1.0, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 7.5, 8.0, 10.0)


def usual_scales() -> Iterator[float]:
    """The scales, 1 : so much, at which drawings are made, without end."""
    for tens in count():
        yield from (step * 10.0**tens for step in SCALES)
