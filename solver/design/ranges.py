"""How many of everything a design may have, and the names of its rank keys."""

from __future__ import annotations

LEAST_TEETH, MOST_TEETH = 3, 1000
MOST_BODIES, MOST_RINGS = 100, 120
MOST_CHOICES = 1000
MOST_DIRECTIONS, MOST_MOTORS = 360, 50
LEAST_ROLLERS, MOST_ROLLERS = 3, 24
MOST_STOCK = 20
MOST_COUNT = 1_000_000  # of parts, jigs, teeth or millimetres, as a limit

RANK_KEYS = ("error", "parts", "jigs", "teeth", "largest", "envelope", "new_gears")
