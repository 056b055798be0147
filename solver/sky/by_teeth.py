"""A setting's document with what setting by teeth comes to: moves of each link, and what is left over."""

from __future__ import annotations

from typing import Any

from solver.answer.document import SolutionAnswer
from solver.sky.document import SettingDocument
from solver.sky.found import found_text
from solver.sky.setting import LinkByTeeth, TeethSetting
from solver.words.numbers import decimal

_DECIMALS = 6  # of degrees, as in the rest of the document


def with_teeth(document: SettingDocument, solution: SolutionAnswer, setting: TeethSetting) -> SettingDocument:
    """The document with `move_teeth` and `left_over_deg` of each body, with `links`, `by_teeth`, and with notes on the
    drive and on what is proven. setting: of the same solution and date."""
    bodies = [
        body.model_copy(
            update={"move_teeth": by_teeth.move_teeth, "left_over_deg": round(by_teeth.left_over_deg, _DECIMALS)}
        )
        for body, by_teeth in zip(document.bodies, setting.bodies, strict=True)
    ]
    links = [_link(move, solution.rings[move.link + 1].name) for move in setting.links]
    notes = [*document.notes, *teeth_notes(setting)]
    return document.model_copy(update={"bodies": bodies, "links": links, "by_teeth": _whole(setting), "notes": notes})


def _link(move: LinkByTeeth, beyond: str) -> dict[str, Any]:
    """A link's moves, positive counterclockwise: the ring beyond it; teeth of its wheel that the lifted arbor is turned
    on by; whole teeth that the ring is turned on by beside; how far that ring is turned in all; its least step."""
    return {
        "link": move.link,
        "ring": beyond,
        "wheel_teeth": move.wheel_teeth,
        "ring_teeth": move.ring_teeth,
        "ring_turn_deg": round(float(move.ring_turn * 360), _DECIMALS),
        "step_deg": round(float(move.step * 360), _DECIMALS),
    }


def _whole(setting: TeethSetting) -> dict[str, Any]:
    """The turn of ring 0 that comes first, whether that is "off" its place, "in" it or "left"; what is left over by the
    worst body and in all; and what of this is proven: "best", the "worst" alone, or "no"."""
    return {
        "drive_deg": round(float(setting.drive * 360), _DECIMALS),
        "ring_0": setting.first,
        "worst_deg": round(float(setting.worst * 360), _DECIMALS),
        "total_deg": round(float(setting.total * 360), _DECIMALS),
        "proven": setting.proven,
    }


def teeth_notes(setting: TeethSetting) -> list[str]:
    """What is to be known besides: the turn of ring 0 that comes first, and what is proven."""
    notes = []
    if setting.drive:
        way = "counterclockwise" if setting.drive > 0 else "clockwise"
        notes.append(f"first turn ring 0 by the drive, {way} by {decimal(abs(float(setting.drive * 360)), 2)} degrees")
    first = next((body for body in setting.bodies if body.ring == 0), None)
    if first is not None and first.left_over:
        side = "counterclockwise" if first.left_over > 0 else "clockwise"
        away = decimal(abs(first.left_over_deg), 4)
        notes.append(
            f"{first.name} on ring 0 then stands {away} degrees {side} of its place, so that the worst is less off"
        )
    lifted = sum(move.lifted for move in setting.links)
    if lifted:
        arbors = "1 arbor is" if lifted == 1 else f"{lifted} arbors are"
        notes.append(f"then {arbors} lifted, from ring 0 outwards; rings can be set against one another in steps alone")
    notes.append(found_text(setting, " degrees"))
    return notes
