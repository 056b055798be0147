"""What is wrong with a design file, said in one line: file, field, value, what is allowed."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace

from solver.words.shown import escaped, shown

_NO_NUMBERS = {"NaN": "nan", "Infinity": "inf", "-Infinity": "-inf"}  # Python's words, and TOML's


@dataclass(frozen=True)
class Complaint:
    """One fault: the field's dotted path ("" for the whole file), the value as shown, and what is allowed."""

    field: str
    value: str
    allowed: str
    file: str = ""

    def __str__(self) -> str:
        """One line, whatever the file and the field are called."""
        where = ": ".join(shown(part) for part in (self.file, self.field) if part)
        value = f" = {self.value}" if self.value else ""
        return f"{where}{value}: {self.allowed}" if where else self.allowed


class DesignError(ValueError):
    """A design that cannot be used; `complaints` holds every fault found, each a line of its own."""

    def __init__(self, complaints: Iterable[Complaint]) -> None:
        self.complaints = tuple(complaints)
        super().__init__("\n".join(map(str, self.complaints)))

    def in_file(self, file: str) -> DesignError:
        """The same faults, said of a file."""
        return DesignError(replace(one, file=file) for one in self.complaints)


def single(field: str, value: object, allowed: str, file: str = "") -> DesignError:
    """A DesignError with one complaint; long values are cut so that the message stays one line."""
    return DesignError([Complaint(field, show(value), allowed, file)])


def show(value: object, depth: int = 4) -> str:
    """The value as TOML has it, on one line, at most 60 characters, nested at most so deep."""
    if depth == 0 and isinstance(value, list | tuple | dict):
        return "..."
    if value is None or value == "":
        return '""' if value == "" else ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        text = '"' + "".join(c if c.isprintable() else escaped(c) for c in shown(value)) + '"'
    elif isinstance(value, list | tuple):
        head = ", ".join(show(item, depth - 1) for item in value[:8])
        text = f"[{head}{', ...' if len(value) > 8 else ''}]"
    elif isinstance(value, dict):
        text = "{" + ", ".join(f"{_key(key)} = {show(item, depth - 1)}" for key, item in list(value.items())[:8]) + "}"
    else:
        text = str(value).removesuffix(".0") if isinstance(value, float) else str(value)
        text = _NO_NUMBERS.get(text, text)
    return text if len(text) <= 60 else text[:57] + "..."


def _key(key: str) -> str:
    return key if re.fullmatch(r"[A-Za-z0-9_-]+", key) else show(key)


def suggestion(word: str, known: Iterable[str]) -> str:
    """'; did you mean "period"?' for a near miss, else "" (the list of what is allowed is the caller's)."""
    import difflib  # for a fault alone

    near = difflib.get_close_matches(word, list(known), n=1, cutoff=0.6)
    return f'; did you mean "{near[0]}"?' if near else ""


def show_numbers(numbers: tuple[int, ...]) -> str:
    """Ascending whole numbers for a reader: "5 to 24" for a run of three or more, else each."""
    whole = len(numbers) == numbers[-1] - numbers[0] + 1
    return f"{numbers[0]} to {numbers[-1]}" if whole and len(numbers) > 2 else ", ".join(map(str, numbers))


def so_many(number: int, what: str) -> str:
    """ "1 link", "2 links"."""
    return f"{number} {what}{'' if number == 1 else 's'}"


def ordinal(number: int) -> str:
    """ "1st", "2nd", "3rd", "4th", "11th"."""
    ending = "th" if 10 < number % 100 < 20 else {1: "st", 2: "nd", 3: "rd"}.get(number % 10, "th")
    return f"{number}{ending}"
