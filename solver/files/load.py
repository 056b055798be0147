"""From the file's bytes to a Design: everything that can be wrong with a file is found and said here."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from solver.design.bounds import MOST_BODIES, MOST_RINGS, MOST_TEETH
from solver.design.design import (
    MM_PER_INCH,
    MOST_STRUCTURES,
    Arbors,
    Body,
    Design,
    Drive,
    Fit,
    Frame,
    Limits,
    Rings,
    Rollers,
    Wire,
)
from solver.design.errors import DesignError, show, single, suggestion
from solver.design.geometry import Pitch
from solver.design.once import Calls, each_time
from solver.files.body_sets import body_sets
from solver.files.complaints import from_pydantic
from solver.files.schema import (
    ArborsTable,
    BodiesTable,
    DesignFile,
    DriveTable,
    FitTable,
    FrameTable,
    RingsTable,
    SearchTable,
    WireTable,
    exact_float,
)
from solver.files.wire_table import wire_of
from solver.words.shown import seen

MOST_BYTES = 1_000_000
MOST_KEY_PARTS = 100
MOST_MARKS = 200_000  # characters that begin keys, values and lines; each costs time to read
MOST_KEYS, MOST_KEY_CHARACTERS = 1000, 100  # of a table, and of a key
MOST_BITS = 14_000  # of an integer; Python writes out no more than 4300 digits
_TOO_LONG = "not usable TOML: a number has too many digits"
_BLANK = re.compile(r"blank [0-9]+")
_KEY_PART = r"""(?:[\w-]++|"(?:[^"\\\n]|\\.)*+"|'[^'\n]*+')"""
# A key of more parts than there may be; or what is passed over: texts and comments, for what is in them, and a key's
# part. A text that does not end is passed over as a whole, or it would be read again from every quote in it; one of
# several lines may end with two quotes more, which are its own.
_LONG_KEYS = re.compile(
    r"""(?s:"{3}(?:[^"\\]|\\.|"{1,2}(?!"))*+(?:"{3,5}|\\?\Z))|\#[^\n]*+"""
    r"""|(?s:'{3}(?:[^']|'{1,2}(?!'))*+(?:'{3,5}|\Z))"""
    rf"""|(?P<long>(?>(?:{_KEY_PART}[ \t]*+\.[ \t]*+){{{MOST_KEY_PARTS}}}))"""
    r"""|[\w-]++|"(?:[^"\\\n]|\\.)*+"?|'[^'\n]*+'?"""
)

File = TypeVar("File", bound=BaseModel)


def load_design(path: Path) -> Design:
    """Read and resolve a design file. Raises DesignError and OSError (missing, unreadable, a folder)."""
    return parse_design(read_text(path), str(path))


def read_text(path: Path) -> str:
    """The file's text: UTF-8, at most a million bytes. Raises DesignError and OSError."""
    with path.open("rb") as stream:
        data = stream.read(MOST_BYTES + 1)
    if len(data) > MOST_BYTES:
        raise single(
            "", None, f"the file is larger than {MOST_BYTES} bytes; a design file is a few kilobytes", str(path)
        )
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        line = data.count(b"\n", 0, fault.start) + 1
        allowed = f"not UTF-8 text: byte 0x{data[fault.start]:02x} in line {line}; save the file as UTF-8"
        raise single("", None, allowed, str(path)) from None


def parse_design(text: str, name: str) -> Design:
    """Resolve TOML text; `name` stands for the file in messages. Raises DesignError."""
    return design_from_data(data_of(text, name), name)


def data_of(text: str, name: str) -> dict[str, Any]:
    """TOML text as plain data, numbers read exactly. Raises DesignError."""
    _refuse_long_keys(text, name)
    refuse_crowded(text, name)
    try:
        data = tomllib.loads(text.replace("\r\n", "\n"), parse_float=exact_float)
    except tomllib.TOMLDecodeError as fault:
        raise single("", None, f"not valid TOML: {_located(str(fault), text)}", name) from None
    except ValueError:
        raise single("", None, _TOO_LONG, name) from None
    except RecursionError:
        raise single("", None, "not usable TOML: lists or tables are nested too deeply", name) from None
    refuse_unsayable(data, name)
    return data


