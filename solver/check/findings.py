"""What an audit says: broken rules, stated numbers beside what the teeth give, and what was taken for granted."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from math import floor

from solver.design.train_data import Stated


@dataclass(frozen=True)
class Finding:
    """A broken rule: where, what, and by how much, where that is a distance [mm] or an angle [degrees]. hint: what
    would mend it or what is allowed, "" for none."""

    rule: str
    where: str
    text: str
    short_mm: float | None = None
    short_deg: float | None = None
    hint: str = ""


@dataclass(frozen=True)
class Claim:
    """A number that the maker states, beside what the teeth give.

    verdict: "right" (rounded to the digits stated, or the exact fraction), "truncated" (the right digits, cut off and
    not rounded), "inverse" (right the other way round) or "wrong". due: what should be stated, to as many decimals.
    """

    where: str
    stated: str
    value: Fraction
    verdict: str
    due: str


@dataclass(frozen=True)
class Audit:
    """findings: what is broken, in a maker's words; claims: every stated number; notes: what was taken for granted and
    what was not judged."""

    findings: tuple[Finding, ...]
    claims: tuple[Claim, ...]
    notes: tuple[str, ...]

    @property
    def wrong_claims(self) -> tuple[Claim, ...]:
        """The stated numbers that the teeth do not give."""
        return tuple(claim for claim in self.claims if claim.verdict != "right")

    @property
    def sound(self) -> bool:
        """Whether no rule is broken and every stated number is right."""
        return not self.findings and not self.wrong_claims


def compare(where: str, stated: Stated, value: Fraction) -> Claim:
    """Whether a stated number is what the teeth give, rounded to as many decimals (a tie may go either way). A fraction
    must be exact."""
    if stated.decimals is None:
        verdict = "right" if stated.value == value else "inverse" if stated.value * value == 1 else "wrong"
        return Claim(where, stated.text, value, verdict, str(value))
    unit = Fraction(10) ** -stated.decimals
    if abs(value - stated.value) <= unit / 2:
        verdict = "right"
    elif 0 <= value - stated.value < unit:
        verdict = "truncated"
    elif abs(1 / value - stated.value) <= unit / 2:
        verdict = "inverse"
    else:
        verdict = "wrong"
    rounded = floor(value / unit + Fraction(1, 2)) * unit
    return Claim(where, stated.text, value, verdict, _decimal(rounded, stated.decimals))


def _decimal(value: Fraction, decimals: int) -> str:
    """A multiple of 10**-decimals, written out."""
    if decimals <= 0:
        return str(int(value))
    return f"{Decimal(int(value * 10**decimals)).scaleb(-decimals):f}"
