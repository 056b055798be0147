"""The schema of a train that exists: what may stand in [train], beside the tables of a design file."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Annotated, Literal

from pydantic import BeforeValidator, ConfigDict, Field, StrictInt, StrictStr, WithJsonSchema

from solver.design.exact import NotExact, parse_exact
from solver.design.links import KINDS
from solver.design.ranges import LEAST_TEETH, MOST_RINGS, MOST_TEETH
from solver.design.train_data import Stated
from solver.files.fields import Name, Percent, PositiveNumber, Sense, wrong
from solver.files.schema import BodiesTable, DesignFile
from solver.files.table import Table

MOST_MESHES = 100
MOST_IDLERS = 9


def _stated(value: object) -> Stated:
    try:
        exact = parse_exact(value)
    except NotExact as fault:
        raise wrong(f'must be a number as you state it, like "2.476" or "52/21" ({fault})') from None
    if exact <= 0:
        raise wrong("must be greater than 0")
    text = str(value).strip()
    if "/" in text:
        return Stated(text, exact, None)
    exponent = Decimal(text).as_tuple().exponent
    assert isinstance(exponent, int)
    return Stated(text, exact, -exponent)


def _stated_or_none(value: object) -> Stated | None:
    return None if value == "" else _stated(value)


def _degrees(value: object) -> Fraction:
    try:
        turn = parse_exact(value)
    except NotExact as fault:
        raise wrong(f"must be degrees from 0 to less than 360 ({fault})") from None
    if not 0 <= turn < 360:
        raise wrong("must be degrees from 0 to less than 360")
    return turn


def _at_most(most: int, what: str) -> BeforeValidator:
    """Refuse a list that is too long before its entries are looked at."""

    def check(value: object) -> object:
        if isinstance(value, list) and len(value) > most:
            raise wrong(f"has {len(value)} {what}; at most {most}")
        return value

    return BeforeValidator(check)


def _idlers(value: object) -> tuple[int, ...] | int:
    """The third gears of a mesh: how many, or the teeth of each."""
    if type(value) is int and 0 <= value <= MOST_IDLERS:
        return value
    if isinstance(value, list | tuple) and len(value) <= MOST_IDLERS:
        thirds = tuple(value)
        if all(type(z) is int and 1 <= z <= MOST_TEETH for z in thirds):
            return thirds
    many = f"how many third gears stand between (0 to {MOST_IDLERS})"
    raise wrong(f"must be {many}, or a list of their teeth (1 to {MOST_TEETH})")


_NUMBER_JSON = {"anyOf": [{"type": "number"}, {"type": "string"}], "description": "as you state it; read exactly"}
StatedNumber = Annotated[Stated, BeforeValidator(_stated), WithJsonSchema(_NUMBER_JSON)]
StatedOrNone = Annotated[Stated | None, BeforeValidator(_stated_or_none), WithJsonSchema(_NUMBER_JSON)]
_DEGREES_JSON = {"anyOf": [{"type": "number", "minimum": 0, "exclusiveMaximum": 360}, {"type": "string"}]}
Degrees = Annotated[Fraction, BeforeValidator(_degrees), WithJsonSchema(_DEGREES_JSON)]
GearTeeth = Annotated[StrictInt, Field(ge=LEAST_TEETH, le=MOST_TEETH)]
MeshTeeth = Annotated[StrictInt, Field(ge=1, le=MOST_TEETH)]
Idlers = Annotated[
    tuple[int, ...] | int,
    BeforeValidator(_idlers),
    WithJsonSchema(
        {
            "anyOf": [
                {"type": "integer", "minimum": 0, "maximum": MOST_IDLERS},
                {
                    "type": "array",
                    "items": {"type": "integer", "minimum": 1, "maximum": MOST_TEETH},
                    "maxItems": MOST_IDLERS,
                },
            ]
        }
    ),
]
Label = Annotated[StrictStr, Field(max_length=80)]
SideWord = Literal["left", "right"]
RadiusTeeth = Annotated[StrictInt, Field(ge=1, le=4 * MOST_TEETH)]


class StandEntry(Table):
    """Where an arbor stands: its direction seen from the front, the side of each third gear seen from the main axis
    (left: counterclockwise of the arbor), and, where the teeth leave a choice, its distance in teeth."""

    direction: Degrees | None = None
    sides: list[SideWord] | None = None
    radius_teeth: RadiusTeeth | None = None


class LinkEntry(StandEntry):
    """A link; ratio: what the maker states for T[i+1]/T[i]."""

    kind: StrictStr | None = Field(None, json_schema_extra={"enum": [kind.name for kind in KINDS]})
    wheel: GearTeeth
    pinion: GearTeeth
    thirds: list[GearTeeth] = Field(default_factory=list)
    ratio: StatedNumber | None = None


class RollersEntry(Table):
    """The directions in which a ring's rollers stand."""

    ring: Annotated[StrictInt, Field(ge=0, le=MOST_RINGS)]
    directions: Annotated[list[Degrees], _at_most(72, "rollers")]


