"""The file of a train that exists: a design file with a table [train], read into what the audit takes.

A limit that the file does not state is none: where a design would fall back on a default, the train's own teeth are
allowed. Lengths that are not given are taken as in a design, and said to be.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from copy import deepcopy
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    StrictInt,
    StrictStr,
    ValidationError,
    WithJsonSchema,
)

from solver.design.complaints import from_pydantic
from solver.design.design import MM_PER_INCH, Body, Design, Drive, Rings
from solver.design.errors import DesignError, show, single, suggestion
from solver.design.exact import NotExact, parse_exact
from solver.design.kinematics import ring_ratios
from solver.design.links import KIND_BY_NAME, KINDS
from solver.design.load import data_of, design_from_data, read_text
from solver.design.schema import (
    LEAST_TEETH,
    MOST_RINGS,
    MOST_TEETH,
    BodiesTable,
    DesignFile,
    Name,
    Percent,
    PositiveNumber,
    RingsTable,
    SearchTable,
    Sense,
    Table,
    wrong,
)
from solver.design.sets_data import body_sets
from solver.design.train import Link, Train

MOST_MESHES = 100
MOST_RATIO = 10**15  # of the periods of two rings, or the turns of two arbors
NO_LIMIT = Fraction(10**60)
MEANT = Fraction(1, 200)  # degrees: a direction that is as near is meant to be that of fit.directions

Data = dict[str, Any]


# -- what may stand in [train] ----------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Stated:
    """A number as the maker states it: its text, its value, and to how many decimals; None for a fraction."""

    text: str
    value: Fraction
    decimals: int | None


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
    told = f"must be how many third gears stand between (0 to 9), or a list of their teeth (1 to {MOST_TEETH})"
    if isinstance(value, bool) or not isinstance(value, int | list | tuple):
        raise wrong(told)
    if isinstance(value, int):
        if not 0 <= value <= 9:
            raise wrong(told)
        return value
    if len(value) > 9 or any(isinstance(z, bool) or not isinstance(z, int) for z in value):
        raise wrong(told)
    if any(not 1 <= z <= MOST_TEETH for z in value):
        raise wrong(told)
    return tuple(value)


_NUMBER_JSON = {"anyOf": [{"type": "number"}, {"type": "string"}], "description": "as you state it; read exactly"}
StatedNumber = Annotated[Stated, BeforeValidator(_stated), WithJsonSchema(_NUMBER_JSON)]
StatedOrNone = Annotated[Stated | None, BeforeValidator(_stated_or_none), WithJsonSchema(_NUMBER_JSON)]
Degrees = Annotated[
    Fraction, BeforeValidator(_degrees), WithJsonSchema({"type": "number", "minimum": 0, "exclusiveMaximum": 360})
]
GearTeeth = Annotated[StrictInt, Field(ge=LEAST_TEETH, le=MOST_TEETH)]
MeshTeeth = Annotated[StrictInt, Field(ge=1, le=MOST_TEETH)]
Idlers = Annotated[
    tuple[int, ...] | int,
    BeforeValidator(_idlers),
    WithJsonSchema(
        {
            "anyOf": [
                {"type": "integer", "minimum": 0, "maximum": 9},
                {
                    "type": "array",
                    "items": {"type": "integer", "minimum": 1, "maximum": MOST_TEETH},
                    "maxItems": 9,
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
    period, in any unit; that of ring 0 is taken as exact, 1 where it is "" """

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


class MeshTrainFile(Table):
    """A file with a train of arbors that is no ring train."""

    model_config = ConfigDict(title="Ringwright audit file, other train", extra="forbid", frozen=True)

    title: Annotated[StrictStr, Field(min_length=1, max_length=200)] = "Untitled"
    bodies: BodiesTable | None = None
    search: SearchTable = SearchTable()
    train: MeshTrainTable


# -- what the audit takes ---------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Stand:
    """Where an arbor stands: direction [degrees], +1 or -1 for each third gear that stands counterclockwise or
    clockwise of it, and its distance [teeth], None where the teeth give it or the least is meant."""

    direction: Fraction
    sides: tuple[int, ...]
    radius: int | None


@dataclass(frozen=True)
class Motor:
    """The motor that there is: the ring it works with, its speed [rev/min], pinion, third gears, and its stand."""

    ring: int
    rpm: Fraction
    pinion: int
    thirds: tuple[int, ...]
    stand: Stand


