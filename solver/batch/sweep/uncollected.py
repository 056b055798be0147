"""Work whose results are all kept: looking through them for garbage again and again takes a quarter of its time."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def uncollected() -> Iterator[None]:
    """No look for cycles of garbage meanwhile; what no name leads to any more is freed all the same."""
    was = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was:
            gc.enable()
