"""The table [bodies] resolved: sets and own bodies, innermost first, with names that can be told apart."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace
from itertools import pairwise

from solver.design.design import (
    Body,
)
from solver.design.errors import show, single, suggestion
from solver.design.ranges import MOST_BODIES
from solver.files.body_sets import body_sets
from solver.files.drift_wish import with_wishes
from solver.files.schema import BodiesTable, DriftWish
from solver.words.shown import seen

_BLANK = re.compile(r"blank [0-9]+")


def bodies_of(table: BodiesTable, wish: DriftWish | None = None) -> tuple[Body, ...]:
    """The bodies of a table [bodies], innermost first. wish: how far each may drift. Raises DesignError."""
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
    return with_wishes(table, bodies, wish)


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
