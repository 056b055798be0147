"""The tables [rings], [fit], [drive], [arbors] and [search] resolved: lengths in millimetres, defaults filled in.

Each function raises DesignError.
"""

from __future__ import annotations

from fractions import Fraction

from solver.design.design import (
    Arbors,
    Body,
    Drive,
    Fit,
    Frame,
    Limits,
    Rings,
    Rollers,
)
from solver.design.errors import single, suggestion
from solver.design.geometry import Pitch, mm_in
from solver.design.once import Calls
from solver.design.ranges import MOST_RINGS, MOST_TEETH
from solver.files.loads_table import speeds_of
from solver.files.schema import ArborsTable, DriveTable, FitTable, FrameTable, RingsTable, SearchTable


def limits_of(search: SearchTable, units: str, reverted: bool) -> Limits:
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
        search.max_envelope * mm_in(units) if search.max_envelope is not None else None,
        search.max_new_gears,
    )


def rings_of(table: RingsTable, bodies: int, units: str, reverted: bool, once: Calls) -> Rings:
    scale = mm_in(units)
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


def fit_of(table: FitTable, reverted: bool, drive: bool, units: str) -> Fit:
    scale = mm_in(units)
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
        "fit.arrange": fit.arrange is not None,
        "fit.link": bool(fit.link),
        "fit.keep_free": bool(fit.keep_free),
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


def drive_of(table: DriveTable | None, bodies: tuple[Body, ...]) -> Drive | None:
    if table is None:
        return None
    turn = None
    if table.turn is not None:
        names = [body.name for body in bodies]
        if table.turn.body not in names:
            near = suggestion(table.turn.body, names) or "; the bodies are " + ", ".join(names)
            raise single("drive.turn.body", table.turn.body, f"no such body{near}")
        turn = (names.index(table.turn.body), table.turn.seconds)
    return Drive(speeds_of(table), table.pinion_teeth, table.third_gears, table.reverse_ok, table.ring, turn)


def arbors_of(table: ArborsTable) -> Arbors:
    stock = set(table.stock)
    kept = {}
    for key in ("wheel_teeth", "pinion_teeth", "third_teeth"):
        choice = getattr(table, key)
        kept[key] = tuple(z for z in choice if not stock or z in stock)
        if not kept[key] and (key != "third_teeth" or table.third_gears > 0):
            span = f"{choice[0]} to {choice[-1]}"
            raise single("arbors.stock", table.stock, f"has no count that arbors.{key} allows ({span})")
    return Arbors(third_gears=table.third_gears, reverted=table.reverted, **kept)
