"""The design file's schema: its tables, and what may stand in each."""

from __future__ import annotations

from fractions import Fraction
from typing import Annotated, Literal

from pydantic import ConfigDict, Field, StrictBool, StrictInt, StrictStr

from solver.design.ranges import (
    MOST_COUNT,
    MOST_RINGS,
)
from solver.files.fields import (
    Bars,
    Blanks,
    Count,
    Density,
    Directions,
    Few,
    Front,
    Length,
    LengthOrZero,
    MotorRpm,
    Name,
    Neutral,
    Percent,
    Period,
    PeriodRange,
    PitchShare,
    PositiveNumber,
    Rank,
    Reach,
    RingList,
    RollerCount,
    Seconds,
    Sense,
    Side,
    Stock,
    Teeth,
    ToothSteps,
    WireGauge,
)
from solver.files.hardware_schema import BenchTable, HardwareTable
from solver.files.load_fields import (
    BearingKind,
    BodyAt,
    CrankSpeed,
    Efficiency,
    Friction,
    Newtons,
    OrNone,
    PlayDegrees,
    Torque,
    or_boolean,
)
from solver.files.made_schema import MadeTable
from solver.files.sky_fields import Degrees, Epoch, HangDegrees
from solver.files.table import Table
from solver.files.wish_fields import LinkPlaceTable, Sectors


class DriftWish(Table):
    """How far a body may be off after so long: degrees, years."""

    degrees: PositiveNumber
    years: PositiveNumber


class BodyEntry(Table):
    """An own body, or, without a period, a change to the body of that name in the set."""

    name: Name
    period: Period | None = None
    period_range: PeriodRange | None = None
    sense: Sense | None = None
    max_error_pct: Percent | None = None
    max_drift: DriftWish | None = None
    grams: PositiveNumber | None = None
    longitude: Degrees | None = None
    epoch: Epoch | None = None


class BodiesTable(Table):
    """What turns, innermost first."""

    set_name: StrictStr | None = Field(None, alias="set")
    only: list[StrictStr] | None = None
    reference: Literal["first", "best"] = "first"
    sense: Sense = "same"
    own: list[BodyEntry] = Field(default_factory=list, alias="list")
    grams: dict[Name, PositiveNumber] = Field(default_factory=dict)
    unit: Literal["days", "hours", "years"] | None = None


class RingsTable(Table):
    """The rings: one constant tooth step, or the teeth of each ring."""

    inner_teeth: Teeth | None = None
    tooth_step: ToothSteps | None = None
    blanks: Blanks | None = None
    teeth: RingList | None = None
    tooth_pitch: Length | None = None
    module: Length | None = None
    addendum: LengthOrZero | None = None
    rim: LengthOrZero | None = None
    level_spacing: Length | None = None


class ArborsTable(Table):
    """The gears of the links."""

    wheel_teeth: Teeth = tuple(range(5, 25))
    pinion_teeth: Teeth = tuple(range(5, 25))
    third_gears: Annotated[StrictInt, Field(ge=0, le=2 * MOST_RINGS)] = 0
    third_teeth: Teeth = tuple(range(6, 21))
    stock: Stock = ()
    reverted: StrictBool = True


class FrameTable(Table):
    """The frame that everything stays inside of, its middle on the main axis."""

    shape: Literal["square", "rectangle", "round"]
    side: Length | None = None
    width: Length | None = None
    height: Length | None = None
    diameter: Length | None = None
    depth: Length | None = None


class RollersTable(Table):
    """The rollers inside each ring that carry it."""

    count: RollerCount = (4,)
    radius: Length
    reach: Reach = Fraction(60)


class FitTable(Table):
    """Where things may stand."""

    frame: FrameTable | None = None
    clearance: LengthOrZero | None = None
    directions: Directions = None
    plate: Side = "none"
    stands: Side = "none"
    post_radius: Length | None = None
    rollers: RollersTable | None = None
    arrange: Literal["spread", "balanced", "first"] | None = None
    link: list[LinkPlaceTable] = Field(default=[])  # a factory would be looked at anew for each of many tables
    keep_free: Sectors = ()
    unevenness: PitchShare | None = None


class TurnTable(Table):
    """How long a body's revolution should take."""

    body: Name
    seconds: PositiveNumber


