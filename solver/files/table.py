"""What every table of a file keeps to."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict


class Table(BaseModel):
    """A table of the file: unknown keys are refused, values are frozen once read."""

    model_config = ConfigDict(extra="forbid", frozen=True, arbitrary_types_allowed=True)