@dataclass(frozen=True)
class Broken:
    """A limit of the file that the train breaks and that is found in reading: rule, where, text."""

    rule: str
    where: str
    text: str


@dataclass(frozen=True)
class RingTrain:
    """A ring train with the limits that its file states.

    design: the limits; names: of the rings; compared: whether the file gives bodies to compare with, else those of
    the design are stand-ins with the train's own periods. stands, rollers, motor: where everything stands; None: not
    given. ratios, states: what is stated for each link and ring. broken: what was found in reading. notes: what is
    taken for granted, a sentence each. source: the file's data without [train].
    """

    name: str
    design: Design
    train: Train
    names: tuple[str, ...]
    compared: bool
    directions_stated: bool
    stands: tuple[Stand, ...] | None
    rollers: tuple[tuple[Fraction, ...], ...] | None
    motor: Motor | None
    ratios: tuple[Stated | None, ...]
    states: tuple[Stated | None, ...]
    broken: tuple[Broken, ...]
    notes: tuple[str, ...]
    source: Data


@dataclass(frozen=True)
class Mesh:
    """Two gears that work together. idlers: how many third gears stand between; thirds: their teeth, where given."""

    driver: str
    driven: str
    teeth: tuple[int, int]
    idlers: int
    thirds: tuple[int, ...]
    ratio: Stated | None


@dataclass(frozen=True)
class State:
    """A stated result: turns of one arbor for a turn of another, and its sense, None where that is left open."""

    of: str
    per: str
    turns: Stated
    sense: str | None


@dataclass(frozen=True)
class Goal:
    """What an arbor should do: between low and high turns for one turn of the reference arbor; its sense against the
    arbor `against`; its own greatest error as a fraction."""

    of: str
    low: Fraction
    high: Fraction
    sense: str
    against: str
    cap: Fraction | None


@dataclass(frozen=True)
class MeshTrain:
    """A train of arbors; all turns are for one of the arbor `reference`. max_error: the overall limit as a fraction,
    None where none is stated."""

    name: str
    title: str
    reference: str
    meshes: tuple[Mesh, ...]
    states: tuple[State, ...]
    goals: tuple[Goal, ...]
    max_error: Fraction | None
    notes: tuple[str, ...]


def load_train(path: Path) -> RingTrain | MeshTrain:
    """Read the file of a train that exists. Raises DesignError (a line for each fault) and OSError."""
    return parse_train(read_text(path), str(path))


def parse_train(text: str, name: str = "train") -> RingTrain | MeshTrain:
    """Likewise from TOML text; `name` stands for the file in messages. Raises DesignError."""
    data = data_of(text, name)
    table = data.get("train")
    if table is None:
        for key in data:
            if key not in RingTrainFile.model_fields and (near := suggestion(key, ["train"])):
                raise single(key, None, f"unknown key{near}", name)
        allowed = "is missing: give the train that there is, by rings and [[train.links]] or by [[train.meshes]]"
        raise single("train", None, allowed, name)
    if not isinstance(table, dict):
        raise single("train", table, "must be a table", name)
    ring_keys = [key for key in ("rings", "links") if key in table]
    if "meshes" in table and ring_keys:
        raise single(f"train.{ring_keys[0]}", None, "a train has rings and links, or meshes, not both", name)
    model: type[BaseModel]
    if "meshes" in table:
        model = MeshTrainFile
        for key in ("units", "rings", "arbors", "fit", "drive"):
            if key in data:
                allowed = "does not belong here: of a train of meshes the turns alone are judged, not where it stands"
                raise single(key, None, allowed, name)
    else:
        model = RingTrainFile
        if not ring_keys:
            near = next((suggestion(key, ("meshes", "rings", "links")) for key in table), "")
            allowed = (
                f"needs rings and links, or meshes; [[train.links]] and [[train.meshes]] are lists of tables{near}"
            )
            raise single("train", None, allowed, name)
    try:
        file = model.model_validate(data)
    except ValidationError as fault:
        raise DesignError(from_pydantic(fault, name, model)) from None
    source = {key: value for key, value in data.items() if key != "train"}
    try:
        if isinstance(file, RingTrainFile):
            return _ring_train(file, source, name)
        assert isinstance(file, MeshTrainFile)
        return _mesh_train(file, source, name)
    except DesignError as fault:
        raise DesignError(
            [type(item)(item.field, item.value, item.allowed, name) for item in fault.complaints]
        ) from None


