"""Sizes of paper: width and height [mm]. A new one is a line here."""

from __future__ import annotations

# ISO 216 for A3 and A4; letter is ANSI/ASME Y14.1 size A, 8.5 by 11 inches.
PAPERS: dict[str, tuple[float, float]] = {"a4": (210.0, 297.0), "letter": (215.9, 279.4), "a3": (297.0, 420.0)}