def refuse_crowded(text: str, name: str, marks: str = "\n=,[{.") -> None:
    """Refuse text that is all keys and values, far more than any design has, before it is read: counting is cheap.
    marks: the characters that are counted. Raises DesignError."""
    count = sum(map(text.count, marks))
    if count > MOST_MARKS:
        raise single("", None, f"more than {MOST_MARKS} keys, values and lines: {count} were counted", name)


def _refuse_long_keys(text: str, name: str) -> None:
    """Refuse what takes hours to read: the time for a dotted key grows with the square of its parts."""
    if all(line.count(".") < MOST_KEY_PARTS for line in text.split("\n")):
        return
    for found in _LONG_KEYS.finditer(text):
        if found["long"]:
            line = text.count("\n", 0, found.start()) + 1
            raise single("", None, f"not usable TOML: a key of more than {MOST_KEY_PARTS} parts in line {line}", name)


def refuse_unsayable(data: dict[str, Any], name: str) -> None:
    """Refuse integers that Python does not write out in decimal, in another base it reads them all the same; keys that
    are too long to be shown, and tables with far more keys than any has. Raises DesignError."""
    left: list[Any] = [data]
    while left:
        value = left.pop()
        if isinstance(value, int):
            if value.bit_length() > MOST_BITS:
                raise single("", None, _TOO_LONG, name)
        elif isinstance(value, dict):
            if len(value) > MOST_KEYS:
                raise single("", None, f"a table with {len(value)} keys; at most {MOST_KEYS}", name)
            for key in value:
                if len(key) > MOST_KEY_CHARACTERS:
                    raise single(
                        "", None, f"the key {show(key)} has {len(key)} characters; at most {MOST_KEY_CHARACTERS}", name
                    )
            left.extend(value.values())
        elif isinstance(value, list):
            left.extend(value)


def _located(message: str, text: str) -> str:
    """The parser's message on one line, its "end of document" replaced by that line and column."""
    lines = text.rstrip("\n").split("\n")
    return " ".join(message.split()).replace("at end of document", f"at line {len(lines)}, column {len(lines[-1]) + 1}")


def design_from_data(data: dict[str, Any], name: str) -> Design:
    """Resolve a design given as plain data with the file's tables and keys. Raises DesignError."""
    file = by_schema(DesignFile, data, name)
    try:
        return resolve(file)
    except DesignError as fault:
        raise fault.in_file(name) from None


def by_schema(schema: type[File], data: dict[str, Any], name: str) -> File:
    """Plain data as the tables of a schema. Raises DesignError with every fault found."""
    _refuse_crowds(data, name)
    try:
        return schema.model_validate(data)
    except ValidationError as fault:
        raise DesignError(from_pydantic(fault, name, schema)) from None


def _refuse_crowds(data: dict[str, Any], name: str) -> None:
    """Refuse a list of bodies that is far too long before each of its entries is looked at."""
    bodies = data.get("bodies")
    entries = bodies.get("list") if isinstance(bodies, dict) else None
    if isinstance(entries, list) and len(entries) > MOST_BODIES:
        raise single("bodies.list", None, f"has {len(entries)} bodies; at most {MOST_BODIES}", name)


