"""A knob: one limit of a design file that can be loosened by degrees, and what knobs of several tables have alike."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Any

MORE_TEETH = 12
MUCH_LONGER = 10_000  # steps
ALL_ERRORS = 1000  # percent

Data = dict[str, Any]  # of a file, as TOML gives it


@dataclass(frozen=True)
class Knob:
    """One limit that can be loosened by degrees.

    rule: its name in the design's rules; field: where it stands in the file; now: its value there. edit changes the
    file's data so that the limit is loosened by a degree from 1 to `most`; each degree allows all that the one before
    allowed. says: the value that a degree stands for, alone. least: finds the least degree at which the rest of the
    file has a solution where there is a quicker way than trying, None for none.
    """

    rule: str
    field: str
    now: str
    most: int
    edit: Callable[[Data, int], None]
    says: Callable[[int], str]
    least: Callable[[Data], int | None] | None = None


Best = Callable[[Data, str], Fraction | None]


def table_of(data: Data, name: str) -> Data:
    table: Data = data.setdefault(name, {})
    return table


def span(numbers: tuple[int, ...]) -> Any:
    """Numbers as a file would have them: a number, a range or a list."""
    if len(numbers) == 1:
        return numbers[0]
    if numbers == tuple(range(numbers[0], numbers[-1] + 1)):
        return {"min": numbers[0], "max": numbers[-1]}
    return list(numbers)


def counting(start: int, by: int) -> Callable[[int], str]:
    return lambda degree: str(start + by * degree)


def nth(values: tuple[int, ...], degree: int) -> str:
    return str(values[degree - 1])


def hundredths(start: Fraction, degree: int) -> str:
    return decimal_text(start + Fraction(degree, 100))


def decimal_text(value: Fraction) -> str:
    return f"{Decimal(value.numerator) / Decimal(value.denominator):f}"


def put(data: Data, path: tuple[str, ...], value: Any) -> None:
    for name in path[:-1]:
        data = table_of(data, name)
    data[path[-1]] = value


def switch(rule: str, path: tuple[str, ...], now: Any, then: Any) -> Knob:
    """A limit that is either there or not."""
    words = {True: "true", False: "false"} if isinstance(now, bool) else {}
    return Knob(
        rule, ".".join(path), words.get(now, str(now)), 1, lambda data, degree: put(data, path, then),
        lambda degree: words.get(then, str(then)),
    )  # fmt: skip


def growing_length(rule: str, path: tuple[str, ...], now: Fraction, step: Fraction) -> Knob:
    """A length that may grow without end."""
    return Knob(
        rule, ".".join(path), decimal_text(now), MUCH_LONGER,
        lambda data, degree: put(data, path, str(now + degree * step)),
        lambda degree: decimal_text(now + degree * step),
    )  # fmt: skip


def shrinking(rule: str, path: tuple[str, ...], now: Fraction, step: Fraction, least: Fraction = Fraction(0)) -> Knob:
    """A length that may shrink to `least`, by so much for each degree."""

    def then(degree: int) -> Fraction:
        return min(now, max(now - degree * step, least))

    def edit(data: Data, degree: int) -> None:
        put(data, path, str(then(degree)) if then(degree) else 0)

    return Knob(
        rule, ".".join(path), decimal_text(now), max(1, math.ceil((now - least) / step)), edit,
        lambda degree: decimal_text(then(degree)),
    )  # fmt: skip
