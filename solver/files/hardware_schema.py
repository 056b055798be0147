"""The tables [hardware] and [bench] of the design file, and what may stand in them."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import Field, StrictStr, WithJsonSchema, model_validator

from solver.design.hardware import Head
from solver.files.fields import Length, Name, Percent, PositiveNumber
from solver.files.table import Table

_NAME_OR_SIZES = {"anyOf": [{"type": "string"}, {"type": "object"}], "description": "a name, or own sizes"}


class BearingEntry(Table):
    """A ball bearing: its name alone, or own sizes."""

    name: StrictStr | None = None
    bore: Length | None = None
    outside: Length | None = None
    width: Length | None = None
    flange: Length | None = None

    @model_validator(mode="before")
    @classmethod
    def _named(cls, value: Any) -> Any:
        return {"name": value} if isinstance(value, str) else value


class RollerEntry(Table):
    """A roller's groove and flanges."""

    groove_width: Length | None = None
    groove_depth: Length | None = None
    flange: Length | None = None


class BodySizeEntry(Table):
    """A body's diameter, or its true one in km."""

    diameter: Length | None = None
    km: PositiveNumber | None = None


class LabelEntry(Table):
    """The label plate."""

    width: Length
    height: Length
    text: Annotated[StrictStr, Field(max_length=200)] = ""


class HardwareTable(Table):
    """What is bought: for the sheets alone."""

    bearing: Annotated[BearingEntry | None, WithJsonSchema(_NAME_OR_SIZES)] = None
    screw: StrictStr | None = None
    head: Head | None = None
    roller: RollerEntry = RollerEntry()
    spare_pct: Percent | None = None
    currency: Annotated[StrictStr, Field(max_length=8)] = ""
    prices: dict[str, PositiveNumber] = Field(default_factory=dict)
    body_scale: Length | None = None
    bodies: dict[Name, BodySizeEntry] = Field(default_factory=dict)
    label: LabelEntry | None = None
    plate_thickness: Length | None = None


class BenchTable(Table):
    """How much the maker does in an hour: for the sheets alone."""

    joints_per_hour: PositiveNumber | None = None
    bends_per_hour: PositiveNumber | None = None
    cuts_per_hour: PositiveNumber | None = None
    holes_per_hour: PositiveNumber | None = None
    teeth_per_hour: PositiveNumber | None = None
    parts_per_hour: PositiveNumber | None = None
    hours_per_jig: PositiveNumber | None = None
    hours_per_pair: PositiveNumber | None = None
    rest_pct: Percent | None = None
