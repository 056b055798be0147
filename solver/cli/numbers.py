"""Numbers, lengths and links as they are printed."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from solver.answer.document import LinkAnswer
from solver.design.links import link_word
from solver.words.lengths import MM_PER_INCH


def key_names(keys: Iterable[str]) -> list[str]:
    """Rank keys as tables head their columns: the envelope is told as a radius."""
    return ["radius" if key == "envelope" else key for key in keys]


def percent(value: float | None, signed: bool = False) -> str:
    """A percentage with four decimals, more where it is very small; "" for none."""
    if value is None:
        return ""
    text = f"{value:+.4f}" if signed else f"{value:.4f}"
    return text if value == 0 or abs(value) >= 0.001 else f"{value:+.2e}" if signed else f"{value:.2e}"


def seven_digits(value: float) -> str:
    """The number with seven significant digits."""
    return f"{value:#.7g}".rstrip(".")


def rpm_text(speed: Fraction) -> str:
    """A speed exactly: as a decimal where it is one of few figures, else as a fraction beside six figures."""
    short = f"{float(speed):.6g}"
    return f"{short} rev/min" + ("" if Fraction(short) == speed else f" (exactly {speed})")


def target_text(target: str | None) -> str:
    """A target of an answer, "a/b" or "a/b..c/d", in decimals; "" for none."""
    if target is None:
        return ""
    return " to ".join(seven_digits(float(Fraction(part))) for part in target.split(".."))


def link_text(link: LinkAnswer | None) -> str:
    """wheel/pinion, then w or p with the teeth of a third gear at the wheel or at the pinion: 15/8p5."""
    return "" if link is None else link_word(link.kind, link.wheel, link.pinion, link.thirds)


def length_text(millimetres: float | None, units: str) -> str:
    """A length in the file's unit, to a tenth of a millimetre; "" for none."""
    if millimetres is None:
        return ""
    return f"{millimetres:.1f}" if units == "mm" else f"{millimetres / float(MM_PER_INCH):.3f}"


def exact_length_text(millimetres: float | None, units: str) -> str:
    """Likewise to the micrometre, or as near as four decimals of an inch come to it."""
    if millimetres is None:
        return ""
    return f"{millimetres:.3f}" if units == "mm" else f"{millimetres / float(MM_PER_INCH):.4f}"
