"""A setting as a document: what `ringwright setting --json` prints."""

from __future__ import annotations

from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field

SETTING_SCHEMA: Literal["ringwright.setting/1"] = "ringwright.setting/1"


class SettingPart(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class BodySetting(SettingPart):
    """A body at the date. Longitudes and angles in degrees, 0 to 360; null where no source is good enough.

    true_within_deg: how near the true longitude is. equation_deg: true less mean, -180 to 180; greatest_equation_deg:
    how large that gets. ring_angle_deg: where the body stands, seen from the front, counterclockwise from the right.
    move_teeth: by how many teeth to move its link on; left_over_deg: how far it is off then; null where not worked out.
    """

    name: str
    mean_longitude_deg: float
    true_longitude_deg: float | None
    true_within_deg: float | None
    equation_deg: float | None
    greatest_equation_deg: float | None
    ring_angle_deg: float
    rate_deg_per_day: float
    plane: str
    zero: str
    source: str
    move_teeth: int | None = None
    left_over_deg: float | None = None


class SettingDocument(SettingPart):
    """Where each body stands at a date. date: in TT; date_utc: in UTC, before 1960 in UT1; scale: in which it was
    asked for; zero_deg, seen_from: how the model hangs; true: whether rings stand at true longitudes, where known.
    by_teeth: `drive_deg`, the turn of ring 0 that comes first; `ring_0`, whether it stands "off" its place for the sake
    of all, "in" it, or is "left"; `worst_deg` and `total_deg` that bodies are off by then; `proven`, what of this no
    other moves with ring 0 so make less: "best" (both), "worst" (that alone), or "no"."""

    schema_: Literal["ringwright.setting/1"] = Field(SETTING_SCHEMA, alias="schema")
    title: str
    rank: int
    date: str
    date_utc: str
    scale: Literal["utc", "tt"]
    tt_minus_utc_s: float
    zero_deg: float
    seen_from: Literal["north", "south"]
    true: bool
    bodies: list[BodySetting]
    links: list[dict[str, Any]] | None = None
    by_teeth: dict[str, Any] | None = None
    drift: list[dict[str, Any]] | None = None
    notes: list[str]
