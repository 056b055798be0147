"""The rule `run` for exhaustive enumeration: of what `brute` and `brute_places` list, only what runs as made.

It is told by the judge's own turning of gears, which shares nothing with the tables of the search. The two may differ
where a pair is as near to its limits as the tables are true; `settled` says whether a design has such a pair.

Where teeth are made for their mates, a pair runs only if it does with teeth for each smaller gear of the design too
that neither jams nor slips with its own.
"""

from __future__ import annotations

import math
import random
import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from fractions import Fraction
from functools import lru_cache
from itertools import product

import brute
import brute_levels
import brute_places
from random_designs import random_design, random_placed_design

from solver import Design, DesignError, parse_design
from solver.check.made import between_of
from solver.check.running import run_of, third_run
from solver.design.train import Link
from solver.search.runs import runs_of

FOR_MATES = ("curved", "cycloidal")


def runs(design: Design, ring: int, gear: int, third: int | None) -> bool:
    """Whether a ring, a third gear, if there is one, and a gear run, where they must."""
    if not design.as_made:
        return True
    if third is None:
        return gear in that_run(design, ring, True, small_gears(design)[0])
    return at_ring(design, ring, third) and behind(design, gear, third)


def at_ring(design: Design, ring: int, third: int) -> bool:
    """Whether a ring and a third gear run."""
    if design.wire.third == "teeth":
        return not third_run(design, "", ring, third).fault
    return third in that_run(design, ring, True, small_gears(design)[0])


def behind(design: Design, gear: int, third: int) -> bool:
    """Whether a gear behind a third gear runs with it."""
    if design.wire.third == "teeth":
        return not run_of(design, "", third, False, gear, short=True).fault
    return third in that_run(design, gear, False, small_gears(design)[1])


def small_gears(design: Design) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """What may work with a ring, and with a gear behind a third gear."""
    arbors, drive = design.arbors, design.drive
    thirds = set(arbors.third_teeth) if arbors.third_gears or (drive is not None and drive.third_gears) else set()
    small = {*arbors.wheel_teeth, *arbors.pinion_teeth, *(thirds if design.wire.third == "pins" else ())}
    return tuple(sorted(small | set(drive.pinion_teeth if drive is not None else ()))), tuple(sorted(thirds))


@lru_cache(maxsize=1 << 16)
def _that_run(design: Design, teeth: int, ring: bool, mates: tuple[int, ...]) -> frozenset[int]:
    def one(limits: Design, mate: int, made_for: int) -> bool:
        return not run_of(limits, "", teeth, ring, mate, (made_for,)).fault

    if design.wire.form not in FOR_MATES:
        return frozenset(mate for mate in mates if one(design, mate, mate))
    any_unevenness = replace(design, unevenness=Fraction(10**6))
    hold = [mate for mate in mates if one(any_unevenness, mate, mate)]
    if design.wire.form == "cycloidal":  # leaves work with what has more teeth
        hold = [mate for mate in hold if mate < teeth]
    return frozenset(mate for mate in hold if all(one(design, mate, less) for less in hold if less <= mate))


def that_run(design: Design, teeth: int, ring: bool, mates: tuple[int, ...]) -> frozenset[int]:
    """The mates that run with a ring, or with a gear behind a third gear."""
    return _that_run(design, teeth, ring, mates)


def link_runs(design: Design, inner: int, outer: int, link: Link) -> bool:
    on_wheel, on_pinion = brute.SIDES[link.kind]
    return runs(design, inner, link.wheel, link.thirds[0] if on_wheel else None) and runs(
        design, outer, link.pinion, link.thirds[-1] if on_pinion else None
    )


def link_holds(design: Design, inner: int, outer: int, link: Link) -> bool:
    """Whether a link keeps the rule `level`, as far as that does not depend on where things stand."""
    if not design.as_made:
        return True
    lengths = brute_places.Lengths(design)
    return (
        brute_levels.loops_hold(design)
        and brute_levels.arbors_hold(design, link)
        and brute_levels.beside_rings(design, lengths, inner, outer, link)
    )


