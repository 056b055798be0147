"""A design file in which part of a solution stays as it is: the file's own text, with that part in its table [made],
and where it stands in fit.link."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from typing import Any

from solver.design.made import FixedLink, FixedRing
from solver.files.edited import edited, told, without
from solver.files.text import data_of
from solver.files.toml_places import TomlPlaces

Rows = Sequence[dict[str, Any]]


def held_text(
    text: str, rings: Sequence[FixedRing], links: Sequence[FixedLink], bodies: Sequence[str], head: Sequence[str]
) -> str:
    """The text of a design file, these rings and links held in its table [made], beside what stands there already; all
    else is as it was, comments too, but for those beside what [made] says already, which is written anew at the end.
    bodies: their names; head: lines of a comment at the top."""
    data = tomllib.loads(text)
    made: dict[str, Any] = data.get("made", {})
    rest = without(text, ("made",)) if "made" in data else text
    ours, same = {one.ring for one in rings}, {one.link for one in links}
    kept = [one for one in made.get("rings", ()) if one.get("ring") not in ours]
    wanted = {
        **{name: made[name] for name in ("ring_jigs", "gear_jigs", "gears") if made.get(name)},
        "rings": [*kept, *(_ring(one, bodies) for one in rings)],
        "links": [*(one for one in made.get("links", ()) if one["link"] not in same), *map(_link, links)],
    }
    comment = "".join(f"# {line}\n" for line in head)
    found = f"{comment}\n{rest.rstrip()}\n\n" + "\n".join(_table(wanted)) + "\n"
    if tomllib.loads(found) != {**data, "made": {name: value for name, value in wanted.items() if value}}:
        raise RuntimeError("a design file that says something else once part of a solution stays in it")
    return found


def standing_text(text: str, directions: Mapping[int, Fraction]) -> str:
    """The text of a design file, the arbors of these links, by number, held in their directions [degrees] by entries of
    `fit.link`: in place of the entry that a link has, else at the end; all else is as it was, comments too.

    Raises DesignError where the text is no design."""
    if not directions:
        return text
    data = data_of(text, "")
    known = data.get("fit", {}).get("link", [])
    held = {link: {"link": link, "direction": str(at)} for link, at in sorted(directions.items())}
    new = [held[link] for link in held if all(one["link"] != link for one in known)]
    wanted = [*(held.get(one["link"], one) for one in known), *new]
    text = edited(text, {**data, "fit": {**data.get("fit", {}), "link": wanted}})
    return _laid_out(text) if new else text


def settled_text(text: str, toothing: str) -> str:
    """The text of a design file that has third gears made in this way alone; all else is as it was. Raises DesignError
    where the text is no design."""
    data = data_of(text, "")
    return edited(text, {**data, "wire": {**data.get("wire", {}), "third": toothing}})


def _laid_out(text: str) -> str:
    """The text, each entry of `fit.link` on a line of its own where all of them stand on one."""
    places = TomlPlaces(text)
    found = places.of(("fit", "link"))
    if found is None or found.inline or "\n" in text[found.value : found.end]:
        return text
    items = [one for one in places.written if one.path[:-1] == found.path]
    lines = "".join(f"    {text[one.value : one.end]},\n" for one in items)
    return f"{text[: found.value]}[\n{lines}]{text[found.end :]}"


def _ring(one: FixedRing, bodies: Sequence[str]) -> dict[str, Any]:
    row: dict[str, Any] = {"ring": one.ring}
    if one.teeth is not None:
        row["teeth"] = one.teeth
    if one.body is not None:
        row["body"] = bodies[one.body]
    return row | ({"blank": True} if one.blank else {})


def _link(one: FixedLink) -> dict[str, Any]:
    row: dict[str, Any] = {"link": one.link, "wheel": one.wheel, "pinion": one.pinion}
    if one.kind != "plain":
        row["kind"] = one.kind
    return row | ({"thirds": list(one.thirds)} if one.thirds else {})


def _table(made: dict[str, Any]) -> Iterator[str]:
    yield "[made]"
    for name, value in made.items():
        if name in ("rings", "links", "gears"):
            rows: Rows = value
            if rows:
                yield f"{name} = ["
                yield from (f"    {told(row)}," for row in rows)
                yield "]"
        else:
            yield f"{name} = {told(value)}"
