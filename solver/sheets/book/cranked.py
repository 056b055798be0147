"""Words of a model with a crank: what turns it is called a motor wherever nothing else is said, and is none there."""

from __future__ import annotations

import re
from dataclasses import fields, is_dataclass, replace
from typing import Any, TypeVar

from solver.sheets.draw.drawing import Drawing, Text

_MOTOR = re.compile(r"\b([Mm])otor\b(?!_)")
_Told = TypeVar("_Told")


def of_crank(told: _Told) -> _Told:
    """The same with every motor a crank: of texts, of tuples and dataclasses of them, and of drawings their lettering;
    layers and what programs read keep their names."""
    return _changed(told)  # type: ignore[no-any-return]


def _changed(told: Any) -> Any:
    if isinstance(told, str):
        return _MOTOR.sub(lambda found: "Crank" if found[1] == "M" else "crank", told)
    if isinstance(told, tuple):
        return tuple(map(_changed, told))
    if isinstance(told, Drawing):
        shapes = tuple(replace(one, text=_changed(one.text)) if isinstance(one, Text) else one for one in told.shapes)
        return Drawing(_changed(told.name), shapes)
    if is_dataclass(told) and not isinstance(told, type):
        new = {one.name: _changed(getattr(told, one.name)) for one in fields(told)}
        changed = {name: value for name, value in new.items() if value is not getattr(told, name)}
        return replace(told, **changed) if changed else told
    return told
