"""Resolves the table [wire]: gauges to diameters, lengths to mm, fields that belong to another form refused."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Any

from solver.design.design import Wire
from solver.design.errors import DesignError, single, suggestion
from solver.design.gauges import THICKEST, THINNEST, Gauge, named_gauge
from solver.design.toothing import BETTER
from solver.files.schema import WireTable

_LENGTHS = ("kerf", "cleanup", "jig_pin", "pin_length", "sheet", "arbor_diameter", "hub_diameter", "accuracy")
_PLAIN = ("density", "neutral", "form", "third", "spokes", "bearings", "post_screws", "roller_screws", "set_screws")
_WIRES = ("loop", "tooth", "pin")
_OF_WIRE_FORMS = ("stock", *_WIRES, "kerf", "cleanup", "neutral", "jig_pin", "pin_length", "spokes", "third")
_OF_PLATE_FORMS = ("sheet",)


def wire_of(table: WireTable, scale: Fraction) -> Wire:
    """The table with its defaults; scale: millimetres in one unit of the file. Raises DesignError."""
    given = {key: getattr(table, key) for key in WireTable.model_fields if getattr(table, key) is not None}
    _refuse_foreign(given)
    values: dict[str, Any] = {key: given[key] for key in _PLAIN if key in given}
    values |= {key: given[key] * scale for key in _LENGTHS if key in given}
    values |= {key: _gauge(f"wire.{key}", given[key], scale) for key in _WIRES if key in given}
    if "stock" in given:
        values["stock"] = tuple(length * scale for length in given["stock"])
    wire = replace(Wire(), **values)
    if wire.arbor_diameter is not None and wire.hub_diameter is not None and wire.hub_diameter <= wire.arbor_diameter:
        least = f"must be greater than wire.arbor_diameter, {float(wire.arbor_diameter / scale):g}"
        raise single("wire.hub_diameter", given["hub_diameter"], least)
    return wire


def of_plate(form: str) -> bool:
    """Whether gears of a form are cut from plate."""
    from solver.forms import FORMS

    return FORMS[form].plate


def either_third(form: str) -> bool:
    """Whether third gears of a form may have pins or teeth."""
    from solver.forms import FORMS

    return len(FORMS[form].thirds) > 1


def _refuse_foreign(given: dict[str, Any]) -> None:
    """Refuse a form that is not known, and fields that the chosen form has no use for."""
    if not given:
        return
    from solver.forms import FORMS  # the registry of forms belongs to the sheets; solving does not load it

    name = given.get("form", Wire().form)
    form = FORMS.get(name)
    if form is None:
        near = suggestion(name, FORMS) or "; the forms are " + ", ".join(FORMS)
        raise single("wire.form", name, f"no such tooth form{near}")
    third, known = given.get("third", form.thirds[0]), form.thirds + ((BETTER,) if len(form.thirds) > 1 else ())
    if not form.plate and third not in known:
        told = f'third gears of the form "{name}" have {" or ".join(form.thirds)}'
        raise single("wire.third", third, told)
    for key in _OF_WIRE_FORMS if form.plate else _OF_PLATE_FORMS:
        if key in given:
            material = "plate" if form.plate else "wire"
            raise single(
                f"wire.{key}", given[key], f'does not belong here: gears of the form "{name}" are of {material}'
            )


def _gauge(field: str, value: Fraction | str, scale: Fraction) -> Gauge:
    found = named_gauge(value) if isinstance(value, str) else Gauge(float(value * scale))
    if not THINNEST <= found.mm <= THICKEST:
        raise _off(field, value, scale)
    return found


def _off(field: str, value: Fraction | str, scale: Fraction) -> DesignError:
    shown = value if isinstance(value, str) else float(value)
    least, most, unit = float(THINNEST / scale), float(THICKEST / scale), "mm" if scale == 1 else "in"
    return single(field, shown, f"must be a wire from {least:.3g} to {most:.3g} {unit} thick")
