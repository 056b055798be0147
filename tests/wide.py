"""How many random designs a deep test draws: as many as were compared once, where the environment asks for it."""

from __future__ import annotations

import os


def as_many(usual: int, wide: int) -> int:
    """`wide` where RINGWRIGHT_WIDE is set, else `usual`."""
    return wide if os.environ.get("RINGWRIGHT_WIDE") else usual