# -- ring trains ------------------------------------------------------------------------------------------------------


def _ring_train(file: RingTrainFile, source: Data, name: str) -> RingTrain:
    table = file.train
    count = len(table.rings)
    if count < 2:
        raise single("train.rings", table.rings, "a train has at least 2 rings")
    if len(table.links) != count - 1:
        raise single(
            "train.links", None, f"{_so_many(count, 'ring')} need {_so_many(count - 1, 'link')}; there "
            f"{'is' if len(table.links) == 1 else 'are'} {len(table.links)}",
        )  # fmt: skip
    for key, what in (("bodies", "name"), ("states", "number")):
        entries = getattr(table, key)
        if entries is not None and len(entries) != count:
            allowed = f'has {_so_many(len(entries), what)} for {count} rings; give each ring one, "" for none'
            raise single(f"train.{key}", None, allowed)
    links = tuple(_link(entry, f"train.links[{index}]") for index, entry in enumerate(table.links))
    bodies, riders, notes = _bodies_of(file, source, count)
    train = Train(tuple(table.rings), riders, links)
    _refuse_absurd(train)
    if file.rings.teeth is not None and (file.rings.inner_teeth or file.rings.tooth_step):
        raise single("rings.teeth", None, "give rings.teeth or inner_teeth and tooth_step, not both")
    design = design_from_data(_stated_limits(source, bodies, train, table.drive), name)
    compared = file.bodies is not None
    labels = tuple(table.bodies or [""] * count)
    if compared:
        on = {ring: design.bodies[index].name for index, ring in enumerate(riders)}
        labels = tuple(on.get(ring, "") for ring in range(count))
    else:
        ratios = ring_ratios(train)
        periods = zip(design.bodies, [ratios[ring] for ring in riders], strict=True)
        own = tuple(Body(body.name, period, period, "either", None) for body, period in periods)
        design = replace(design, bodies=own)
        notes.append("the file has no [bodies]: there is nothing to compare the ratios with")
    rings, broken = _ring_limits(file.rings, train, design.rings, count - len(design.bodies))
    limits = design.limits
    if "max_error_pct" not in source.get("search", {}):
        limits = replace(limits, max_error=NO_LIMIT)
    design = replace(design, rings=rings, limits=limits)
    stands = _stands(table, design)
    motor = _motor(table, count, design, stands is not None)
    rollers, design = _rollers(table, design, source, stands is not None)
    if motor is not None and design.drive is None:
        free = Drive((motor.rpm,), (motor.pinion,), len(motor.thirds), True, "any", None)
        design = replace(design, drive=free)
    notes = [*_taken_lengths(source, design), *notes]
    directions = source.get("fit", {}).get("directions", "none")
    return RingTrain(
        name, design, train, labels, compared, directions != "none", stands, rollers, motor,
        tuple(entry.ratio for entry in table.links), tuple(table.states or [None] * count),
        tuple(broken), tuple(notes), _with_bodies(source, bodies),
    )  # fmt: skip


