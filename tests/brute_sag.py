"""Random designs whose parts bend, and their enumeration: what `brute_places` lists, less what bends too far.

How far things bend is the judge's own figure, which shares nothing with the search but the design.
"""

from __future__ import annotations

import random
import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from fractions import Fraction

import brute_places
from brute_running import only_what_runs, settled, wired
from random_designs import random_placed_design

from solver import Design, DesignError, parse_design, solve
from solver.check.sag import bends, limit_mm
from solver.design.train import DrivePlace, LinkPlace, Placement

PLATES = "inner", "outer"


def supported_design(seed: int, form: str = "saw", driven: bool = False) -> Design | None:
    """A random design with places, plate and supports, whose limit lies among what the parts of its first train bend
    without one; None where the dice made none. driven: with the drive that the dice may have made."""
    rng = random.Random(f"sag {seed}")
    text = _text(seed, form, rng, driven)
    try:
        wide = parse_design(text.format(sag=10_000))
    except DesignError:
        return None
    if not settled(wide):
        return None
    found = solve(wide)
    if not found.solutions:
        return wide if rng.random() < 0.1 else None
    train = rng.choice(found.trains(wide))
    some = sorted(bend for _, _, bend in bends(wide, train))
    if not some:  # on a table, without rollers
        return wide if rng.random() < 0.1 else None
    at = max(rng.choice((-1, -1, -1, -2, len(some) // 2)), -len(some))
    limit = some[at] * rng.choice((0.97, 0.9999, 1.0001, 1.0001, 1.03, 1.2))
    return parse_design(text.format(sag=f"{limit:.9f}"))


def _text(seed: int, form: str, rng: random.Random, driven: bool) -> str:
    """The design's file, with {sag} where the limit goes."""
    text = random_placed_design(seed)
    if not driven:
        text = re.sub(r"\[drive\]\n(?:[^\[].*\n)*", "", text)
    text = re.sub(r"(side|width|height|diameter) = ([\d.]+)", lambda m: f"{m[1]} = {float(m[2]) * 3:.1f}", text)
    text = wired(re.sub(r"max_envelope = \S+", "", text), random.Random(seed), form)
    text = re.sub(r'plate = "\w+"', f'plate = "{rng.choice(PLATES)}"', text)
    if "frame =" not in text:
        text = text.replace("[fit]", '[fit]\nframe = {shape = "square", side = 5000}')
    if rng.random() < 0.5:
        text = re.sub(r"(name = \"body 1\")", rf"\1\ngrams = {rng.choice((1, 5, 90))}", text)
    text = text.replace("{", "{{").replace("}", "}}")
    return text + f'[supports]\nmodel = "{rng.choice(("wall", "wall", "table"))}"\nsag = {{sag}}\n'


@contextmanager
def only_what_is_stiff() -> Iterator[None]:
    """Has the enumeration keep the rule `sag` meanwhile, with the rules of gears as made."""
    every, motors = brute_places.all_trains, brute_places.motors_of

    def stiff(design, train) -> bool:
        return all(bend <= limit_mm(design) for _, _, bend in bends(design, train))

    def held(design, train, motor) -> bool:
        thirds = () if motor.third is None else (motor.third,)
        drive = DrivePlace(motor.ring, motor.rpm, motor.pinion, thirds, LinkPlace(Fraction(0), 0, (0, 0)))
        return stiff(design, replace(train, placement=Placement((), (), drive)))

    brute_places.all_trains = lambda design: [one for one in every(design) if stiff(design, one[1])]
    try:
        with only_what_runs():
            that_run = brute_places.motors_of
            brute_places.motors_of = lambda design, lengths, train: [
                motor for motor in that_run(design, lengths, train) if held(design, train, motor)
            ]
            yield
    finally:
        brute_places.all_trains, brute_places.motors_of = every, motors
