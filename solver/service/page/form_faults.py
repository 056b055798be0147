"""Faults of a design where the form says them: beside which field, and in the form's words."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from solver.design.errors import Complaint
from solver.service.page.form import FIELDS
from solver.service.page.form_field import VARIED
from solver.service.page.form_file import REST, Typed
from solver.service.page.form_rare import DRIVEN
from solver.service.page.form_values import SPANS

_TABLES = {"bodies": "bodies.set", "wire": "wire.form", "supports": "supports.model", "drive": DRIVEN,
           "fit.frame": "fit.frame.shape", "fit.rollers": "fit.rollers.radius", "drive.crank": DRIVEN,
           "drive.turn": "drive.turn.body", "search.max_drift": "search.max_drift.degrees",
           "made": "made.gear_jigs", "vary": f"{VARIED}rings.tooth_step"}  # fmt: skip
_LABELS = {one.label: path for path, one in FIELDS.items()}
_PATHS = re.compile("|".join(rf"\b{re.escape(path)}\b" for path in sorted((*FIELDS, "fit.frame"), key=len, reverse=True)
                             if "." in path and not path.startswith(VARIED)))  # fmt: skip


@dataclass(frozen=True)
class FieldFault:
    """A fault. at: path of the field beside which it is said, "rest" for the text beside the form, or nothing; label:
    what that is called; text: what is wrong."""

    at: str
    label: str
    text: str

    def __str__(self) -> str:
        return f"{self.label}: {self.text}" if self.label else self.text


def faults_of(complaints: Iterable[Complaint], typed: Typed) -> tuple[FieldFault, ...]:
    """What is wrong, in the order of the form."""
    order = [*FIELDS, REST, ""]
    return tuple(sorted((_fault(one, typed) for one in complaints), key=lambda fault: order.index(fault.at)))


def _fault(one: Complaint, typed: Typed) -> FieldFault:
    at = _place(one.field, typed)
    text = _worded(one.allowed)
    if at == "":
        return FieldFault("", "", f"{one.field}{' = ' + one.value if one.value else ''}: {text}" if one.field else text)
    if at == REST:
        where = "" if one.field == REST else f"{one.field}{' = ' + one.value if one.value else ''}: "
        return FieldFault(REST, "What the form has no field for", f"{where}{one.allowed}")
    field = FIELDS[at]
    unit = typed["units"] if field.unit == "length" else field.unit
    if unit and text[-1:].isdigit():
        text = f"{text} {unit}"
    point = one.file.partition(": ")[2]
    if point:  # of a sweep
        text = f"{text} ({point})"
    return FieldFault(at, field.label, text)


def _place(path: str, typed: Typed) -> str:
    """The field beside which a fault of that path is said: its own, or that of the nearest table above it; the text
    beside the form, where no field says anything of it."""
    name = re.sub(r"\[\d+\]", "", path)
    if name == REST:
        return REST
    name = name.removeprefix("vary.")
    varied = f"{VARIED}{name}"
    if typed[varied]:
        return varied
    if name in FIELDS and FIELDS[name].counts(typed.values) and (typed[name] or not _in_rest(name, typed)):
        return name
    if typed.rest.strip() and _in_rest(name, typed):
        return REST
    while name:
        near = _TABLES.get(name, name)
        if near in FIELDS and FIELDS[near].counts(typed.values):
            return near
        name = name.rpartition(".")[0]
    return ""


def _in_rest(name: str, typed: Typed) -> bool:
    """Whether the text beside the form seems to say that field."""
    return re.search(rf'\b{re.escape(name.rpartition(".")[2])}\b"?\s*[=.\]]', typed.rest) is not None


def _worded(text: str) -> str:
    """A message for readers of files, with labels of the form in the place of the file's fields."""
    text = text.replace("a list of them, or {min = , max = , step = }", "a list “18, 24”, or a span “18 to 60 step 6”")
    text = text.replace("{min = , max = , step = }", "“18 to 60 step 6”").replace("{min = , max = }", "“18 to 60”")
    text = text.replace("needs a [wire] table", "needs a tooth form, “What gears are made of”")
    text = text.replace("is an empty range: min is greater than max", "is empty: the first number is the greater one")
    text = text.replace("needs both min and max", f"is not whole; write {SPANS}")
    return _PATHS.sub(lambda found: f"“{FIELDS[_TABLES.get(found[0], found[0])].label}”", text)
