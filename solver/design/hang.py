"""How a maker hangs the model for the sky: where longitude 0 stands, and from which side the system is seen."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Literal


@dataclass(frozen=True)
class Hang:
    """zero_deg: where longitude 0 stands on the front [degrees counterclockwise from the right]; 90 is straight up.
    seen_from: the side of the system that the viewer looks from, which says which way bodies run."""

    zero_deg: Fraction = Fraction(90)
    seen_from: Literal["north", "south"] = "north"


@dataclass(frozen=True)
class Start:
    """Where a body of the file's own stood: its mean longitude [degrees] at `epoch`, a date as written."""

    body: str
    longitude: Fraction
    epoch: str
