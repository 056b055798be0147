"""Numbers in words."""

from __future__ import annotations

from decimal import ROUND_FLOOR, Context, Decimal


def decimal(value: float, decimals: int) -> str:
    """A number without trailing zeros."""
    text = f"{value:.{decimals}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text


def percent_at_least(bound: float) -> str:
    """A lower bound in percent, cut off so that the text says no more than the number."""
    exact = Decimal(bound)
    if bound == 0 or bound >= 0.001:
        return str(exact.quantize(Decimal("0.0001"), ROUND_FLOOR))
    return f"{Context(prec=3, rounding=ROUND_FLOOR).plus(exact):.2e}"
