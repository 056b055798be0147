"""What drives a model, in one line: the motor or crank, the ring that it turns, how long the wished body takes."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from typing import Any


def drive_words(
    drive: Mapping[str, Any] | None, cranked: bool, wished_s: float | None, would: Fraction | None = None
) -> str:
    """The drive of a solution, as its document has it; "" where it has none. cranked: a hand crank is in the motor's
    place; wished_s: how long a turn of the body was to take [seconds], None where no time is wished; would: the speed
    [rpm] that would give that with these gears, None where the motor's does."""
    if drive is None:
        return ""
    what = "hand crank at" if cranked else "motor of"
    through = f", through a third gear of {' and '.join(map(str, drive['thirds']))} teeth," if drive["thirds"] else ""
    text = f"{what} {float(Fraction(drive['motor_rpm'])):g} rpm, pinion of {drive['pinion']} teeth{through} on ring "
    text += str(drive["ring"])
    if drive["body"] is None or drive["seconds"] is None:
        return text
    wish = "" if wished_s is None else f", {wished_s:g} s are wished"
    if wish and would is not None:
        wish += f", which {float(would):.4g} rpm would give"
    return f"{text}; a turn of {drive['body']} takes {drive['seconds']:.4g} s{wish}"
