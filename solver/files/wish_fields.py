"""What the table [fit] wishes of places: where single links stand, what is kept free, and what is said when it may not
be."""

from __future__ import annotations

from fractions import Fraction
from typing import Annotated

from pydantic import BeforeValidator, StrictInt, WithJsonSchema
from pydantic import Field as Limited

from solver.design.exact import NotExact, parse_exact
from solver.files.fields import wrong
from solver.files.table import Table

MOST_SECTORS = 36
_EXACT_JSON = {"anyOf": [{"type": "number"}, {"type": "string"}], "description": "read exactly as written"}
_SECTOR_JSON = {"type": "array", "items": _EXACT_JSON, "minItems": 2, "maxItems": 2}


def _degrees(value: object) -> Fraction:
    try:
        number = parse_exact(value)
    except NotExact as fault:
        raise wrong(f'must be degrees written exactly, like 45 or "360/7" ({fault})') from None
    if not 0 <= number <= 360:
        raise wrong("must be degrees from 0 to 360")
    return number


def _sector(value: object) -> tuple[Fraction, Fraction]:
    told = "must be [from, to]: two directions in degrees, counterclockwise from the first to the second"
    if not isinstance(value, list | tuple) or len(value) != 2:
        raise wrong(told)
    begin, end = map(_degrees, value)
    if end - begin == 360:
        raise wrong(f"{told}; this is the whole circle")
    return begin, end


def _sectors(value: object) -> tuple[tuple[Fraction, Fraction], ...]:
    if not isinstance(value, list | tuple) or not all(isinstance(one, list | tuple) for one in value):
        raise wrong("must be a list of sectors, each [from, to] in degrees, like [[250, 290]]")
    if len(value) > MOST_SECTORS:
        raise wrong(f"must be at most {MOST_SECTORS} sectors; there are {len(value)}")
    return tuple(map(_sector, value))


Sectors = Annotated[
    tuple[tuple[Fraction, Fraction], ...],
    BeforeValidator(_sectors),
    WithJsonSchema({"type": "array", "items": _SECTOR_JSON, "maxItems": MOST_SECTORS}),
]
SectorField = Annotated[tuple[Fraction, Fraction], BeforeValidator(_sector), WithJsonSchema(_SECTOR_JSON)]
DegreesField = Annotated[Fraction, BeforeValidator(_degrees), WithJsonSchema(_EXACT_JSON)]


class LinkPlaceTable(Table):
    """Where one link stands: in one direction, or in a part of the circle."""

    link: Annotated[StrictInt, Limited(ge=0)]
    direction: DegreesField | None = None
    span: SectorField | None = None
