"""The values of a design file: what each may be, and what is said when it may not."""

from __future__ import annotations

from fractions import Fraction
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, StrictInt, StrictStr, WithJsonSchema
from pydantic_core import PydanticCustomError

from solver.design.errors import show, suggestion
from solver.design.exact import NotExact, parse_exact
from solver.design.gauges import NoGauge, named_gauge
from solver.design.ranges import (
    LEAST_ROLLERS,
    LEAST_TEETH,
    MOST_CHOICES,
    MOST_COUNT,
    MOST_DIRECTIONS,
    MOST_MOTORS,
    MOST_RINGS,
    MOST_ROLLERS,
    MOST_STOCK,
    MOST_TEETH,
    RANK_KEYS,
)

Sense = Literal["same", "reverse", "either"]


def wrong(allowed: str) -> PydanticCustomError:
    """A fault whose message is already in our words; braces are doubled since pydantic formats it."""
    return PydanticCustomError("ringwright", "{allowed}", {"allowed": allowed})


def _exact(value: object) -> Fraction:
    try:
        return parse_exact(value)
    except NotExact as fault:
        raise wrong(f'must be a number written exactly, like 15.945421 or "64/9" ({fault})') from None


def _positive(value: object) -> Fraction:
    number = _exact(value)
    if number <= 0:
        raise wrong("must be greater than 0")
    return number


def _length(value: object) -> Fraction:
    number = _exact(value)
    if not 0 < number <= 1_000_000:
        raise wrong("must be a length greater than 0 and at most 1000000")
    return number


def _length_or_zero(value: object) -> Fraction:
    number = _exact(value)
    if not 0 <= number <= 1_000_000:
        raise wrong("must be a length from 0 to 1000000")
    return number


def _percent(value: object) -> Fraction:
    number = _exact(value)
    if not 0 <= number <= 1000:
        raise wrong("must be a percentage from 0 to 1000")
    return number


def _seconds(value: object) -> float:
    number = _exact(value)
    if not Fraction(1, 1000) <= number <= 10_000_000:
        raise wrong("must be seconds from 0.001 to 10000000")
    return float(number)


def _whole(value: object, what: str = "a whole number") -> int:
    if isinstance(value, bool) or not isinstance(value, int):
        raise wrong(f"must be {what}, a list of them, or {{min = , max = , step = }}")
    return value


def _choices(value: object, least: int, most: int) -> tuple[int, ...]:
    """A number, a list of numbers or a range, as the sorted tuple of the numbers it stands for."""
    if isinstance(value, dict):
        unknown = sorted(set(value) - {"min", "max", "step"})
        if unknown:
            raise wrong(f'has the unknown key "{unknown[0]}"; a range is {{min = , max = , step = }}')
        if "min" not in value or "max" not in value:
            raise wrong("a range needs both min and max")
        low, high, step = (_whole(value.get(key, 1)) for key in ("min", "max", "step"))
        if step < 1:
            raise wrong("the step of a range must be at least 1")
        if low > high:
            raise wrong("is an empty range: min is greater than max")
        if low < least or high > most:
            raise wrong(f"must lie within {least} and {most}")
        numbers: list[int] = list(range(low, high + 1, step))
    elif isinstance(value, list | tuple):
        numbers = sorted(_whole(item) for item in value)
        if not numbers:
            raise wrong("is an empty list; give at least one number")
        if len(set(numbers)) != len(numbers):
            raise wrong("names a number twice")
    else:
        numbers = [_whole(value)]
    if numbers[0] < least or numbers[-1] > most:
        raise wrong(f"must lie within {least} and {most}")
    if len(numbers) > MOST_CHOICES:
        raise wrong(f"has more than {MOST_CHOICES} values")
    return tuple(numbers)


def _teeth(value: object) -> tuple[int, ...]:
    return _choices(value, LEAST_TEETH, MOST_TEETH)


def _ring_list(value: object) -> tuple[tuple[int, ...], ...]:
    if not isinstance(value, list | tuple):
        raise wrong("must be a list with an entry for each ring: a number, a list of numbers or a range")
    if not 2 <= len(value) <= MOST_RINGS:
        raise wrong(f"must have from 2 to {MOST_RINGS} rings; it has {len(value)}")
    return tuple(_teeth(item) for item in value)