def resolve(file: DesignFile, once: Calls = each_time) -> Design:
    """The tables of a file as a design. once: how to call what follows from some of the tables alone.

    Raises DesignError.
    """
    bodies = once(bodies_of, file.bodies)
    first = bodies[0]
    if file.bodies.reference == "first" and first.low != first.high:
        raise single(
            "bodies.reference",
            file.bodies.reference,
            f'{show(first.name)} has a period range; use reference = "best" or a period',
        )
    reverted, search = file.arbors.reverted, file.search
    rings = once(_rings, file.rings, len(bodies), file.units, reverted, once)
    limits = once(_limits, search, file.units, reverted)
    design = Design(
        file.title,
        file.units,
        bodies,
        file.bodies.reference,
        rings,
        once(_arbors, file.arbors),
        once(_fit, file.fit, reverted, file.drive is not None, file.units),
        once(_drive, file.drive, bodies),
        search.rank,
        search.front,
        limits,
        search.keep,
        search.time_limit_s,
        search.seed,
        once(_wire, file.wire, file.units),
    )
    once(_refuse_impossible_lengths, rings, design.arbors, design.fit, design.drive, file.units)
    if design.structure_count() > MOST_STRUCTURES:
        raise single(
            "rings.teeth" if rings.teeth is not None else "rings.blanks",
            rings.blanks[0] if len(rings.blanks) == 1 else list(rings.blanks),
            f"makes {design.structure_count()} ring structures; at most {MOST_STRUCTURES} are searched",
        )
    return design


def _scale(units: str) -> Fraction:
    """Millimetres in one unit of the file."""
    return MM_PER_INCH if units == "in" else Fraction(1)


def _limits(search: SearchTable, units: str, reverted: bool) -> Limits:
    if search.max_envelope is not None and not reverted:
        raise single(
            "search.max_envelope",
            search.max_envelope,
            "needs arbors.reverted = true: without it no places are computed",
        )
    return Limits(
        search.max_error_pct / 100,
        search.max_parts,
        search.max_jigs,
        search.max_teeth,
        search.max_largest,
        search.max_envelope * _scale(units) if search.max_envelope is not None else None,
    )


def _wire(table: WireTable, units: str) -> Wire:
    return wire_of(table, _scale(units))


def _refuse_impossible_lengths(rings: Rings, arbors: Arbors, fit: Fit, drive: Drive | None, units: str) -> None:
    """Where places are computed: a ring has a hole, and a post is no thicker than what it carries, nor a stand than the
    gears."""
    if fit.directions is None:
        return
    scale = _scale(units)

    def refuse(field: str, length: Fraction, most: float, what: str) -> DesignError:
        return single(field, float(length / scale), f"must be less than {what}, {most / float(scale):.4g} {units}")

    least = Fraction(1, 10)
    pitch = rings.pitch.value * (3 if rings.pitch.is_module else 1)
    if pitch < least:
        field = "rings.module" if rings.pitch.is_module else "rings.tooth_pitch"
        what = f"makes teeth smaller than {float(least)} mm, too small to place to the micrometre"
        raise single(field, float(rings.pitch.value / scale), what)
    smallest = min(rings.inner_teeth) if rings.teeth is None else min(rings.teeth[0])
    hole = rings.pitch.radius_mm(smallest)
    if rings.rim and float(rings.rim) >= hole:
        raise refuse("rings.rim", rings.rim, hole, "the pitch radius of the innermost ring")
    if fit.plate != "none" or fit.stands != "none":  # so that no post or stand reaches out farther than the gears
        gears = (*arbors.wheel_teeth, *arbors.pinion_teeth)
        if drive is not None:
            gears = (*gears, *drive.pinion_teeth)
        if arbors.third_gears or (drive is not None and drive.third_gears):
            gears = (*gears, *arbors.third_teeth)
        thinnest = rings.pitch.radius_mm(min(gears))
        if float(fit.post_radius) >= thinnest:
            raise refuse("fit.post_radius", fit.post_radius, thinnest, "the pitch radius of the smallest gear")
    if fit.plate != "none" and fit.rollers is not None and fit.post_radius >= fit.rollers.radius:
        raise refuse("fit.post_radius", fit.post_radius, float(fit.rollers.radius), "the radius of the rollers")


