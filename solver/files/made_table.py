"""The table [made] resolved: what exists already. Raises DesignError."""

from __future__ import annotations

from collections.abc import Sequence

from solver.design.design import Arbors, Body
from solver.design.errors import single, so_many, suggestion
from solver.design.links import KIND_BY_NAME
from solver.design.made import FixedLink, FixedRing, OnBench
from solver.files.made_schema import BuiltLink, BuiltRing, MadeTable


def made_of(table: MadeTable | None, bodies: Sequence[Body], most_blanks: int, arbors: Arbors) -> OnBench | None:
    """What exists already; None where the file is silent. most_blanks: how many blank rings there may be."""
    if table is None:
        return None
    count = len(bodies) + most_blanks
    gears: dict[int, int] = {}
    for index, entry in enumerate(table.gears):
        if entry.teeth in gears:
            raise single(f"made.gears[{index}].teeth", entry.teeth, "is listed twice; write one entry with its count")
        gears[entry.teeth] = entry.count
    names = [body.name for body in bodies]
    held = tuple(
        _ring(f"made.rings[{index}]", entry, names, count)
        for index, entry in enumerate(table.rings)
        if entry.ring is not None
    )
    for index, loose in enumerate(table.rings):
        if loose.ring is None:
            _refuse_nowhere(f"made.rings[{index}]", loose)
    _refuse_twice("made.rings", "ring", [one.ring for one in held])
    _refuse_twice("made.rings", "body", [names[one.body] for one in held if one.body is not None])
    links = tuple(_link(f"made.links[{index}]", entry, count - 1, arbors) for index, entry in enumerate(table.links))
    _refuse_twice("made.links", "link", [one.link for one in links])
    thirds = sum(KIND_BY_NAME[one.kind].thirds for one in links)
    if thirds > arbors.third_gears:
        told = f"have {so_many(thirds, 'third gear')}; arbors.third_gears allows {arbors.third_gears}"
        raise single("made.links", None, told)
    rings = tuple(sorted({entry.teeth for entry in table.rings if entry.ring is None and entry.teeth is not None}))
    return OnBench(
        table.ring_jigs,
        table.gear_jigs,
        tuple(sorted(gears.items())),
        rings,
        tuple(sorted(held, key=lambda one: one.ring)),
        tuple(sorted(links, key=lambda one: one.link)),
    )


def _refuse_twice(field: str, what: str, told: Sequence[int | str]) -> None:
    for one in told:
        if told.count(one) > 1:
            raise single(field, None, f"{what} {one} is listed twice")


def _refuse_nowhere(field: str, entry: BuiltRing) -> None:
    if entry.body is not None or entry.blank:
        raise single(field, None, "needs ring: its number, from 0 for the innermost; without it a ring stands nowhere")
    if entry.teeth is None:
        raise single(field, None, "needs teeth")


def _ring(field: str, entry: BuiltRing, names: Sequence[str], count: int) -> FixedRing:
    assert entry.ring is not None
    if entry.ring >= count:
        raise single(f"{field}.ring", entry.ring, f"there are at most {count} rings, 0 to {count - 1}")
    if entry.body is not None and entry.blank:
        raise single(f"{field}.blank", True, "a blank ring carries no body; give one of them")
    if entry.body is None and not entry.blank and entry.teeth is None:
        raise single(field, None, "says nothing of the ring; give teeth, body or blank = true")
    body = None
    if entry.body is not None:
        if entry.body not in names:
            near = suggestion(entry.body, names) or "; the bodies are " + ", ".join(names)
            raise single(f"{field}.body", entry.body, f"no such body{near}")
        body = names.index(entry.body)
    return FixedRing(entry.ring, entry.teeth, body, entry.blank)


def _link(field: str, entry: BuiltLink, count: int, arbors: Arbors) -> FixedLink:
    if entry.link >= count:
        raise single(f"{field}.link", entry.link, f"there are at most {so_many(count, 'link')}, 0 to {count - 1}")
    thirds = None if entry.thirds is None else tuple(entry.thirds)
    many = 0 if thirds is None else len(thirds)
    name = entry.kind or ("plain", None, "third-both")[many]
    if name is None:
        raise single(field, None, 'needs kind: "third-wheel" or "third-pinion", where the third gear stands')
    if name not in KIND_BY_NAME:
        near = suggestion(name, KIND_BY_NAME) or "; the kinds are " + ", ".join(KIND_BY_NAME)
        raise single(f"{field}.kind", name, f"no such kind{near}")
    due = KIND_BY_NAME[name].thirds
    if thirds is not None and many != due:
        raise single(f"{field}.thirds", list(thirds), f"a {name} link has {so_many(due, 'third gear')}")
    told = [("wheel", entry.wheel, arbors.wheel_teeth), ("pinion", entry.pinion, arbors.pinion_teeth)]
    told += [("third", third, arbors.third_teeth) for third in thirds or ()]
    for what, teeth, allowed in told:
        if teeth not in allowed:
            at = f"{field}.thirds" if what == "third" else f"{field}.{what}"
            raise single(at, teeth, f"is not among arbors.{what}_teeth (and arbors.stock)")
    return FixedLink(entry.link, name, entry.wheel, entry.pinion, thirds)