def _directions(value: object) -> tuple[Fraction, ...] | str | None:
    """So many equally spaced, or a list of degrees, ascending; "none" as it is."""
    told = f'must be a number of directions from 1 to {MOST_DIRECTIONS}, a list of degrees, or "none"'
    if value is None or value == "none":
        return value
    if isinstance(value, int) and not isinstance(value, bool):
        if not 1 <= value <= MOST_DIRECTIONS:
            raise wrong(told)
        return tuple(Fraction(360 * index, value) for index in range(value))
    if not isinstance(value, list | tuple):
        raise wrong(told)
    if not 1 <= len(value) <= MOST_DIRECTIONS:
        raise wrong(f"must have from 1 to {MOST_DIRECTIONS} directions; it has {len(value)}")
    degrees = sorted(_exact(item) for item in value)
    if not 0 <= degrees[0] <= degrees[-1] < 360:
        raise wrong("must be degrees from 0 to less than 360")
    if len(set(degrees)) != len(degrees):
        raise wrong("names a direction twice")
    return tuple(degrees)


def _reach(value: object) -> Fraction:
    number = _exact(value)
    if not 0 < number <= 180:
        raise wrong("must be degrees greater than 0 and at most 180")
    return number


def _motor_rpm(value: object) -> tuple[Fraction, ...]:
    entries = value if isinstance(value, list | tuple) else [value]
    if not 1 <= len(entries) <= MOST_MOTORS:
        raise wrong(f"must be a motor speed or a list of 1 to {MOST_MOTORS} of them")
    speeds = sorted(_positive(item) for item in entries)
    if speeds[-1] > 1_000_000:
        raise wrong("must be revolutions a minute, at most 1000000")
    if len(set(speeds)) != len(speeds):
        raise wrong("names a motor speed twice")
    return tuple(speeds)


def _bars(value: object) -> tuple[Fraction, ...]:
    entries = value if isinstance(value, list | tuple) else [value]
    if not 1 <= len(entries) <= MOST_STOCK:
        raise wrong(f"must be a length or a list of 1 to {MOST_STOCK} of them")
    lengths = sorted(_length(item) for item in entries)
    if len(set(lengths)) != len(lengths):
        raise wrong("names a length twice")
    return tuple(lengths)


def _gauge(value: object) -> Fraction | str:
    """A diameter, or the name of a gauge in one spelling."""
    if isinstance(value, str):
        try:
            return named_gauge(value).name
        except NoGauge as fault:
            if any(letter.isalpha() for letter in value):
                raise wrong(f"{fault}, or a diameter as a number") from None
    return _length(value)


def _density(value: object) -> Fraction:
    number = _exact(value)
    if not 1 <= number <= 25:
        raise wrong("must be grams for a cubic centimetre, from 1 to 25; brass wire has 8.43 to 8.53")
    return number


def _pitch_share(value: object) -> Fraction:
    number = _exact(value)
    if not 0 < number <= 1:
        raise wrong("must be a share of a tooth pitch, greater than 0 and at most 1")
    return number


def _neutral(value: object) -> Fraction:
    number = _exact(value)
    if not 0 <= number <= 1:
        raise wrong("must be from 0 (inside of the bend) to 1 (outside); 0.5 is the centre line")
    return number


def _period_range(value: object) -> tuple[Fraction, Fraction]:
    if not isinstance(value, list | tuple) or len(value) != 2:
        raise wrong('must be two periods, like ["12", "18"]')
    low, high = (_positive(item) for item in value)
    if low > high:
        raise wrong("is reversed: the first period is longer than the second")
    return low, high


def _rank(value: object) -> tuple[str, ...]:
    if not isinstance(value, list | tuple) or not value:
        raise wrong("must be a list of rank keys: " + ", ".join(RANK_KEYS))
    for key in value:
        if key not in RANK_KEYS:
            near = suggestion(str(key), RANK_KEYS) or "; the keys are " + ", ".join(RANK_KEYS)
            raise wrong(f"{show(key)} is no rank key{near}")
    if len(set(value)) != len(value):
        raise wrong("names a rank key twice")
    return tuple(value)


def _front(value: object) -> tuple[str, ...]:
    if not isinstance(value, list | tuple):
        raise wrong("must be a list of two or three rank keys, or [] for none")
    if len(value) not in (0, 2, 3):
        raise wrong(f"must be two or three rank keys, or [] for none; there are {len(value)}")
    return _rank(value) if value else ()


_EXACT_JSON = {"anyOf": [{"type": "number"}, {"type": "string"}], "description": "read exactly as written"}


def _choices_json(least: int, most: int) -> dict[str, Any]:
    number = {"type": "integer", "minimum": least, "maximum": most}
    span = {
        "type": "object",
        "properties": {"min": number, "max": number, "step": {"type": "integer", "minimum": 1}},
        "required": ["min", "max"],
        "additionalProperties": False,
    }
    return {"anyOf": [number, {"type": "array", "items": number, "minItems": 1}, span]}


_TEETH_JSON = _choices_json(LEAST_TEETH, MOST_TEETH)