def bodies_of(table: BodiesTable) -> tuple[Body, ...]:
    """The bodies of a table [bodies], innermost first. Raises DesignError."""
    chosen = _from_set(table)
    listed = {body.name for body in chosen}
    own: list[Body] = []
    changed: set[str] = set()
    for index, entry in enumerate(table.own):
        path = f"bodies.list[{index}]"
        if entry.period is not None and entry.period_range is not None:
            raise single(f"{path}.period_range", None, "give period or period_range, not both")
        cap = entry.max_error_pct / 100 if entry.max_error_pct is not None else None
        sense = entry.sense or table.sense
        if entry.period is None and entry.period_range is None:
            if entry.name not in listed:
                near = suggestion(entry.name, listed)
                raise single(f"{path}.name", entry.name, f"has no period, and no set has a body of that name{near}")
            if entry.name in changed:
                raise single(f"{path}.name", entry.name, "is changed by two entries; write one")
            changed.add(entry.name)
            chosen = [
                replace(b, sense=sense, cap=cap) if b.name == entry.name else b for b in chosen
            ]  # fmt: skip
            continue
        low, high = entry.period_range or (entry.period, entry.period)
        assert low is not None and high is not None
        _refuse_name(f"{path}.name", entry.name, [*listed, *(body.name for body in own)])
        body = Body(entry.name, low, high, sense, cap)
        if own and not (own[-1].low < low and own[-1].high < high):
            before = own[-1]
            value = float(low) if low == high else [float(low), float(high)]
            raise single(
                f"{path}.{'period' if low == high else 'period_range'}",
                value,
                f"must be longer than that of {show(before.name)} before it; bodies stand innermost first",
            )
        own.append(body)
    bodies = sorted([*chosen, *own], key=lambda body: (body.low, body.high))
    for inner, outer in pairwise(bodies):
        if not (inner.low < outer.low and inner.high < outer.high):
            raise single(
                "bodies", None, f"{show(inner.name)} and {show(outer.name)} have no order: their periods overlap"
            )
    if len(bodies) < 2:
        raise single("bodies", None, f"at least 2 are needed, there are {len(bodies)}; give bodies.set or bodies.list")
    if len(bodies) > MOST_BODIES:
        raise single("bodies", None, f"has {len(bodies)} bodies; at most {MOST_BODIES}")
    first = bodies[0]
    if first.sense == "reverse":
        told = any(entry.name == first.name and entry.sense == "reverse" for entry in table.own)
        if told:
            raise single("bodies", None, f'{show(first.name)} rides on ring 0, whose sense is "same" by definition')
        bodies[0] = replace(first, sense="same")  # "reverse" for all is meant against the first
    return tuple(bodies)


def _refuse_name(path: str, name: str, others: Iterable[str]) -> None:
    """Refuse a body's name that a reader could not tell from another one."""
    what = seen(name).casefold()
    if not what:
        raise single(path, name, "has no letter that is seen")
    if _BLANK.fullmatch(what):
        raise single(path, name, "is what rings without a body are called; choose another name")
    for other in others:
        if other == name:
            raise single(path, name, "a body of that name is already there; names must differ")
        if seen(other).casefold() == what:
            allowed = f"cannot be told from {show(other)}: names must differ in more than case, space or hidden signs"
            raise single(path, name, allowed)


def _from_set(table: BodiesTable) -> list[Body]:
    sets = body_sets()
    if table.set_name is None:
        if table.only is not None:
            raise single("bodies.only", table.only, "chooses from a set; give bodies.set")
        return []
    if table.set_name not in sets:
        near = suggestion(table.set_name, sets) or "; the sets are " + ", ".join(sets)
        raise single("bodies.set", table.set_name, f"no set of that name{near}")
    periods = sets[table.set_name].periods
    names = [name for name, _ in periods]
    for index, name in enumerate(table.only or []):
        if name not in names:
            near = suggestion(name, names) or "; it has " + ", ".join(names)
            raise single(f"bodies.only[{index}]", name, f'the set "{table.set_name}" has no such body{near}')
    if table.only is not None and len(set(table.only)) != len(table.only):
        raise single("bodies.only", table.only, "names a body twice")
    return [
        Body(name, period, period, table.sense, None)
        for name, period in periods
        if table.only is None or name in table.only
    ]


