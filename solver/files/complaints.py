"""Pydantic's faults, said in the project's words: one line each with field path, value and what is allowed."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, get_args, get_origin

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo

from solver.design.errors import Complaint, show, suggestion

MOST_COMPLAINTS = 20
# Tables and keys by which a file is known to be of another kind, and the command that takes it.
_ELSEWHERE = {"train": "audit", "vary": "sweep", "point": "sweep", "base": "sweep"}


def dotted(loc: Iterable[int | str]) -> str:
    """`bodies.list[2].period` from ("bodies", "list", 2, "period")."""
    path = ""
    for part in loc:
        path += f"[{part}]" if isinstance(part, int) else f".{part}" if path else str(part)
    return path


def _keys(table: Any) -> dict[str, FieldInfo]:
    """The keys of a table class as they stand in the file; none for anything else."""
    if not (isinstance(table, type) and issubclass(table, BaseModel)):
        return {}
    return {field.alias or name: field for name, field in table.model_fields.items()}


def _table_at(loc: Iterable[int | str], root: type[BaseModel]) -> Any:
    """The table class that a path in the file leads to, to know which keys it has."""
    table: Any = root
    named = False
    for part in loc:
        if isinstance(part, int) or named:  # of a list; a name that the file has chosen
            named = False
            continue
        keys = _keys(table)
        if part not in keys:
            return None
        table = keys[part].annotation
        while get_args(table):
            named = get_origin(table) is dict
            table = get_args(table)[-1 if named else 0]
    return table


def _unknown_key(loc: tuple[int | str, ...], root: type[BaseModel]) -> str:
    if len(loc) == 1 and loc[0] in _ELSEWHERE:
        return f"not of this kind of file; ringwright {_ELSEWHERE[loc[0]]} takes it"
    known = _keys(_table_at(loc[:-1], root))
    near = suggestion(str(loc[-1]), known)
    return f"unknown key{near}" if near else f"unknown key; known here: {', '.join(known)}"


def _literal(error: Any) -> str:
    allowed = error["ctx"]["expected"].replace("'", '"').replace(" or ", ", ")
    value = error["input"]
    words = [word.strip(' "') for word in allowed.split(",")]
    near = suggestion(value, words) if isinstance(value, str) else ""
    return f"must be one of {allowed}{near}"


def allowed(error: Any, root: type[BaseModel] = BaseModel) -> str:
    """One of Pydantic's errors as what is allowed. root: the schema, which knows the keys of its tables."""
    kind, context = error["type"], error.get("ctx", {})
    match kind:
        case "extra_forbidden":
            return _unknown_key(error["loc"], root)
        case "literal_error":
            return _literal(error)
        case "missing":
            return "is missing"
        case "ringwright":
            return str(context["allowed"])
        case "int_type" | "int_parsing" | "int_parsing_size":
            return "must be a whole number"
        case "string_unicode":
            return "must be text that UTF-8 can hold"
        case "string_type":
            return "must be text in quotes"
        case "bool_type" | "bool_parsing":
            return "must be true or false"
        case "list_type":
            return "must be a list"
        case "model_type" | "model_attributes_type" | "dict_type":
            return "must be a table"
        case "greater_than_equal":
            return f"must be at least {context['ge']}"
        case "less_than_equal":
            return f"must be at most {context['le']}"
        case "string_too_short":
            return "must not be empty"
        case "string_too_long":
            return f"must have at most {context['max_length']} characters"
        case "too_long":
            return f"is given {context['actual_length']} times; at most {context['max_length']}"
        case "string_pattern_mismatch":
            return f"must be of the form {context['pattern']}"
    return str(error["msg"])


def from_pydantic(fault: ValidationError, file: str, root: type[BaseModel]) -> list[Complaint]:
    """Every fault of one validation of a file by its schema `root`, at most twenty, each as one line."""
    found = []
    for error in fault.errors(include_url=False)[:MOST_COMPLAINTS]:
        value = "" if error["type"] in {"missing", "extra_forbidden"} else show(error["input"])
        found.append(Complaint(dotted(error["loc"]), value, allowed(error, root), file))
    rest = fault.error_count() - len(found)
    if rest:
        found.append(Complaint("", "", f"and {rest} more faults", file))
    return found