@contextmanager
def only_what_runs() -> Iterator[None]:
    """Has the enumeration keep the rules of gears as made meanwhile."""
    choices, motors, reach = brute.link_choices, brute_places.motors_of, brute.reach_mm
    lengths, legal, rings_legal = brute_places.Lengths, brute_places.legal, brute_places.rings_legal

    def reach_mm(design: Design, role: str) -> float:
        if design.wired and design.wire.form == "involute":  # one module, ISO 53 (from memory), to the next micrometre
            return math.ceil(2000 * design.rings.pitch.radius_mm(1)) / 1000
        if design.wired and design.wire.form == "cycloidal":  # what a ring and the gear behind a third gear need
            return float(between_of(design)) / 2
        return reach(design, role)

    class MadeLengths(lengths):  # type: ignore[misc, valid-type]
        """With rings that stand out as far as they are made to."""

        def __init__(self, design: Design) -> None:
            super().__init__(design)
            if design.wired:
                self.add = reach_mm(design, "ring")
                self.gap = (self.add + self.behind + self.clear) / self.tooth

    brute.reach_mm = brute_places.reach_mm = reach_mm
    brute_places.Lengths = MadeLengths
    brute.link_choices = lambda design, inner, outer: [
        (link, radius)
        for link, radius in choices(design, inner, outer)
        if link_holds(design, inner, outer, link) and link_runs(design, inner, outer, link)
    ]
    brute_places.legal = lambda design, lengths, train, placed, motor=None: (
        legal(design, lengths, train, placed, motor)
        and (not design.as_made or brute_levels.levels_legal(design, lengths, train, placed, motor))
    )
    brute_places.rings_legal = lambda design, lengths, rings: (
        rings_legal(design, lengths, rings) and (not design.as_made or brute_levels.rings_apart(design, lengths, rings))
    )
    brute_places.motors_of = lambda design, lengths, train: [
        motor
        for motor in motors(design, lengths, train)
        if runs(design, train.rings[motor.ring], motor.pinion, motor.third)
        and (not design.as_made or brute_levels.loops_hold(design))
    ]
    try:
        yield
    finally:
        brute.link_choices, brute_places.motors_of = choices, motors
        brute.reach_mm = brute_places.reach_mm = reach
        brute_places.Lengths, brute_places.legal, brute_places.rings_legal = lengths, legal, rings_legal


def settled(design: Design) -> bool:
    """Whether search and judge agree on every pair of gears that a train of the design may have."""
    found = runs_of(design)
    if found is None:
        return True
    rings = {z for family in design.families() for choice in family.rings for z in choice}
    small, thirds = small_gears(design)
    at_rings, shafts = product(sorted(rings), thirds), product(small, thirds)
    return (
        all(
            found.ring_runs(ring, gear) == (gear in that_run(design, ring, True, small))
            for ring, gear in product(sorted(rings), small)
        )
        and all(found.third_runs(ring, third) == at_ring(design, ring, third) for ring, third in at_rings)
        and all(found.gears_run(gear, third) == behind(design, gear, third) for gear, third in shafts)
    )


MORE = {"saw": 0, "curved": 0, "cycloidal": 2, "involute": 5}  # teeth: with fewer hardly anything runs
PLATE = ("cycloidal", "involute")