def _rings(table: RingsTable, bodies: int, units: str, reverted: bool, once: Calls) -> Rings:
    scale = _scale(units)
    if table.module is not None and table.tooth_pitch is not None:
        raise single("rings.module", table.module, "give tooth_pitch or module, not both")
    if table.module is not None:
        pitch = Pitch(table.module * scale, True)
        unit = pitch.value * 3  # near enough to pi for the defaults below
    else:
        pitch = Pitch(table.tooth_pitch * scale if table.tooth_pitch is not None else Fraction(12), False)
        unit = pitch.value
    lengths = (
        table.addendum * scale if table.addendum is not None else unit / 3,
        table.rim * scale if table.rim is not None else unit / 2,
        table.level_spacing * scale if table.level_spacing is not None else Fraction(14),
    )
    if table.teeth is not None:
        teeth = once(_growing, table.teeth, reverted)
        return Rings((), (), (_explicit_blanks(table, bodies),), teeth, pitch, *lengths)
    inner, step, blanks = table.inner_teeth or (24,), table.tooth_step or (6,), table.blanks or (0,)
    count = bodies + blanks[-1]
    if count > MOST_RINGS:
        raise single("rings.blanks", blanks[-1], f"gives {count} rings with {bodies} bodies; at most {MOST_RINGS}")
    largest = inner[-1] + (count - 1) * step[-1]
    if largest > MOST_TEETH:
        raise single("rings.tooth_step", step[-1], f"gives the outermost ring {largest} teeth; at most {MOST_TEETH}")
    return Rings(inner, step, blanks, None, pitch, *lengths)


def _explicit_blanks(table: RingsTable, bodies: int) -> int:
    assert table.teeth is not None
    refuse_rings_told_twice(table)
    blanks = len(table.teeth) - bodies
    if blanks < 0:
        raise single("rings.teeth", None, f"has {len(table.teeth)} rings for {bodies} bodies; give each body a ring")
    if table.blanks is not None and table.blanks != (blanks,):
        raise single(
            "rings.blanks",
            table.blanks[0] if len(table.blanks) == 1 else list(table.blanks),
            f"rings.teeth has {len(table.teeth)} rings for {bodies} bodies: {blanks} are blank",
        )
    return blanks


def refuse_rings_told_twice(table: RingsTable) -> None:
    """Refuse rings that are given by their teeth and by a step as well. Raises DesignError."""
    for key in ("inner_teeth", "tooth_step"):
        value = getattr(table, key)
        if table.teeth is not None and value is not None:
            raise single(f"rings.{key}", value[0], "give rings.teeth or inner_teeth and tooth_step, not both")


def _growing(teeth: tuple[tuple[int, ...], ...], reverted: bool) -> tuple[tuple[int, ...], ...]:
    """Cut off what no train with growing rings can use. Without places (reverted = false) rings need not grow."""
    if not reverted:
        return teeth
    upward: list[tuple[int, ...]] = []
    for index, choice in enumerate(teeth):
        usable = tuple(z for z in choice if not upward or z > upward[-1][0])
        if not usable:
            raise single(
                f"rings.teeth[{index}]",
                choice,
                f"must be larger than the ring before it, which has at least {upward[-1][0]}",
            )
        upward.append(usable)
    downward = [upward[-1]]
    for index in range(len(upward) - 2, -1, -1):
        downward.append(tuple(z for z in upward[index] if z < downward[-1][-1]))
    return tuple(reversed(downward))


_USUAL_DIRECTIONS = tuple(Fraction(15 * index) for index in range(24))


