"""The values of the table [loads], and of the crank: what each may be, and what is said when it may not."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import Annotated, Any

from pydantic import BeforeValidator, WithJsonSchema

from solver.design.errors import show, suggestion
from solver.design.exact import NotExact, parse_exact
from solver.design.loads import BEARINGS
from solver.files.fields import wrong

_EXACT_JSON = {"anyOf": [{"type": "number"}, {"type": "string"}], "description": "read exactly as written"}


def _from_to(low: int, high: int, what: str, above: bool = False) -> Callable[[object], Fraction]:
    """Reads a number from low (above: beyond it) to high."""

    def read(value: object) -> Fraction:
        try:
            number = parse_exact(value)
        except NotExact as fault:
            raise wrong(f'must be a number written exactly, like 0.15 or "3/20" ({fault})') from None
        if number > high or number < low or (above and number == low):
            least = f"greater than {low} and at most {high}" if above else f"from {low} to {high}"
            raise wrong(f"must be {what} {least}")
        return number

    return read


def _bearing(value: object) -> object:
    if value not in BEARINGS:
        near = suggestion(str(value), BEARINGS)
        raise wrong("must be one of " + ", ".join(map(show, BEARINGS)) + near)
    return value


def _by_name(read: Callable[[object], Fraction], what: str) -> Callable[[object], tuple[tuple[str, Fraction], ...]]:
    """Reads a table of bodies' names, each with a value."""

    def table(value: object) -> tuple[tuple[str, Fraction], ...]:
        if not isinstance(value, dict):
            raise wrong(f"must be a table of bodies: {{Titan = {what}}}")
        return tuple((name, read(one)) for name, one in value.items())

    return table


def _crank(value: object) -> object:
    """`true` is a crank with its usual lengths, `false` none."""
    return {True: {}, False: None}[value] if isinstance(value, bool) else value


_AT = _from_to(0, 1_000_000, "a length")
_TABLE_JSON: dict[str, Any] = {"type": "object", "additionalProperties": _EXACT_JSON}

Friction = Annotated[Fraction, BeforeValidator(_from_to(0, 2, "a friction factor")), WithJsonSchema(_EXACT_JSON)]
Efficiency = Annotated[
    Fraction, BeforeValidator(_from_to(0, 1, "a share", above=True)), WithJsonSchema(_EXACT_JSON)
]  # fmt: skip
Newtons = Annotated[Fraction, BeforeValidator(_from_to(0, 10_000, "newtons", above=True)), WithJsonSchema(_EXACT_JSON)]
Torque = Annotated[Fraction, BeforeValidator(_from_to(0, 1_000_000, "N cm", above=True)), WithJsonSchema(_EXACT_JSON)]
PlayDegrees = Annotated[
    Fraction, BeforeValidator(_from_to(0, 360, "degrees", above=True)), WithJsonSchema(_EXACT_JSON)
]  # fmt: skip
CrankSpeed = Annotated[
    Fraction, BeforeValidator(_from_to(0, 1_000, "revolutions a minute", above=True)), WithJsonSchema(_EXACT_JSON)
]  # fmt: skip
BearingKind = Annotated[str, BeforeValidator(_bearing), WithJsonSchema({"enum": list(BEARINGS)})]
BodyAt = Annotated[
    tuple[tuple[str, Fraction], ...], BeforeValidator(_by_name(_AT, "120")), WithJsonSchema(_TABLE_JSON)
]  # fmt: skip
OrNone = BeforeValidator(_crank)


def or_boolean(schema: dict[str, Any]) -> None:
    """Says in the JSON schema that `true` and `false` will do as well."""
    schema["anyOf"].append({"type": "boolean"})