def wired(text: str, rng: random.Random, form: str = "saw") -> str:
    """The text of a random design with a table [wire], and proportions with which some pairs of gears run."""
    pitch = rng.choice((10, 12, 15))
    text = re.sub(r"(tooth_pitch|module) = \S+", f"tooth_pitch = {pitch}", text)
    text = re.sub(r"addendum = \S+", f"addendum = {pitch * rng.choice((0.28, 0.32, 0.36, 0.4, 0.44)):.2f}", text)
    rim = pitch * rng.choice((0.65, 0.8) if form in PLATE else (0.4, 0.5))
    text = re.sub(r"\nrim = \S+", "", text).replace("[rings]", f"[rings]\nrim = {rim:.1f}")
    # Levels are as deep as pins and any clearance need, but in one of twelve designs.
    enough = 3000 if "clearance = 900" in text else 30
    spacing, before = rng.choice((8, *[enough] * 11)), re.search(r"level_spacing = (\S+)\n", text)
    text = re.sub(r"level_spacing = \S+\n", "", text).replace("[rings]", f"[rings]\nlevel_spacing = {spacing}")
    more = spacing / float(before[1] if before else 14)
    text = re.sub(r"depth = ([\d.]+)", lambda depth: f"depth = {float(depth[1]) * more:.1f}", text)
    text = re.sub(r"(\w+_teeth|stock) = [{[].*", lambda line: _more(line[0], MORE[form]), text)
    limits = {
        "saw": (0.06, 0.1, 0.15, 0.2),
        "curved": (0.012, 0.03, 0.05, 0.15),
        "cycloidal": (0.01, 0.02, 0.05, 0.15),
    }
    text = text.replace("[fit]", f"[fit]\nunevenness = {rng.choice(limits.get(form, (0.15,)))}")
    if form in PLATE:
        # Enumeration counts the file's addendum beyond every pitch circle; teeth of plate stand out by their form.
        text = re.sub(r"max_envelope = \S+", "", text)
        return text + f'[wire]\nform = "{form}"\nsheet = {rng.choice((1, 2))}\nhub_diameter = {rng.choice((6.5, 9))}\n'
    named = f'form = "{form}"\n' if form != "saw" else ""
    named += 'third = "pins"\n' if form == "saw" else ""
    return text + f"[wire]\n{named}jig_pin = {rng.choice((1.5, 2))}\npin = {rng.choice((1.6, 2.2))}\n"


def _more(line: str, teeth: int) -> str:
    """A line of tooth counts with so many more of each, but for those of rings."""
    if line.startswith("inner_teeth"):
        return line
    return re.sub(r"\d+", lambda count: str(int(count[0]) + teeth), line)


def short_thirds(text: str) -> str:
    """The same with short teeth on third gears: with thinner wire, and larger gears, as small ones have no room for
    them."""
    more = {"wheel": 5, "pinion": 5, "third": 6}
    text = re.sub(
        r"(wheel|pinion|third)_teeth = \{min = (\d+), max = (\d+)\}",
        lambda m: f"{m[1]}_teeth = {{min = {int(m[2]) + more[m[1]]}, max = {int(m[3]) + more[m[1]]}}}",
        text,
    )
    text = text.replace('third = "pins"', 'third = "teeth"')
    return text + "tooth = 0.7\nloop = 1.2\nhub_diameter = 6.5\n"


def wired_design(seed: int, wild: bool = False, form: str = "saw", short: bool = False) -> Design | None:
    """A random design with [wire]; None where the dice made one that files may not ask for. short: third gears have
    short teeth."""
    text = random_design(seed, wild).replace("reverted = false", "reverted = true")
    text = wired(text, random.Random(seed), form)
    try:
        return parse_design(short_thirds(text) if short else text)
    except DesignError:
        return None


def wired_placed_design(seed: int, form: str = "saw", short: bool = False, thick: bool = False) -> Design | None:
    """thick: parts reach into other levels."""
    text, rng = random_placed_design(seed), random.Random(seed)
    grown = 12 / 4  # thicker teeth take more room
    text = re.sub(r"(side|width|height|diameter) = ([\d.]+)", lambda m: f"{m[1]} = {float(m[2]) * grown:.1f}", text)
    text = wired(re.sub(r"max_envelope = \S+", "", text), rng, form)
    if thick:
        text = brute_levels.thickened(text, rng, form)
    try:
        return parse_design(short_thirds(text) if short else text)
    except DesignError:
        return None