class DriveEntry(StandEntry):
    """The motor that there is."""

    ring: Annotated[StrictInt, Field(ge=0, le=MOST_RINGS)]
    motor_rpm: PositiveNumber
    pinion: GearTeeth
    thirds: list[GearTeeth] = Field(default_factory=list)


class RingTrainTable(Table):
    """A ring train. bodies: which body rides on each ring, "" for none. states: what the maker states for each ring's
    period, in any unit, "" for nothing; that of ring 0 is taken as exact, and as 1 where nothing is stated."""

    rings: Annotated[list[GearTeeth], _at_most(MOST_RINGS, "rings")]
    bodies: Annotated[list[Label], _at_most(MOST_RINGS, "names")] | None = None
    states: Annotated[list[StatedOrNone], _at_most(MOST_RINGS, "numbers")] | None = None
    links: Annotated[list[LinkEntry], _at_most(MOST_RINGS, "links")]
    rollers: Annotated[list[RollersEntry], _at_most(MOST_RINGS, "entries")] | None = None
    drive: DriveEntry | None = None


class MeshEntry(Table):
    """Two gears that work together, on arbors known by their names; ratio: the stated turns of the driven one for a
    turn of the driver."""

    driver: Name
    driven: Name
    teeth: list[MeshTeeth]
    thirds: Idlers = ()
    ratio: StatedNumber | None = None


class StateEntry(Table):
    """What the maker states: so many turns of one arbor for a turn of another, and in which sense."""

    of: Name
    per: Name
    turns: StatedNumber
    sense: Literal["same", "reverse"] | None = None


class TurnsEntry(Table):
    """What an arbor should do: turns for a turn of the reference arbor, and its sense against that."""

    of: Name
    turns: PositiveNumber
    sense: Sense = "either"
    max_error_pct: Percent | None = None


class MeshTrainTable(Table):
    """Any other train of arbors, kinematics alone. reference: the arbor that is turned once, the first driver where it
    is not named. reference_period: how long its turn takes, in the unit of the bodies' periods."""

    reference: Name | None = None
    reference_period: PositiveNumber | None = None
    meshes: Annotated[list[MeshEntry], _at_most(MOST_MESHES, "meshes")]
    states: Annotated[list[StateEntry], _at_most(MOST_MESHES, "entries")] = Field(default_factory=list)
    turns: Annotated[list[TurnsEntry], _at_most(MOST_MESHES, "entries")] = Field(default_factory=list)


class RingTrainFile(DesignFile):
    """A design file with a ring train; without [bodies] there is nothing to compare the ratios with."""

    model_config = ConfigDict(title="Ringwright audit file, ring train", extra="forbid", frozen=True)

    bodies: BodiesTable | None = None  # type: ignore[assignment]  # the train says what there is
    train: RingTrainTable


class RatesTable(Table):
    """Of a design's wishes what can be asked of rates alone."""

    max_error_pct: Percent = Fraction(50)


class MeshTrainFile(Table):
    """A file with a train of arbors that is no ring train."""

    model_config = ConfigDict(title="Ringwright audit file, other train", extra="forbid", frozen=True)

    title: Annotated[StrictStr, Field(min_length=1, max_length=200)] = "Untitled"
    bodies: BodiesTable | None = None
    search: RatesTable = RatesTable()
    train: MeshTrainTable