def _so_many(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"


def _link(entry: LinkEntry, path: str) -> Link:
    """A link with its kind, which goes without saying where its third gears leave no doubt."""
    thirds, kind = tuple(entry.thirds), entry.kind
    if kind is None:
        if len(thirds) == 1:
            allowed = (
                'is missing: with one third gear say where it stands, "third-wheel" (between ring and wheel) or '
                '"third-pinion" (between pinion and the next ring)'
            )
            raise single(f"{path}.kind", None, allowed)
        kind = {0: "plain", 2: "third-both"}.get(len(thirds), "")
    elif kind not in KIND_BY_NAME:
        near = suggestion(kind, KIND_BY_NAME) or "; the kinds are " + ", ".join(KIND_BY_NAME)
        raise single(f"{path}.kind", kind, f"is no kind of link{near}")
    if not kind:
        raise single(f"{path}.thirds", thirds, "a link has at most one third gear on either side: two in all")
    due = KIND_BY_NAME[kind].thirds
    if len(thirds) != due:
        raise single(
            f"{path}.thirds", thirds, f"a link of kind {kind} has {_so_many(due, 'third gear')}, not {len(thirds)}"
        )
    return Link(kind, entry.wheel, entry.pinion, thirds)


def _refuse_absurd(train: Train) -> None:
    for index, ratio in enumerate(ring_ratios(train)):
        if not Fraction(1, MOST_RATIO) <= ratio <= MOST_RATIO:
            allowed = f"turns the ring beyond it more than 10^{len(str(MOST_RATIO)) - 1} times as slowly or as fast"
            raise single(f"train.links[{index - 1}]", None, f"{allowed} as ring 0; that is no orrery")


def _bodies_of(file: RingTrainFile, source: Data, count: int) -> tuple[Data, tuple[int, ...], list[str]]:
    """The file's table [bodies] cut down to the bodies that ride, their rings, and what to say about it."""
    labels = file.train.bodies
    named = [label for label in labels or [] if label]
    for index, label in enumerate(labels or []):
        if label and label in (labels or [])[:index]:
            raise single(f"train.bodies[{index}]", label, "rides on another ring already")
    if file.bodies is None:  # stand-ins, on the rings that are named or on all
        riders = tuple(range(count))
        names = [f"ring {ring}" for ring in riders]
        if labels and labels[0] and labels[-1]:
            riders, names = tuple(ring for ring in riders if labels[ring]), named
        return {"list": [{"name": name, "period": ring + 1} for ring, name in enumerate(names)]}, riders, []
    bodies = [body.name for body in design_from_data({"bodies": source["bodies"]}, "").bodies]
    if labels is None:
        if len(bodies) != count:
            allowed = f'is missing: {len(bodies)} bodies on {count} rings; name the body of each ring, "" for none'
            raise single("train.bodies", None, allowed)
        return source["bodies"], tuple(range(count)), []
    for index, label in enumerate(labels):
        if label and label not in bodies:
            near = suggestion(label, bodies) or "; the bodies are " + ", ".join(bodies)
            raise single(f"train.bodies[{index}]", label, f"[bodies] has no such body{near}")
    for index in (0, count - 1):
        if not labels[index]:
            allowed = (
                "the first and the last ring carry a body: nothing needs a ring inside or beyond those. Leave this "
                "ring and its link out, or leave out [bodies] and see ratios and places alone"
            )
            raise single(f"train.bodies[{index}]", "", allowed)
    riding = [(bodies.index(label), ring) for ring, label in enumerate(labels) if label]
    for (inner, _), (outer, ring) in pairwise(riding):
        if outer < inner:
            allowed = f"rides outside {show(bodies[inner])} and has the shorter period; bodies stand innermost first"
            raise single(f"train.bodies[{ring}]", bodies[outer], allowed)
    left_out = [body for body in bodies if body not in named]
    notes = [f"on no ring, and left out: {', '.join(left_out)}"] if left_out else []
    return _only(source["bodies"], named), tuple(ring for _, ring in riding), notes


def _only(table: Data, named: Sequence[str]) -> Data:
    """The table [bodies] with these bodies alone."""
    kept = dict(table)
    if "set" in kept:
        periods = [name for name, _ in body_sets()[kept["set"]].periods]
        kept["only"] = [name for name in kept.get("only", periods) if name in named]
        if not kept["only"]:
            del kept["set"], kept["only"]
    if "list" in kept:
        kept["list"] = [entry for entry in kept["list"] if entry["name"] in named]
    return kept


def _with_bodies(source: Data, bodies: Data) -> Data:
    return {**deepcopy(source), "bodies": deepcopy(bodies)}


def _stated_limits(source: Data, bodies: Data, train: Train, drive: DriveEntry | None) -> Data:
    """The file's data for a design that limits only what the file limits; ring teeth are looked at apart."""
    data = _with_bodies(source, bodies)
    rings = data.setdefault("rings", {})
    for key in ("inner_teeth", "tooth_step", "teeth", "blanks"):
        rings.pop(key, None)
    arbors = data.setdefault("arbors", {})
    thirds = [z for link in train.links for z in link.thirds]
    arbors.setdefault("third_gears", len(thirds))
    thirds += drive.thirds if drive is not None else []
    stock = arbors.get("stock")
    for key, used in (
        ("wheel_teeth", [link.wheel for link in train.links]),
        ("pinion_teeth", [link.pinion for link in train.links]),
        ("third_teeth", thirds),
    ):
        if key not in arbors and (used or stock):
            arbors[key] = stock or sorted(set(used))
    return data


def _ring_limits(table: RingsTable, train: Train, rings: Rings, blank: int) -> tuple[Rings, list[Broken]]:
    """The rings as the judge is to see them: limited where the file limits them, else as they are."""
    broken = []
    blanks = table.blanks
    if table.teeth is not None and len(table.teeth) != len(train.rings):
        text = f"has {len(train.rings)} rings; rings.teeth has {len(table.teeth)}"
        broken.append(Broken("step", "train", text))
    elif blanks is not None and blank not in blanks:
        allowed = " or ".join(map(str, blanks))
        broken.append(Broken("step", "train", f"has {_so_many(blank, 'blank ring')}; rings.blanks is {allowed}"))
    own = tuple((z,) for z in train.rings)
    base = replace(rings, inner_teeth=(), tooth_step=(), blanks=(blank,))
    if table.teeth is not None:
        return replace(base, teeth=table.teeth if len(table.teeth) == len(own) else own), broken
    if table.tooth_step is not None:
        inner = table.inner_teeth or (train.rings[0],)
        return replace(base, inner_teeth=inner, tooth_step=table.tooth_step), broken
    return replace(base, teeth=(table.inner_teeth or own[0], *own[1:])), broken


def _stands(table: RingTrainTable, design: Design) -> tuple[Stand, ...] | None:
    """Where the links stand; None where the file does not say. All of them must say it, or none."""
    entries = [(f"train.links[{index}]", entry) for index, entry in enumerate(table.links)]
    if all(entry.direction is None for _, entry in entries):
        for path, entry in entries:
            _refuse_without_direction(entry, path)
        return None
    if not design.arbors.reverted:
        path = next(path for path, entry in entries if entry.direction is not None)
        raise single(f"{path}.direction", None, "needs arbors.reverted = true: without it no places are computed")
    both = {name for name, kind in KIND_BY_NAME.items() if kind.wheel_thirds and kind.pinion_thirds}
    found = []
    for (path, entry), link in zip(entries, (_link(entry, path) for path, entry in entries), strict=True):
        if entry.direction is None:
            raise single(f"{path}.direction", None, "is missing: give a direction to every link, or to none")
        direction = _nearest(entry.direction, design)
        found.append(_stand(entry, direction, len(link.thirds), path, link.kind in both))
    return tuple(found)


def _nearest(direction: Fraction, design: Design) -> Fraction:
    """The one of fit.directions that is meant: a seventh of a turn is no decimal."""
    for known in design.fit.directions or ():
        if abs(known - direction) <= MEANT:
            return known
    return direction


def _refuse_without_direction(entry: StandEntry, path: str) -> None:
    for key in ("sides", "radius_teeth"):
        if getattr(entry, key) is not None:
            raise single(f"{path}.{key}", getattr(entry, key), f"says nothing without {path}.direction")


def _stand(entry: StandEntry, direction: Fraction, thirds: int, path: str, free: bool) -> Stand:
    """free: whether the teeth leave the arbor a choice of distances from the main axis."""
    sides = entry.sides or []
    if len(sides) != thirds:
        allowed = (
            f'give "left" or "right" for each third gear ({thirds}); seen from the main axis, left is counterclockwise '
            "of the arbor"
        )
        missing = "is missing: " if entry.sides is None else ""
        raise single(f"{path}.sides", entry.sides, missing + (allowed if thirds else "there are no third gears"))
    if entry.radius_teeth is not None and not free:
        allowed = "is given by the teeth; only an arbor that meets no ring directly may stand nearer or farther"
        raise single(f"{path}.radius_teeth", entry.radius_teeth, allowed)
    return Stand(direction, tuple(1 if side == "left" else -1 for side in sides), entry.radius_teeth)


def _motor(table: RingTrainTable, count: int, design: Design, placed: bool) -> Motor | None:
    entry = table.drive
    if entry is None:
        return None
    if not placed:
        raise single("train.drive", None, "needs the links' directions: without places no drive is judged")
    if entry.ring >= count:
        raise single("train.drive.ring", entry.ring, f"the rings are 0 to {count - 1}")
    if len(entry.thirds) > 1:
        raise single("train.drive.thirds", entry.thirds, "the drive has one third gear or none")
    if entry.direction is None:
        raise single("train.drive.direction", None, "is missing: say where the motor stands")
    direction = _nearest(entry.direction, design)
    stand = _stand(entry, direction, len(entry.thirds), "train.drive", bool(entry.thirds))
    return Motor(entry.ring, entry.motor_rpm, entry.pinion, tuple(entry.thirds), stand)


def _rollers(
    table: RingTrainTable, design: Design, source: Data, placed: bool
) -> tuple[tuple[tuple[Fraction, ...], ...] | None, Design]:
    """The rollers' directions, ring by ring, and the design with the counts of rollers that the file allows."""
    if table.rollers is None:
        return None, design
    if not placed:
        raise single("train.rollers", None, "needs the links' directions: without places no rollers are judged")
    rollers = design.fit.rollers
    if rollers is None:
        raise single("train.rollers", None, "needs fit.rollers, which says how large they are")
    found: dict[int, tuple[Fraction, ...]] = {}
    for index, entry in enumerate(table.rollers):
        path = f"train.rollers[{index}]"
        if entry.ring >= len(table.rings):
            raise single(f"{path}.ring", entry.ring, f"the rings are 0 to {len(table.rings) - 1}")
        if entry.ring in found:
            raise single(f"{path}.ring", entry.ring, "has an entry already; write one for each ring")
        if len(set(entry.directions)) != len(entry.directions):
            raise single(f"{path}.directions", None, "names a direction twice")
        if not entry.directions:
            raise single(f"{path}.directions", None, "is empty; give the directions of the ring's rollers")
        found[entry.ring] = tuple(sorted(entry.directions))
    missing = [ring for ring in range(len(table.rings)) if ring not in found]
    if missing:
        raise single(
            "train.rollers", None, f"ring {missing[0]} has none; give every ring its rollers, or leave them all out"
        )
    if "count" not in source["fit"]["rollers"]:
        counts = tuple(sorted({len(some) for some in found.values()}))
        design = replace(design, fit=replace(design.fit, rollers=replace(rollers, count=counts)))
    return tuple(found[ring] for ring in range(len(table.rings))), design


def _taken_lengths(source: Data, design: Design) -> Iterable[str]:
    """The lengths that the file does not give and that count."""
    if not design.arbors.reverted:
        return
    rings, fit = source.get("rings", {}), source.get("fit", {})
    values = design.rings
    posts = design.fit.plate != "none" or design.fit.stands != "none"
    unit = MM_PER_INCH if design.units == "in" else Fraction(1)
    frame = design.fit.frame
    wanted = (
        ("rings.tooth_pitch", not {"tooth_pitch", "module"} & set(rings), values.pitch.value),
        ("rings.addendum", "addendum" not in rings, values.addendum),
        ("fit.clearance", "clearance" not in fit, design.fit.clearance),
        ("rings.rim", "rim" not in rings and (posts or design.fit.rollers is not None), values.rim),
        ("rings.level_spacing", "level_spacing" not in rings and bool(frame and frame.depth), values.level_spacing),
        ("fit.post_radius", "post_radius" not in fit and posts, design.fit.post_radius),
    )
    taken = [f"{field} = {float(value / unit):.4g}" for field, absent, value in wanted if absent]
    if taken:
        yield f"not given, and taken to be [{design.units}]: {', '.join(taken)}"


def rival_of(ring_train: RingTrain) -> Design:
    """The design that a train competes in: its file without [train]. What the file leaves open is taken from the
    train: its rings, and teeth of small gears at least as many and as few as its own. Raises DesignError.
    """
    train, data = ring_train.train, deepcopy(ring_train.source)
    rings = data.setdefault("rings", {})
    steps = {outer - inner for inner, outer in pairwise(train.rings)}
    grow = min(steps) >= 1
    if not grow and ring_train.design.arbors.reverted and not {"teeth", "tooth_step"} & set(rings):
        allowed = "do not grow outwards; --best needs [rings] to search in"
        raise single("train.rings", train.rings, allowed, ring_train.name)
    if {"inner_teeth", "tooth_step"} & set(rings) or (grow and len(steps) == 1 and "teeth" not in rings):
        rings.setdefault("inner_teeth", train.rings[0])
        rings.setdefault("tooth_step", train.rings[1] - train.rings[0])
        rings.setdefault("blanks", len(train.rings) - len(train.places))
    elif "teeth" not in rings:
        rings["teeth"] = list(train.rings)
        rings.pop("blanks", None)
    arbors = data.setdefault("arbors", {})
    thirds = [z for link in train.links for z in link.thirds]
    arbors.setdefault("third_gears", len(thirds))
    for key, used, least, most in (
        ("wheel_teeth", [link.wheel for link in train.links], 5, 24),
        ("pinion_teeth", [link.pinion for link in train.links], 5, 24),
        ("third_teeth", thirds, 6, 20),
    ):
        arbors.setdefault(key, {"min": min([least, *used]), "max": max([most, *used])})
    return replace(design_from_data(data, ring_train.name), keep=1, front=())


# -- trains of meshes -------------------------------------------------------------------------------------------------


def _mesh_train(file: MeshTrainFile, source: Data, name: str) -> MeshTrain:
    table = file.train
    if not table.meshes:
        raise single("train.meshes", None, "is empty; give at least one mesh")
    meshes = []
    for index, entry in enumerate(table.meshes):
        path = f"train.meshes[{index}]"
        if len(entry.teeth) != 2:
            allowed = "must be two tooth counts: the driver's gear, then the driven one"
            raise single(f"{path}.teeth", entry.teeth, allowed)
        if entry.driver == entry.driven:
            raise single(f"{path}.driven", entry.driven, "is the driver itself; two gears of one arbor do not mesh")
        idlers, thirds = (entry.thirds, ()) if isinstance(entry.thirds, int) else (len(entry.thirds), entry.thirds)
        meshes.append(Mesh(entry.driver, entry.driven, (entry.teeth[0], entry.teeth[1]), idlers, thirds, entry.ratio))
    arbors = list(dict.fromkeys(arbor for mesh in meshes for arbor in (mesh.driver, mesh.driven)))
    reference = table.reference or arbors[0]
    _known(reference, arbors, "train.reference")
    states = []
    for index, state in enumerate(table.states):
        for key, arbor in (("of", state.of), ("per", state.per)):
            _known(arbor, arbors, f"train.states[{index}].{key}")
        states.append(State(state.of, state.per, state.turns, state.sense))
    goals, notes = _goals(file, source, arbors, reference)
    stated = "max_error_pct" in source.get("search", {})
    return MeshTrain(
        name, file.title, reference, tuple(meshes), tuple(states), tuple(goals),
        file.search.max_error_pct / 100 if stated else None, tuple(notes),
    )  # fmt: skip


def _known(arbor: str, arbors: list[str], path: str) -> None:
    if arbor not in arbors:
        near = suggestion(arbor, arbors) or "; the arbors are " + ", ".join(map(show, arbors))
        raise single(path, arbor, f"no mesh has such an arbor{near}")


def _goals(file: MeshTrainFile, source: Data, arbors: list[str], reference: str) -> tuple[list[Goal], list[str]]:
    """What the arbors should do: by [bodies], where they bear a body's name, and by [[train.turns]]."""
    table = file.train
    goals: list[Goal] = []
    notes = []
    if file.bodies is not None:
        if file.bodies.reference != "first":
            allowed = "does not belong here: turns are for one of train.reference; leave it out"
            raise single("bodies.reference", file.bodies.reference, allowed)
        bodies = design_from_data({"bodies": source["bodies"]}, "").bodies
        there = [body for body in bodies if body.name in arbors]
        if not there:
            raise single("bodies", None, f"no arbor bears the name of a body: they are {', '.join(map(show, arbors))}")
        missing = [body.name for body in bodies if body.name not in arbors]
        if missing:
            notes.append(f"on no arbor, and left out: {', '.join(missing)}")
        own = next((body for body in bodies if body.name == reference), None)
        period = table.reference_period
        if own is not None and period is not None:
            raise single("train.reference_period", period, f"{show(reference)} has its period in [bodies] already")
        if own is not None:
            if own.low != own.high:
                raise single("train.reference", reference, "has a period range; the reference needs one period")
            period = own.low
        if period is None:
            allowed = (
                f"is missing: how long does {show(reference)} take for a turn, in the unit of the bodies' periods? "
                "(or give the reference arbor the name of its body)"
            )
            raise single("train.reference_period", None, allowed)
        for body in there:
            sense = "either" if body is there[0] else body.sense
            goals.append(Goal(body.name, period / body.high, period / body.low, sense, there[0].name, body.cap))
    elif table.reference_period is not None:
        raise single("train.reference_period", table.reference_period, "says nothing without [bodies]")
    for index, entry in enumerate(table.turns):
        path = f"train.turns[{index}].of"
        _known(entry.of, arbors, path)
        if entry.of in [goal.of for goal in goals]:
            raise single(path, entry.of, "is told twice how it should turn")
        cap = entry.max_error_pct / 100 if entry.max_error_pct is not None else None
        goals.append(Goal(entry.of, entry.turns, entry.turns, entry.sense, reference, cap))
    return goals, notes
