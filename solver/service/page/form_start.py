"""What the form begins with for each set, and what becomes of what was typed where another set is chosen."""

from __future__ import annotations

from dataclasses import dataclass, replace

from solver.files import starting
from solver.files.body_sets import body_sets
from solver.service.page.form import FIELDS, SET
from solver.service.page.form_file import Typed, all_ticked, empty

UNITS = ("mm", "in")
_OF_LENGTHS = {
    "rings.tooth_pitch": "pitch", "rings.addendum": "addendum", "rings.rim": "rim", "rings.level_spacing": "spacing",
    "fit.clearance": "clearance", "wire.jig_pin": "jig", "wire.sheet": "sheet",
    "fit.frame.side": "side", "fit.frame.width": "side", "fit.frame.height": "side", "fit.frame.diameter": "side",
}  # fmt: skip


@dataclass(frozen=True)
class Begun:
    """The form after another set or other units were chosen. changed, kept: labels of the fields that now hold other
    starting values, and of those that hold what was typed instead."""

    typed: Typed
    changed: tuple[str, ...] = ()
    kept: tuple[str, ...] = ()


def beginning(name: str = SET, units: str = "mm") -> Typed:
    """What the form holds at first, for a set and units. Raises KeyError where there are none of that name."""
    bodies = body_sets()[name]
    begun, lengths = starting.beginning(bodies), starting.LENGTHS[units]
    values = {
        "title": bodies.title,
        "bodies.set": name,
        "units": units,
        "rings.inner_teeth": _span(begun.inner_teeth),
        "rings.tooth_step": _span(begun.tooth_step),
        "rings.blanks": _span(begun.blanks),
        "arbors.wheel_teeth": _span(starting.GEAR_TEETH),
        "arbors.pinion_teeth": _span(starting.GEAR_TEETH),
        "arbors.third_gears": str(begun.third_gears),
        "arbors.third_teeth": _span(starting.THIRD_TEETH),
        "fit.frame.shape": "square",
        "fit.directions": "24",
        "fit.unevenness": starting.UNEVENNESS,
        "wire.form": "saw",
        "search.max_error_pct": str(starting.MAX_ERROR_PCT),
        "search.keep": str(starting.KEEP),
        "search.time_limit_s": str(starting.TIME_LIMIT_S),
    }
    values |= {path: lengths[length] for path, length in _OF_LENGTHS.items()}
    values |= {f"wire.{wire}": gauge for wire, gauge in starting.GAUGES}
    return Typed(empty() | values, all_ticked(), "", f"{name} {units}")


def begun_anew(typed: Typed, all_of_it: bool = False) -> Begun:
    """The form with the starting values of the set and the units that are chosen, in every field that still holds what
    the last ones gave it; all_of_it: in every field that has one."""
    name, units = typed["bodies.set"], typed["units"]
    if name not in body_sets() or units not in UNITS:
        return Begun(typed)
    fresh = beginning(name, units)
    last = _last(typed.begun)
    values, changed, kept = dict(typed.values), [], []
    for path, value in fresh.values.items():
        before = typed[path]
        if path in ("bodies.set", "units") or value == before or not (value or last):
            continue
        if all_of_it or (last is not None and before == last[path]) or (path == "title" and _a_title(before)):
            values[path] = value
            changed.append(FIELDS[path].label)
        elif last is None or last[path] != value:
            kept.append(FIELDS[path].label)
    new = replace(typed, values=values, only=dict(typed.only) | {name: typed.ticked or fresh.ticked}, begun=fresh.begun)
    return Begun(new, tuple(changed), tuple(kept))


def _last(begun: str) -> Typed | None:
    """The starting values that the form was given last; None where it was filled otherwise."""
    name, _, units = begun.partition(" ")
    return beginning(name, units) if name in body_sets() and units in UNITS else None


def _a_title(text: str) -> bool:
    return text in {one.title for one in body_sets().values()}


def _span(span: tuple[int, int]) -> str:
    return f"{span[0]} to {span[1]}"
