"""The values of the table [sky] and of bodies' longitudes: what each may be, and what is said when it may not."""

from __future__ import annotations

from fractions import Fraction
from typing import Annotated

from pydantic import BeforeValidator, WithJsonSchema

from solver.design.dates import NoDate, read_date
from solver.design.exact import NotExact, parse_exact
from solver.files.fields import wrong

_EXACT_JSON = {"anyOf": [{"type": "number"}, {"type": "string"}], "description": "read exactly as written"}


def _turn(value: object) -> Fraction:
    try:
        number = parse_exact(value)
    except NotExact as fault:
        raise wrong(f'must be a number written exactly, like 123.4 or "370/3" ({fault})') from None
    if not -360 < number <= 360:
        raise wrong("must be degrees greater than -360 and at most 360")
    return number


def _epoch(value: object) -> str:
    """A date as written: in UTC without a zone. TOML's own dates come as objects, whose text reads alike."""
    if hasattr(value, "isoformat"):
        value = value.isoformat()
    if not isinstance(value, str):
        raise wrong('must be a date, like "2026-01-01T00:00Z"')
    try:
        read_date(value)
    except NoDate as fault:
        raise wrong(str(fault)) from None
    return value.strip()


Degrees = Annotated[Fraction, BeforeValidator(_turn), WithJsonSchema(_EXACT_JSON)]
HangDegrees = Degrees
Epoch = Annotated[str, BeforeValidator(_epoch), WithJsonSchema({"type": "string"})]
