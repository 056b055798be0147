"""What is missing where a train finds no places: the rings, links and pairs of neighbouring links to which no choice of
directions gives room, and the least by which each falls short.

All choices of a link, or of two neighbours, that stand as the file asks for it are measured as the judge measures them:
what stands alone, and what two of them leave each other. What more than two links do to each other, arms and rollers
are not looked at; a motor is, beside links that have their places.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import islice, product
from math import inf

from solver.check.asked_places import asked_of_link
from solver.check.audit import motor_at, stood_up
from solver.check.findings import Finding
from solver.check.room import Check, Room
from solver.design.train import LinkPlace, Placement
from solver.design.train_data import Motor, RingTrain, Stand

MOST_MEASURED = 4000  # arrangements of the whole train that are measured
_ALIKE = 0.002  # mm: spots are rounded to the micrometre; what differs by less is as near, and the first is told
_LINK = re.compile(r"\blink (\d+)\b")


@dataclass(frozen=True)
class _Short:
    """The worst check of what is looked at, where it stands best."""

    check: Check | None = None
    at: tuple[str, ...] = ()
    by: float = inf


def missing(given: RingTrain, radii: Sequence[Sequence[int]], tick: Callable[[], None]) -> list[Finding]:
    """What has no room, each with the least distance that it lacks [mm]; [] where every link and every two neighbours
    have room, or where there are too many choices to measure. radii: at which distances each arbor may stand [teeth];
    tick: called now and then; what it raises ends the work."""
    measured = _Measured(given, tick)
    everywhere = [list(measured.choices(index, some)) for index, some in enumerate(radii)]
    if not all(everywhere):
        return []
    choices = [measured.asked(index, some) for index, some in enumerate(everywhere)]
    if not all(choices):
        none = "no direction is left to it by fit.link and fit.keep_free"
        return [Finding("place", f"link {at}", none, hint=_HINT) for at, some in enumerate(choices) if not some]
    alone = measured.alone(choices)
    found = list(_told(given, alone, "in none of the directions"))
    if found:
        return found
    return list(_told(given, measured.pairs(choices), "in no two of the directions"))


def nearest_motor(
    given: RingTrain, placement: Placement, motors: Iterable[Motor], tick: Callable[[], None]
) -> Finding | None:
    """What a motor lacks beside links and rollers in these places, in that direction and of those motors in which it
    lacks least [mm]; None where one lacks nothing, or there is none. motors: each with its radius [teeth], in any
    direction. tick: called now and then; what it raises ends the work."""
    best = _Short()
    stands = (
        replace(motor, stand=replace(motor.stand, direction=direction, sides=sides))
        for motor in motors
        for direction in given.design.fit.directions or ()
        for sides in product((1, -1), repeat=len(motor.thirds))
    )
    for motor in islice(stands, MOST_MEASURED):
        tick()
        drive = motor_at(given.design, given.train, motor)
        room = Room(given.design, replace(given.train, placement=replace(placement, drive=drive)))
        worst: Check | None = None
        for check in room.checks():
            if not check.kept and not check.degrees and "drive" in f"{check.where} {check.against}":
                worst = _worse(worst, check)
        if worst is None:
            return None
        told = f"with {motor.pinion} teeth on ring {motor.ring}", f"{float(motor.stand.direction):g}°"
        best = _better(best, worst, told)
    if best.check is None:
        return None
    pinion, direction_told = best.at
    text = f"{best.check.against}: {pinion} in none of the directions, the nearest being {direction_told}"
    return Finding("direction", "drive", text, best.by)


def _told(given: RingTrain, shorts: Iterable[tuple[str, _Short]], where: str) -> Iterator[Finding]:
    for name, short in shorts:
        if short.check is not None and short.by > 0:
            at = f", the nearest being {' and '.join(short.at)}" if short.at else ""
            least = f"{short.check.against}: {where}{at}" if short.at else short.check.against
            yield Finding(short.check.rule, name, least, short.by, None, _HINT if short.at else "")


_HINT = "allow more directions, or loosen what [fit] asks for"


class _Measured:
    """Arrangements of a train, its rollers and drive left out, measured one after the other."""

    def __init__(self, given: RingTrain, tick: Callable[[], None]) -> None:
        design = given.design
        self.design = replace(design, fit=replace(design.fit, rollers=None), drive=None)
        self.train, self.tick = given.train, tick

    def choices(self, index: int, radii: Sequence[int]) -> Iterator[LinkPlace]:
        """Every place of a link's arbor and third gears."""
        for direction in self.design.fit.directions or ():
            for sides in product((1, -1), repeat=len(self.train.links[index].thirds)):
                for radius in radii:
                    yield stood_up(self.design, self.train, index, Stand(direction, sides, radius))

    def asked(self, index: int, places: Iterable[LinkPlace]) -> list[LinkPlace]:
        """Those at which a link stands as the file asks for it, and out of what it keeps free."""
        return [place for place in places if not any(asked_of_link(self.design, index, place))]

    def checks(self, places: Sequence[LinkPlace]) -> Iterator[tuple[frozenset[int], Check]]:
        """Every distance that is not kept, with the links that it is between."""
        self.tick()
        room = Room(self.design, replace(self.train, placement=Placement(tuple(places), (), None)))
        for check in room.checks():
            if not check.kept and not check.degrees:
                yield frozenset(map(int, _LINK.findall(f"{check.where} {check.against}"))), check

    def alone(self, choices: Sequence[Sequence[LinkPlace]]) -> list[tuple[str, _Short]]:
        """Of each ring, and of each link, what it lacks where it stands best."""
        count = max(map(len, choices))
        rings: dict[str, _Short] = {}
        best = [_Short() for _ in choices]
        for number in range(count):
            places = [some[min(number, len(some) - 1)] for some in choices]
            worst: list[Check | None] = [None] * len(choices)
            for links, check in self.checks(places):
                if not links:
                    rings[check.where] = _Short(check, (), -check.margin)
                elif len(links) == 1:
                    (index,) = links
                    worst[index] = _worse(worst[index], check)
            for index, found in enumerate(worst):
                best[index] = _better(best[index], found, (_degrees(places[index]),))
        named = [(f"link {index}", short) for index, short in enumerate(best)]
        return [*rings.items(), *named]

    def pairs(self, choices: Sequence[Sequence[LinkPlace]]) -> list[tuple[str, _Short]]:
        """Of every two neighbouring links, what they lack where they stand best: links of even and of odd number are
        moved together, each through all its places."""
        counts = [max((len(some) for some in choices[first::2]), default=1) for first in (0, 1)]
        if counts[0] * counts[1] > MOST_MEASURED:
            return []
        best = [_Short() for _ in choices[1:]]
        for numbers in product(*map(range, counts)):
            places = [some[min(numbers[at % 2], len(some) - 1)] for at, some in enumerate(choices)]
            worst: list[Check | None] = [None] * len(best)
            for links, check in self.checks(places):
                for index in range(len(best)):
                    if links and links <= {index, index + 1}:
                        worst[index] = _worse(worst[index], check)
            for index, found in enumerate(worst):
                at = f"{_degrees(places[index])} for link {index}", f"{_degrees(places[index + 1])} for the next"
                best[index] = _better(best[index], found, at)
            if not any(short.by for short in best):
                break
        return [(f"links {index} and {index + 1}", short) for index, short in enumerate(best)]


def _worse(one: Check | None, other: Check) -> Check:
    return other if one is None or other.margin < one.margin else one


def _better(short: _Short, worst: Check | None, at: tuple[str, ...]) -> _Short:
    """What lacks less: what was known, or this arrangement, whose worst check is told; None: it lacks nothing."""
    if worst is None:
        return _Short(None, at, 0.0)
    return _Short(worst, at, -worst.margin) if -worst.margin < short.by - _ALIKE else short


def _degrees(place: LinkPlace) -> str:
    return f"{float(place.direction):g}°"
