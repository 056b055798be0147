"""The design that a ring train competes in: its file without [train]."""

from __future__ import annotations

from copy import deepcopy
from dataclasses import replace
from itertools import pairwise

from solver.design.design import Design
from solver.design.errors import single
from solver.design.train_data import RingTrain
from solver.files.load import design_from_data
from solver.files.ring_train import small_gears
from solver.files.schema import ArborsTable


def rival_of(given: RingTrain) -> Design:
    """What the file leaves open is taken from the train: its rings, and teeth of small gears at least as many and as
    few as its own. Raises DesignError."""
    train, data = given.train, deepcopy(given.source)
    rings = data.setdefault("rings", {})
    steps = {outer - inner for inner, outer in pairwise(train.rings)}
    grow = min(steps) >= 1
    if not grow and given.design.arbors.reverted and not {"teeth", "tooth_step"} & set(rings):
        allowed = "do not grow outwards; --best needs [rings] to search in"
        raise single("train.rings", train.rings, allowed, given.name)
    if {"inner_teeth", "tooth_step"} & set(rings) or (grow and len(steps) == 1 and "teeth" not in rings):
        rings.setdefault("inner_teeth", train.rings[0])
        rings.setdefault("tooth_step", train.rings[1] - train.rings[0])
        rings.setdefault("blanks", len(train.rings) - len(train.seats))
    elif "teeth" not in rings:
        rings["teeth"] = list(train.rings)
        rings.pop("blanks", None)
    arbors, gears, usual = data.setdefault("arbors", {}), small_gears(train), ArborsTable()
    arbors.setdefault("third_gears", len(gears["third_teeth"]))
    for key, used in gears.items():
        allowed_teeth = (*getattr(usual, key), *used)
        arbors.setdefault(key, {"min": min(allowed_teeth), "max": max(allowed_teeth)})
    return replace(design_from_data(data, given.name), keep=1, front=())
