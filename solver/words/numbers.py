"""Numbers in words."""

from __future__ import annotations


def decimal(value: float, decimals: int) -> str:
    """A number without trailing zeros."""
    text = f"{value:.{decimals}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text
