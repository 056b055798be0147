"""The rule `level` for exhaustive enumeration: parts thicker than their levels leave, in plain floats.

What is fixed on one arbor is told link by link (`arbors_hold`), all else of what is placed (`levels_legal`).
"""

from __future__ import annotations

import math
import random
import re

from brute import SIDES
from brute_places import enough, things

from solver import Design
from solver.design.train import Link, Train

PLATE = ("cycloidal", "involute")
PER_MM = 1e-9  # of what floats add


def arbor_mm(design: Design) -> float:
    wire = design.wire
    return 2 * float(design.fit.post_radius) + 2 if wire.arbor_diameter is None else float(wire.arbor_diameter)


def toothed_mm(design: Design) -> float:
    """How thick a ring is."""
    wire = design.wire
    return float(wire.sheet) if wire.form in PLATE else wire.loop.mm + wire.tooth.mm


def pins_mm(design: Design) -> float:
    wire = design.wire
    free = toothed_mm(design) + 2 * max(1.0, float(design.fit.clearance))
    return free + 2 * wire.loop.mm if wire.pin_length is None else float(wire.pin_length)


def thick_mm(design: Design, role: str) -> float:
    """How thick a gear without its hub is; role: "gear", "third" or "behind"."""
    pinned = {"gear": True, "third": design.wire.third == "pins", "behind": design.wire.third == "teeth"}[role]
    return pins_mm(design) if pinned and design.wire.form not in PLATE else toothed_mm(design)


def loops_hold(design: Design) -> bool:
    """Whether a ring turns between the loops of pins."""
    return design.wire.form in PLATE or pins_mm(design) - 2 * design.wire.loop.mm >= toothed_mm(design) - PER_MM


def arbors_hold(design: Design, link: Link) -> bool:
    """Whether wheel and pinion, with their hubs, do not overlap."""
    deep = [max(thick_mm(design, "behind" if third else "gear"), arbor_mm(design)) for third in SIDES[link.kind]]
    return sum(deep) / 2 <= float(design.rings.level_spacing) + PER_MM


def touch(design: Design, one: float, other: float, levels: int) -> bool:
    """Whether things of these thicknesses do along the axis."""
    need = (one + other) / 2 + float(design.fit.clearance)
    return not enough(levels * float(design.rings.level_spacing) + PER_MM * 10**4, need)


def within_depth(design: Design, thick: float, level: int, count: int) -> bool:
    """Whether it keeps half the clearance from either end of the frame's depth, in whose middle the levels stand."""
    frame, spacing = design.fit.frame, float(design.rings.level_spacing)
    if frame is None or frame.depth is None:
        return True
    room = float(frame.depth) - (count - 1) * spacing - thick - float(design.fit.clearance)
    return room / 2 + min(level, count - 1 - level) * spacing >= -PER_MM


def rings_apart(design: Design, lengths, rings) -> bool:
    """Whether rings on different levels touch nowhere."""
    thick = toothed_mm(design)
    for i, inner in enumerate(rings):
        if not within_depth(design, thick, i, len(rings)):
            return False
        for j, outer in list(enumerate(rings))[i + 1 :]:
            hole, tip = outer * lengths.tooth - lengths.rim, inner * lengths.tooth + lengths.add
            if touch(design, thick, thick, j - i) and not enough(hole, tip + lengths.clear):
                return False
    return True


def beside_rings(design: Design, lengths, inner: int, outer: int, link: Link) -> bool:
    """Whether two neighbouring rings are clear of each other, and of the gears of a plain link between them."""
    ring = toothed_mm(design)
    if touch(design, ring, ring, 1) and not enough(
        outer * lengths.tooth - lengths.rim, inner * lengths.tooth + lengths.add + lengths.clear
    ):
        return False
    if link.kind != "plain" or not touch(design, thick_mm(design, "gear"), ring, 1):
        return True
    far = (inner + link.wheel) * lengths.tooth
    return all(
        far > beside * lengths.tooth + lengths.add + lengths.size(gear, False) + lengths.clear
        or far < beside * lengths.tooth - lengths.rim - lengths.size(gear, False) - lengths.clear
        for beside, gear in ((outer, link.wheel), (inner, link.pinion))
    )


def levels_legal(design: Design, lengths, train: Train, placed, motor=None) -> bool:
    """Whether the last thing that was placed touches nothing on another level."""
    new, count = len(placed) - 1, len(train.rings)
    slabs = list(_slabs(design, lengths, train, placed, motor))
    for owner, level, spot, radius, thick, turning in slabs:
        if owner != new:
            continue
        if not within_depth(design, thick, level, count):
            return False
        far = math.hypot(*spot)
        for at, teeth in enumerate(train.rings):
            if at != level and touch(design, thick, toothed_mm(design), abs(at - level)):
                tip, hole = teeth * lengths.tooth + lengths.add, teeth * lengths.tooth - lengths.rim
                if not (enough(far, tip + radius + lengths.clear) or enough(hole - radius - lengths.clear, far)):
                    return False
        for by, on, where, size, deep, fixed in slabs:
            if on == level or (by == owner and turning and fixed):
                continue
            if touch(design, thick, deep, abs(on - level)) and not enough(
                math.dist(spot, where), radius + size + lengths.clear
            ):
                return False
    return True


def _slabs(design: Design, lengths, train: Train, placed, motor):
    """(owner, level, spot, radius, thickness, whether it is fixed on the arbor) of each gear and each hub."""
    roles = []
    for link in train.links[: len(placed)]:
        roles += ["behind" if third else "gear" for third in SIDES[link.kind]] + ["third"] * len(link.thirds)
    if len(placed) > len(train.links):
        roles += ["behind", "third"] if motor.third else ["gear"]
    discs = things(design, lengths, train, placed, motor)[0]
    for role, (owner, level, spot, radius) in zip(roles, discs, strict=True):
        thick, hub = thick_mm(design, role), arbor_mm(design)
        yield owner, level, spot, radius, thick, role != "third"
        if hub > thick:
            hub_mm = hub + 4 if design.wire.hub_diameter is None else float(design.wire.hub_diameter)
            yield owner, level, spot, hub_mm / 2, hub, role != "third"


def thickened(text: str, rng: random.Random, form: str) -> str:
    """The text of a random placed design with [wire], with parts that reach into other levels."""
    clearance = float(re.search(r"clearance = (\S+)", text)[1]) if "clearance = " in text else 1.5
    if form in PLATE:
        arbor = rng.choice((6, 7))
        text = re.sub(r"hub_diameter = \S+", f"hub_diameter = 9\narbor_diameter = {arbor}", text)
        spacing = arbor + rng.choice((0.05, 0.3, 0.6)) * clearance
        sheet = rng.choice((1, 2, round(2 * spacing - clearance - 6.2, 2)))
        text = re.sub(r"sheet = \S+", f"sheet = {max(sheet, 1):g}", text)
    else:
        pins = rng.choice((8, 9, 11))
        text += f"pin_length = {pins}\n"
        spacing = pins + rng.choice((0.1, 0.4, 0.7)) * clearance if rng.random() < 0.7 else pins * 0.9
    before = float(re.search(r"level_spacing = (\S+)", text)[1])
    text = re.sub(r"level_spacing = \S+", f"level_spacing = {spacing:.3f}", text)
    more = spacing / before * rng.choice((1, 1.06, 1.5))
    return re.sub(r"depth = ([\d.]+)", lambda depth: f"depth = {float(depth[1]) * more:.2f}", text)
