"""Wire gauges: AWG by its formula, SWG by its table, or a diameter in the file's unit."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction

MM_PER_MIL = Fraction(254, 10_000)
THINNEST, THICKEST = Fraction(1, 10), Fraction(20)  # mm; what is bent and soldered by hand lies well within
_MOST_AWG, _MOST_SWG = 40, 40

# Thousandths of an inch (BS 3737; 10, 12, 14 and 16 compared with it, the others from memory).
_SWG_MILS = (
    "7/0 500, 6/0 464, 5/0 432, 4/0 400, 3/0 372, 2/0 348, 0 324, 1 300, 2 276, 3 252, 4 232, 5 212, 6 192, 7 176, "
    "8 160, 9 144, 10 128, 11 116, 12 104, 13 92, 14 80, 15 72, 16 64, 17 56, 18 48, 19 40, 20 36, 21 32, 22 28, "
    "23 24, 24 22, 25 20, 26 18, 27 16.4, 28 14.8, 29 13.6, 30 12.4, 31 11.6, 32 10.8, 33 10, 34 9.2, 35 8.4, "
    "36 7.6, 37 6.8, 38 6, 39 5.2, 40 4.8"
)
SWG_MM: dict[str, float] = {
    number: float(Fraction(mils) * MM_PER_MIL) for number, mils in (pair.split() for pair in _SWG_MILS.split(", "))
}
_GAUGE = re.compile(r"\s*(AWG|SWG)\s*([0-9/]+)\s*", re.IGNORECASE)


class NoGauge(ValueError):
    """Text that names no gauge; the message says what is allowed."""


@dataclass(frozen=True)
class Gauge:
    """A wire: its diameter [mm], and its name, "AWG 14" or "SWG 12"; "" for a wire given by its diameter."""

    mm: float
    name: str = ""


def awg_mm(number: int) -> float:
    """Diameter [mm] of AWG `number`; 0 is 1/0, -1 is 2/0 and so on: 0.127 mm * 92**((36 - n) / 39) (ASTM B258)."""
    return float(0.127 * 92 ** ((36 - number) / 39))


def named_gauge(text: str) -> Gauge:
    """The wire of a gauge such as "AWG 14", "AWG 2/0" or "SWG 12". Raises NoGauge."""
    told = f'no wire gauge; the gauges are "AWG 4/0" to "AWG {_MOST_AWG}" and "SWG 7/0" to "SWG {_MOST_SWG}"'
    found = _GAUGE.fullmatch(text)
    if found is None:
        raise NoGauge(told)
    system, number = found[1].upper(), found[2]
    if system == "SWG":
        if number not in SWG_MM:
            raise NoGauge(told)
        return Gauge(SWG_MM[number], f"SWG {number}")
    zeros = re.fullmatch(r"([1-4])/0|(0{2,4})", number)
    if zeros is not None:
        count = int(zeros[1]) if zeros[1] else len(zeros[2])
        return Gauge(awg_mm(1 - count), f"AWG {count}/0")
    if not number.isdigit() or not 0 <= int(number) <= _MOST_AWG:
        raise NoGauge(told)
    return Gauge(awg_mm(int(number)), f"AWG {int(number)}")


def nearest_names(mm: float) -> tuple[str, str]:
    """The AWG and the SWG whose diameter is nearest to a wire's [mm], for a shop that sells by the other number."""
    awg = min(range(-3, _MOST_AWG + 1), key=lambda number: abs(awg_mm(number) - mm))
    swg = min(SWG_MM, key=lambda number: abs(SWG_MM[number] - mm))
    return (f"AWG {awg}" if awg >= 0 else f"AWG {1 - awg}/0"), f"SWG {swg}"
