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
from solver.check.running import run_of, third_run
from solver.design.train import Link
from solver.search.runs import runs_of


def runs(design: Design, ring: int, gear: int, third: int | None) -> bool:
    """Whether a ring, a third gear, if there is one, and a gear run, where they must."""
    if not design.must_run:
        return True
    if third is None:
        return not run_of(design, "", ring, True, gear).fault
    return at_ring(design, ring, third) and behind(design, gear, third)


def at_ring(design: Design, ring: int, third: int) -> bool:
    """Whether a ring and a third gear run."""
    if design.wire.third == "teeth":
        return not third_run(design, "", ring, third).fault
    return not run_of(design, "", ring, True, third).fault


def behind(design: Design, gear: int, third: int) -> bool:
    """Whether a gear behind a third gear runs with it."""
    if design.wire.third == "teeth":
        return not run_of(design, "", third, False, gear, short=True).fault
    return not run_of(design, "", gear, False, third).fault


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
    meet, thirds = product(sorted(rings), sorted(small)), [*product(sorted(rings), arbors.third_teeth)]
    shafts = [*product(sorted(small), arbors.third_teeth)]
    if not all(found.ring_runs(ring, gear) == (not run_of(design, "", ring, True, gear).fault) for ring, gear in meet):
        return False
    if not arbors.third_gears and design.drive is None:
        return True
    return all(found.third_runs(ring, third) == at_ring(design, ring, third) for ring, third in thirds) and all(
        found.gears_run(gear, third) == behind(design, gear, third) for gear, third in shafts
    )


def wired(text: str, rng: random.Random) -> str:
    """The text of a random design with a table [wire], and proportions with which some pairs of gears run."""
    pitch = rng.choice((10, 12, 15))
    text = re.sub(r"(tooth_pitch|module) = \S+", f"tooth_pitch = {pitch}", text)
    text = re.sub(r"addendum = \S+", f"addendum = {pitch * rng.choice((0.28, 0.32, 0.36, 0.4, 0.44)):.2f}", text)
    text = re.sub(r"\nrim = \S+", "", text).replace("[rings]", f"[rings]\nrim = {pitch * rng.choice((0.4, 0.5)):.1f}")
    text = text.replace("[fit]", f"[fit]\nunevenness = {rng.choice((0.06, 0.1, 0.15, 0.2))}")
    return text + f"[wire]\njig_pin = {rng.choice((1.5, 2))}\npin = {rng.choice((1.6, 2.2))}\n"


def short_thirds(text: str) -> str:
    """The same with short teeth on third gears: with thinner wire, and larger gears, as small ones have no room for
    them."""
    more = {"wheel": 5, "pinion": 5, "third": 6}
    text = re.sub(
        r"(wheel|pinion|third)_teeth = \{min = (\d+), max = (\d+)\}",
        lambda m: f"{m[1]}_teeth = {{min = {int(m[2]) + more[m[1]]}, max = {int(m[3]) + more[m[1]]}}}",
        text,
    )
    return text + 'third = "teeth"\ntooth = 0.7\nloop = 1.2\nhub_diameter = 6.5\n'


def wired_design(seed: int, wild: bool = False, short: bool = False) -> Design | None:
    """A random design with [wire]; None where the dice made one that files may not ask for. short: third gears have
    short teeth."""
    text = wired(random_design(seed, wild).replace("reverted = false", "reverted = true"), random.Random(seed))
    try:
        return parse_design(short_thirds(text) if short else text)
    except DesignError:
        return None


def wired_placed_design(seed: int, short: bool = False) -> Design | None:
    text, rng = random_placed_design(seed), random.Random(seed)
    grown = 12 / 4  # thicker teeth take more room
    text = re.sub(r"(side|width|height|diameter) = ([\d.]+)", lambda m: f"{m[1]} = {float(m[2]) * grown:.1f}", text)
    text = wired(re.sub(r"max_envelope = \S+", "", text), rng)
    try:
        return parse_design(short_thirds(text) if short else text)
    except DesignError:
        return None
