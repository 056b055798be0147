"""The schema of the table [made]: what exists already."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, StrictBool, StrictInt

from solver.design.links import KINDS
from solver.design.ranges import LEAST_TEETH, MOST_RINGS, MOST_TEETH
from solver.files.fields import Name, Stock
from solver.files.table import Table

Number = Annotated[StrictInt, Field(ge=0, lt=MOST_RINGS)]
OneCount = Annotated[StrictInt, Field(ge=LEAST_TEETH, le=MOST_TEETH)]
KindName = Annotated[str, Field(json_schema_extra={"enum": [kind.name for kind in KINDS]})]


class DrawerEntry(Table):
    """Gears in the drawer: their teeth, and how many there are."""

    teeth: OneCount
    count: Annotated[StrictInt, Field(ge=1, le=999)] = 1


class BuiltRing(Table):
    """A ring that is finished, or one that stands where it is: by its number, its teeth, who rides on it."""

    ring: Number | None = None
    teeth: OneCount | None = None
    body: Name | None = None
    blank: StrictBool = False


class BuiltLink(Table):
    """A link that is built and stays, by its number."""

    link: Number
    wheel: OneCount
    pinion: OneCount
    kind: KindName | None = None
    thirds: Annotated[list[OneCount], Field(min_length=1, max_length=2)] | None = None


class MadeTable(Table):
    """What exists already."""

    ring_jigs: Stock = ()
    gear_jigs: Stock = ()
    gears: Annotated[list[DrawerEntry], Field(max_length=MOST_TEETH)] = Field(default_factory=list)
    rings: Annotated[list[BuiltRing], Field(max_length=MOST_TEETH)] = Field(default_factory=list)
    links: Annotated[list[BuiltLink], Field(max_length=MOST_RINGS)] = Field(default_factory=list)
