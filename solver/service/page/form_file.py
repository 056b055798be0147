"""From what is typed in the form to a design or sweep file, and from such a file back into the form.

Every value of a file goes into its field where that field can say it; everything else stays as text beside the form,
and is part of the file again that is made of both. So nothing of a file is lost on its way through the form.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from solver.design.errors import Complaint, DesignError, show, single
from solver.files.body_sets import body_sets
from solver.files.text import data_of
from solver.service.kept.documents import json_data
from solver.service.page.form import FIELDS, ONLY
from solver.service.page.form_field import VARIED, Field
from solver.service.page.form_rare import DRIVEN
from solver.service.page.form_values import TEXT, Unread, read, said
from solver.service.page.toml_text import toml_text

REST, BEGUN, HOW = "rest", "begun", "how"
MOST_CHARACTERS = 60_000  # of what a form is filled from
_TOO_DEEP = "lists or tables are nested too deeply"
# What a table means that is there and does not say it.
_UNSAID = {"wire.form": "saw", "supports.model": "wall"}


@dataclass(frozen=True)
class Typed:
    """What is typed and chosen. values: by the path of a field, as text; only: the bodies that are ticked, by their
    set; rest: the text beside the form; begun: set and units whose starting values the fields were given last; how: of
    choices that are what is meant anyway, whether the file that filled the form says so ("+path") or not ("-path")."""

    values: Mapping[str, str]
    only: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    rest: str = ""
    begun: str = ""
    how: frozenset[str] = frozenset()

    def __getitem__(self, path: str) -> str:
        return self.values.get(path, "")

    @property
    def ticked(self) -> tuple[str, ...]:
        """The bodies of the chosen set that are ticked."""
        return self.only.get(self["bodies.set"], ())


def empty() -> dict[str, str]:
    """What an empty form holds: of each choice the first."""
    return {path: one.choices[0][0] if one.choices else "" for path, one in FIELDS.items()}


def all_ticked() -> dict[str, tuple[str, ...]]:
    """Every body of every set."""
    return {name: tuple(body for body, _ in one.periods) for name, one in body_sets().items()}


def typed_of(pairs: Iterable[tuple[str, str]]) -> Typed:
    """What a browser sends of a form: name and value of each field, in its order."""
    values = empty()
    only: dict[str, tuple[str, ...]] = dict.fromkeys(body_sets(), ())
    how: frozenset[str] = frozenset()
    rest = begun = ""
    for name, value in pairs:
        if name in FIELDS:
            values[name] = value
        elif name.startswith(ONLY) and name.removeprefix(ONLY) in only:
            only[name.removeprefix(ONLY)] += (value,)
        elif name == REST:
            rest = value.replace("\r\n", "\n")
        elif name == BEGUN:
            begun = value
        elif name == HOW:
            how = frozenset(value.split())
    return Typed(values, only, rest, begun, how)


# -- to a file ---------------------------------------------------------------------------------------------------------


def file_text(typed: Typed) -> str:
    """The file that is meant. Raises DesignError with every field that cannot be read."""
    text, faults = file_so_far(typed)
    if faults:
        raise DesignError(faults)
    return text


def file_so_far(typed: Typed) -> tuple[str, tuple[Complaint, ...]]:
    """The file that is meant, without the fields that cannot be read, and what is wrong with these."""
    data: dict[str, Any] = {}
    faults: list[Complaint] = []
    for path, one in FIELDS.items():
        if path == DRIVEN or not one.counts(typed.values):
            continue
        if f"-{path}" in typed.how and typed[path] == _meant(one):
            if len(one.keys) > 1:
                data.setdefault(one.keys[0], {})
            continue
        told = one.usual if f"+{path}" in typed.how and not typed[path] else typed[path]
        try:
            value = read(one.kind, told)
        except Unread as fault:
            faults.append(Complaint(path, show(typed[path]), str(fault)))
            continue
        if value is not None:
            _put(data, one.keys, [value] if path.startswith(VARIED) and isinstance(value, int) else value)
    every = all_ticked().get(typed["bodies.set"], ())
    if every and set(typed.ticked) != set(every):
        data.setdefault("bodies", {})["only"] = list(typed.ticked)
    if typed[DRIVEN] and "crank" not in data.setdefault("drive", {}) and typed[DRIVEN] == "crank":
        data["drive"]["crank"] = True
    try:
        _join(data, _rest_of(typed.rest), "", faults)
    except DesignError as fault:
        faults += fault.complaints
    try:
        return toml_text(data), tuple(faults)
    except RecursionError:
        return "", (*faults, Complaint(REST, "", _TOO_DEEP))


def _meant(one: Field) -> str:
    """What a choice is where a file does not say it."""
    return _UNSAID.get(one.path, one.choices[0][0] if one.choices else "")


def _rest_of(text: str) -> dict[str, Any]:
    if len(text) > MOST_CHARACTERS:
        raise single(REST, None, f"has more than {MOST_CHARACTERS} characters; submit the whole file as text")
    try:
        return data_of(text, "") if text.strip() else {}
    except DesignError as fault:
        raise DesignError(Complaint(REST, "", one.allowed) for one in fault.complaints) from None


def _put(table: dict[str, Any], keys: tuple[str, ...], value: Any) -> None:
    *above, last = keys
    for key in above:
        table = table.setdefault(key, {})
    table[last] = value


def _join(data: dict[str, Any], rest: dict[str, Any], above: str, faults: list[Complaint]) -> None:
    """Put into the data what the text beside the form says; what both say is a fault of that field."""
    for key, value in rest.items():
        path = f"{above}.{key}" if above else key
        mine = data.get(key)
        if isinstance(mine, dict) and isinstance(value, dict):
            _join(mine, value, path, faults)
        elif mine is not None:
            faults.append(Complaint(path, "", "stands in the text beside the form as well; keep one of them"))
        else:
            data[key] = value


# -- from a file -------------------------------------------------------------------------------------------------------


def typed_from(text: str) -> Typed:
    """The form filled from the text of a design or sweep file, TOML or JSON. Raises DesignError where it cannot be read
    or is too long for a form."""
    if len(text) > MOST_CHARACTERS:
        raise single("", None, f"is longer than the form takes, {MOST_CHARACTERS} characters; submit it as text")
    try:
        return _filled(json_data(text) if text.lstrip().startswith("{") else data_of(text, ""))
    except RecursionError:
        raise single("", None, _TOO_DEEP) from None


def _filled(data: dict[str, Any]) -> Typed:
    values = empty()
    how = set()
    for path, usual in _UNSAID.items():
        table, key = path.split(".")
        if isinstance(data.get(table), dict) and key not in data[table]:
            data[table][key] = usual
            how.add(f"-{path}")
    _unquote(data)
    values[DRIVEN] = _driven(data)
    for path, one in FIELDS.items():
        if path != DRIVEN and one.counts(values):
            told = _pull(data, one.keys, one)
            if told is None and values[path]:
                how.add(f"-{path}")
            elif told and told == one.usual:
                how.add(f"+{path}")
            elif told is not None:
                values[path] = told
    only = all_ticked() | _ticked(data, values["bodies.set"])
    return Typed(values, only, toml_text(data) if data else "", "", frozenset(how))


def _unquote(data: dict[str, Any]) -> None:
    """Write a varied field of the form that stands under its path in quotes as keys in tables."""
    vary = data.get("vary")
    for path, one in FIELDS.items():
        if path.startswith(VARIED) and isinstance(vary, dict) and (quoted := path.removeprefix(VARIED)) in vary:
            table, key = one.keys[1:]
            if isinstance(vary.get(table, {}), dict) and key not in vary.get(table, {}):
                vary.setdefault(table, {})[key] = vary.pop(quoted)


def _driven(data: dict[str, Any]) -> str:
    """What drives it; a crank that is only said to be there is taken out of the data."""
    drive = data.get("drive")
    if not isinstance(drive, dict) or ("motor_rpm" in drive and "crank" in drive):
        return ""
    if "motor_rpm" in drive:
        return "motor"
    if drive.get("crank") is True or drive.get("crank") == {}:
        del drive["crank"]
        if not drive:
            del data["drive"]
        return "crank"
    return "crank" if isinstance(drive.get("crank"), dict) else ""


def _pull(table: dict[str, Any], keys: tuple[str, ...], one: Field) -> str | None:
    """The text of a field, and its value gone from the data; None where that has none, or none that the field can
    say."""
    first, *rest = keys
    if first not in table:
        return None
    value = table[first]
    if rest:
        if not isinstance(value, dict):
            return None
        told = _pull(value, tuple(rest), one)
        if told is not None and not value:
            del table[first]
        return told
    told = said(one.kind, value)
    if told is None or not told.isprintable():
        return None
    if one.choices or one.path == "bodies.set":
        known = [choice for choice, _ in one.choices] if one.choices else list(body_sets())
        if told not in (*known, one.usual):
            return None
    elif one.kind != TEXT and len(told) > 400:
        return None
    del table[first]
    return told


def _ticked(data: dict[str, Any], name: str) -> dict[str, tuple[str, ...]]:
    """The bodies of the set that are meant, taken out of the data, where boxes can say which."""
    bodies = data.get("bodies")
    only = bodies.get("only") if isinstance(bodies, dict) else None
    if not isinstance(only, list) or not name:
        return {}
    every = all_ticked()[name]
    if [body for body in every if body in only] != only or not only:
        return {}
    del data["bodies"]["only"]
    if not data["bodies"]:
        del data["bodies"]
    return {name: tuple(only)}
