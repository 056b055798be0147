"""The rule `run` for exhaustive enumeration: of what `brute` and `brute_places` list, only what runs as made.

It is told by the judge's own turning of gears, which shares nothing with the tables of the search. The two may differ
where a pair is as near to its limits as the tables are true; `settled` says whether a design has such a pair.
"""

from __future__ import annotations

import random
import re
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import product

import brute
import brute_places
from random_designs import random_design, random_placed_design

from solver import Design, DesignError, parse_design
from solver.check.running import run_of
from solver.design.train import Link
from solver.search.runs import runs_of


def runs(design: Design, ring: int, gear: int, third: int | None) -> bool:
    """Whether a ring, a third gear, if there is one, and a gear run, where they must."""
    if not design.must_run:
        return True
    if third is None:
        return not run_of(design, "", ring, True, gear).fault
    return not run_of(design, "", ring, True, third).fault and not run_of(design, "", gear, False, third).fault


def link_runs(design: Design, inner: int, outer: int, link: Link) -> bool:
    on_wheel, on_pinion = brute.SIDES[link.kind]
    return runs(design, inner, link.wheel, link.thirds[0] if on_wheel else None) and runs(
        design, outer, link.pinion, link.thirds[-1] if on_pinion else None
    )


@contextmanager
def only_what_runs() -> Iterator[None]:
    """Has the enumeration keep the rule meanwhile."""
    choices, motors = brute.link_choices, brute_places.motors_of
    brute.link_choices = lambda design, inner, outer: [
        (link, radius) for link, radius in choices(design, inner, outer) if link_runs(design, inner, outer, link)
    ]
    brute_places.motors_of = lambda design, lengths, train: [
        motor
        for motor in motors(design, lengths, train)
        if runs(design, train.rings[motor.ring], motor.pinion, motor.third)
    ]
    try:
        yield
    finally:
        brute.link_choices, brute_places.motors_of = choices, motors


def settled(design: Design) -> bool:
    """Whether search and judge agree on every pair of gears that a train of the design may have."""
    found, arbors = runs_of(design), design.arbors
    if found is None:
        return True
    rings = {z for family in design.families() for choice in family.rings for z in choice}
    small = {*arbors.wheel_teeth, *arbors.pinion_teeth}
    if design.drive is not None:
        small |= set(design.drive.pinion_teeth)
    meet = product(sorted(rings), sorted(small | set(arbors.third_teeth)))
    behind = product(sorted(small), arbors.third_teeth) if arbors.third_gears or design.drive is not None else ()
    return all(
        found.ring_runs(ring, gear) == (not run_of(design, "", ring, True, gear).fault) for ring, gear in meet
    ) and all(
        found.gears_run(gear, third) == (not run_of(design, "", gear, False, third).fault) for gear, third in behind
    )


def wired(text: str, rng: random.Random) -> str:
    """The text of a random design with a table [wire], and proportions with which some pairs of gears run."""
    pitch = rng.choice((10, 12, 15))
    text = re.sub(r"(tooth_pitch|module) = \S+", f"tooth_pitch = {pitch}", text)
    text = re.sub(r"addendum = \S+", f"addendum = {pitch * rng.choice((0.28, 0.32, 0.36, 0.4, 0.44)):.2f}", text)
    text = re.sub(r"\nrim = \S+", "", text).replace("[rings]", f"[rings]\nrim = {pitch * rng.choice((0.4, 0.5)):.1f}")
    text = text.replace("[fit]", f"[fit]\nunevenness = {rng.choice((0.06, 0.1, 0.15, 0.2))}")
    return text + f"[wire]\njig_pin = {rng.choice((1.5, 2))}\npin = {rng.choice((1.6, 2.2))}\n"


def wired_design(seed: int, wild: bool = False) -> Design | None:
    """A random design with [wire]; None where the dice made one that files may not ask for."""
    try:
        return parse_design(
            wired(random_design(seed, wild).replace("reverted = false", "reverted = true"), random.Random(seed))
        )
    except DesignError:
        return None


def wired_placed_design(seed: int) -> Design | None:
    text, rng = random_placed_design(seed), random.Random(seed)
    grown = 12 / 4  # thicker teeth take more room
    text = re.sub(r"(side|width|height|diameter) = ([\d.]+)", lambda m: f"{m[1]} = {float(m[2]) * grown:.1f}", text)
    text = re.sub(r"max_envelope = \S+", "", text)
    try:
        return parse_design(wired(text, rng))
    except DesignError:
        return None
