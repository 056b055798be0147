"""What exists already, judged: what is still to be made for a train, and whether what is built stays where it is."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence

from solver.check.verdict import Violation
from solver.design.design import Design
from solver.design.train import Train


def jigs_to_make(design: Design, rings: Sequence[int], gears: Sequence[int]) -> int:
    """How many jigs are to be made: one for each tooth count of rings, and one for each of gears, of which there is
    neither a jig nor a piece that was made on it."""
    made = design.made
    if made is None:
        return len(set(rings)) + len(set(gears))
    held = [one.teeth for one in made.held if one.teeth is not None]
    new_rings = set(rings) - {*made.ring_jigs, *made.rings, *held}
    return len(new_rings) + len(set(gears) - {*made.gear_jigs, *_drawer(design)})


def gears_to_make(design: Design, gears: Sequence[int]) -> int:
    """How many gears are to be made: each that is there is used once."""
    return (Counter(gears) - _drawer(design)).total()


def _drawer(design: Design) -> Counter[int]:
    """How many gears there are of each tooth count: in the drawer, and in links that stay."""
    there = Counter[int]()
    if design.made is not None:
        for teeth, many in design.made.gears:
            there[teeth] += many
        for link in design.made.links:
            there.update((link.wheel, link.pinion, *(link.thirds or ())))
    return there


def moved(design: Design, train: Train) -> Iterator[Violation]:
    """What is built and does not stay where it is."""
    made = design.made
    if made is None:
        return
    riders = {ring: design.bodies[body].name for body, ring in enumerate(train.seats)}
    for one in made.held:
        where = f"ring {one.ring}"
        if one.ring >= len(train.rings):
            yield Violation("made", where, "stays, and the train has no such ring")
            continue
        if one.teeth is not None and train.rings[one.ring] != one.teeth:
            yield Violation("made", where, f"has {train.rings[one.ring]} teeth; the one that is made has {one.teeth}")
        rider = riders.get(one.ring)
        if one.blank and rider is not None:
            yield Violation("made", where, f"carries {rider}; it is to stay blank")
        if one.body is not None and rider != design.bodies[one.body].name:
            told = "carries no body" if rider is None else f"carries {rider}"
            yield Violation("made", where, f"{told}; it is to carry {design.bodies[one.body].name}")
    for fixed in made.links:
        where = f"link {fixed.link}"
        if fixed.link >= len(train.links):
            yield Violation("made", where, "stays, and the train has no such link")
            continue
        link = train.links[fixed.link]
        same = (link.kind, link.wheel, link.pinion) == (fixed.kind, fixed.wheel, fixed.pinion)
        if not same or (fixed.thirds is not None and link.thirds != fixed.thirds):
            yield Violation(
                "made",
                where,
                f"is {_told(link.kind, link.wheel, link.pinion, link.thirds)}; the one that is made is "
                f"{_told(fixed.kind, fixed.wheel, fixed.pinion, fixed.thirds or ())}",
            )


def _told(kind: str, wheel: int, pinion: int, thirds: Sequence[int]) -> str:
    beside = f" with {' and '.join(map(str, thirds))}" if thirds else ""
    return f"{wheel}/{pinion}{'' if kind == 'plain' else ' ' + kind}{beside}"