class CrankTable(Table):
    """A hand crank: the length of its arm, and how fast a hand turns it."""

    radius: Length | None = None
    rpm: CrankSpeed | None = None


class DriveTable(Table):
    """The motor or a crank in its place: a pinion that works with one of the rings."""

    motor_rpm: MotorRpm | None = None
    crank: Annotated[CrankTable | None, OrNone] = Field(None, json_schema_extra=or_boolean)
    torque_ncm: Torque | None = None
    stall_ncm: Torque | None = None
    pinion_teeth: Teeth = tuple(range(5, 13))
    third_gears: Annotated[StrictInt, Field(ge=0, le=1)] = 0
    reverse_ok: StrictBool = True
    ring: Literal["any", "inner", "outer"] = "any"
    turn: TurnTable | None = None


class SearchTable(Table):
    """What is best, and when to stop."""

    rank: Rank = ("error", "parts")
    front: Front = ()
    max_error_pct: Percent = Fraction(50)
    max_drift: DriftWish | None = None
    max_parts: Count | None = None
    max_jigs: Count | None = None
    max_teeth: Count | None = None
    max_largest: Count | None = None
    max_envelope: Length | None = None
    max_new_gears: Annotated[StrictInt, Field(ge=0, le=MOST_COUNT)] | None = None
    keep: Annotated[StrictInt, Field(ge=1, le=1000)] = 10
    time_limit_s: Seconds = 60.0
    seed: Annotated[StrictInt, Field(ge=0, le=2**31 - 1)] = 1
    prove: StrictBool = False
    distinct: Literal["gears", "order"] = "gears"


class WireTable(Table):
    """What the gears are made of: with this table gears are judged as they are made."""

    stock: Bars | None = None
    loop: WireGauge | None = None
    tooth: WireGauge | None = None
    pin: WireGauge | None = None
    kerf: LengthOrZero | None = None
    cleanup: LengthOrZero | None = None
    density: Density | None = None
    neutral: Neutral | None = None
    form: StrictStr | None = None
    third: Literal["pins", "teeth", "better"] | None = None
    jig_pin: Length | None = None
    pin_length: Length | None = None
    spokes: Annotated[StrictInt, Field(ge=2, le=24)] | None = None
    sheet: Length | None = None
    arbor_diameter: Length | None = None
    hub_diameter: Length | None = None
    bearings: Few | None = None
    post_screws: Few | None = None
    roller_screws: Few | None = None
    set_screws: Few | None = None
    accuracy: LengthOrZero | None = None


class LoadsTable(Table):
    """What the model carries and how it rubs, for the sheets."""

    roller_friction: Friction | None = None
    bearing: BearingKind | None = None
    bearing_friction: Friction | None = None
    mesh_efficiency: Efficiency | None = None
    body_at: BodyAt | None = None
    hand_n: Newtons | None = None
    play_good_deg: PlayDegrees | None = None
    play_bad_deg: PlayDegrees | None = None


class SupportsTable(Table):
    """What holds the parts in the frame: arms from its bars, as far as no plate holds them."""

    model: Literal["wall", "table"] = "wall"
    arm: Length | None = None
    bar: Length | None = None
    metal: Literal["steel", "brass"] = "steel"
    sag: Length | None = None
    begins: Literal["frame", "arms"] = Field("frame", alias="from")


class SkyTable(Table):
    """How the model hangs for the sky."""

    zero_deg: HangDegrees = Fraction(90)
    seen_from: Literal["north", "south"] = "north"


class DesignFile(Table):
    """A Ringwright design file."""

    model_config = ConfigDict(title="Ringwright design file", extra="forbid", frozen=True)

    title: Annotated[StrictStr, Field(min_length=1, max_length=200)] = "Untitled"
    units: Literal["mm", "in"] = "mm"
    bodies: BodiesTable
    rings: RingsTable = RingsTable()
    arbors: ArborsTable = ArborsTable()
    fit: FitTable = FitTable()
    drive: DriveTable | None = None
    search: SearchTable = SearchTable()
    wire: WireTable | None = None
    loads: LoadsTable | None = None
    hardware: HardwareTable | None = None
    bench: BenchTable | None = None
    supports: SupportsTable | None = None
    sky: SkyTable | None = None
    made: MadeTable | None = None