Period = Annotated[Fraction, BeforeValidator(_positive), WithJsonSchema(_EXACT_JSON)]
PeriodRange = Annotated[
    tuple[Fraction, Fraction],
    BeforeValidator(_period_range),
    WithJsonSchema({"type": "array", "items": _EXACT_JSON, "minItems": 2, "maxItems": 2}),
]
PitchShare = Annotated[Fraction, BeforeValidator(_pitch_share), WithJsonSchema(_EXACT_JSON)]
Percent = Annotated[Fraction, BeforeValidator(_percent), WithJsonSchema(_EXACT_JSON)]
Length = Annotated[Fraction, BeforeValidator(_length), WithJsonSchema(_EXACT_JSON)]
LengthOrZero = Annotated[Fraction, BeforeValidator(_length_or_zero), WithJsonSchema(_EXACT_JSON)]
Seconds = Annotated[float, BeforeValidator(_seconds), WithJsonSchema(_EXACT_JSON)]
Teeth = Annotated[tuple[int, ...], BeforeValidator(_teeth), WithJsonSchema(_TEETH_JSON)]
ToothSteps = Annotated[
    tuple[int, ...],
    BeforeValidator(lambda v: _choices(v, 1, MOST_TEETH)),
    WithJsonSchema(_choices_json(1, MOST_TEETH)),
]
Blanks = Annotated[
    tuple[int, ...],
    BeforeValidator(lambda v: _choices(v, 0, MOST_RINGS)),
    WithJsonSchema(_choices_json(0, MOST_RINGS)),
]
RingList = Annotated[
    tuple[tuple[int, ...], ...],
    BeforeValidator(_ring_list),
    WithJsonSchema({"type": "array", "items": _TEETH_JSON, "minItems": 2, "maxItems": MOST_RINGS}),
]
Stock = Annotated[
    tuple[int, ...],
    BeforeValidator(lambda v: () if v in ([], ()) else _teeth(v)),
    WithJsonSchema({"type": "array", "items": {"type": "integer", "minimum": LEAST_TEETH, "maximum": MOST_TEETH}}),
]
Rank = Annotated[
    tuple[str, ...],
    BeforeValidator(_rank),
    WithJsonSchema(
        {
            "type": "array",
            "items": {"enum": list(RANK_KEYS)},
            "minItems": 1,
            "uniqueItems": True,
        }
    ),
]
Front = Annotated[
    tuple[str, ...],
    BeforeValidator(_front),
    WithJsonSchema({"type": "array", "items": {"enum": list(RANK_KEYS)}, "maxItems": 3, "uniqueItems": True}),
]
Directions = Annotated[
    tuple[Fraction, ...] | Literal["none"] | None,
    BeforeValidator(_directions),
    WithJsonSchema(
        {
            "anyOf": [
                {"type": "integer", "minimum": 1, "maximum": MOST_DIRECTIONS},
                {"type": "array", "items": _EXACT_JSON, "minItems": 1, "maxItems": MOST_DIRECTIONS},
                {"enum": ["none"]},
            ]
        }
    ),
]
Side = Literal["none", "inner", "outer"]
RollerCount = Annotated[
    tuple[int, ...],
    BeforeValidator(lambda v: _choices(v, LEAST_ROLLERS, MOST_ROLLERS)),
    WithJsonSchema(_choices_json(LEAST_ROLLERS, MOST_ROLLERS)),
]
Reach = Annotated[Fraction, BeforeValidator(_reach), WithJsonSchema(_EXACT_JSON)]
PositiveNumber = Annotated[Fraction, BeforeValidator(_positive), WithJsonSchema(_EXACT_JSON)]
MotorRpm = Annotated[
    tuple[Fraction, ...],
    BeforeValidator(_motor_rpm),
    WithJsonSchema({"anyOf": [_EXACT_JSON, {"type": "array", "items": _EXACT_JSON, "minItems": 1}]}),
]
Bars = Annotated[
    tuple[Fraction, ...],
    BeforeValidator(_bars),
    WithJsonSchema({"anyOf": [_EXACT_JSON, {"type": "array", "items": _EXACT_JSON, "minItems": 1}]}),
]
WireGauge = Annotated[
    Fraction | str,
    BeforeValidator(_gauge),
    WithJsonSchema({**_EXACT_JSON, "description": 'a diameter, or a gauge such as "AWG 14" or "SWG 12"'}),
]
Density = Annotated[Fraction, BeforeValidator(_density), WithJsonSchema(_EXACT_JSON)]
Neutral = Annotated[Fraction, BeforeValidator(_neutral), WithJsonSchema(_EXACT_JSON)]
Few = Annotated[StrictInt, Field(ge=0, le=24)]
Count = Annotated[StrictInt, Field(ge=1, le=MOST_COUNT)]
Name = Annotated[StrictStr, Field(min_length=1, max_length=80)]