def _fit(table: FitTable, reverted: bool, drive: bool, units: str) -> Fit:
    scale = _scale(units)
    directions: tuple[Fraction, ...] | None
    if table.directions == "none" or not reverted:
        wanted = [key for key, there in _placed(table, drive).items() if there]
        if wanted:
            why = "arbors.reverted = true" if table.directions != "none" else 'fit.directions other than "none"'
            raise single(wanted[0], None, f"needs {why}: without it no places are computed")
        directions = None
    else:
        directions = table.directions or _USUAL_DIRECTIONS
    if table.stands == "inner" and directions is not None:
        # What links a ring to the next smaller one reaches, on the level of that one, from its teeth to an arbor beyond
        # the teeth of the larger one: across any circle that the body of the larger one could sweep there.
        why = "rings grow outwards, and what drives a ring lies across the circle that its body would sweep there"
        raise single("fit.stands", table.stands, f'{why}; use "outer" or "none"')
    rollers = None
    if table.rollers is not None:
        rollers = Rollers(table.rollers.count, table.rollers.radius * scale, table.rollers.reach)
    return Fit(
        None if table.frame is None else _frame(table.frame, scale),
        table.clearance * scale if table.clearance is not None else Fraction(3, 2),
        directions,
        table.plate,
        table.stands,
        table.post_radius * scale if table.post_radius is not None else _usual_post(rollers),
        rollers,
    )


def _usual_post(rollers: Rollers | None) -> Fraction:
    """2 mm, but not thicker than half a roller."""
    return Fraction(2) if rollers is None else min(Fraction(2), rollers.radius / 2)


def _placed(fit: FitTable, drive: bool) -> dict[str, bool]:
    """The fields that need places, and whether they ask for something."""
    return {
        "fit.frame": fit.frame is not None,
        "fit.directions": fit.directions not in (None, "none"),
        "fit.plate": fit.plate != "none",
        "fit.stands": fit.stands != "none",
        "fit.rollers": fit.rollers is not None,
        "drive": drive,
    }


_SIZES = {"square": ("side",), "rectangle": ("width", "height"), "round": ("diameter",)}


def _frame(table: FrameTable, scale: Fraction) -> Frame:
    wanted = _SIZES[table.shape]
    for key in ("side", "width", "height", "diameter"):
        value = getattr(table, key)
        if (value is not None) != (key in wanted):
            told = "is missing" if value is None else "does not belong here"
            raise single(f"fit.frame.{key}", value, f"{told}: a {table.shape} frame has {' and '.join(wanted)}")
    sizes = [getattr(table, key) * scale for key in wanted]
    return Frame(table.shape, sizes[0], sizes[-1], table.depth * scale if table.depth is not None else None)


def _drive(table: DriveTable | None, bodies: tuple[Body, ...]) -> Drive | None:
    if table is None:
        return None
    turn = None
    if table.turn is not None:
        names = [body.name for body in bodies]
        if table.turn.body not in names:
            near = suggestion(table.turn.body, names) or "; the bodies are " + ", ".join(names)
            raise single("drive.turn.body", table.turn.body, f"no such body{near}")
        turn = (names.index(table.turn.body), table.turn.seconds)
    return Drive(table.motor_rpm, table.pinion_teeth, table.third_gears, table.reverse_ok, table.ring, turn)


def _arbors(table: ArborsTable) -> Arbors:
    stock = set(table.stock)
    kept = {}
    for key in ("wheel_teeth", "pinion_teeth", "third_teeth"):
        choice = getattr(table, key)
        kept[key] = tuple(z for z in choice if not stock or z in stock)
        if not kept[key] and (key != "third_teeth" or table.third_gears > 0):
            span = f"{choice[0]} to {choice[-1]}"
            raise single("arbors.stock", table.stock, f"has no count that arbors.{key} allows ({span})")
    return Arbors(third_gears=table.third_gears, reverted=table.reverted, **kept)
