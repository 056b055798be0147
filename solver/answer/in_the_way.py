"""What is in the way where every link and every two neighbours have room, and not everything finds a place all the
same: the fewest of the things that the file asks for beside links, without which everything else has one; of a motor
and of arms by how much, and what would do.

What is told rests on places that were found, and on none that were looked for to the end.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import combinations

from solver.check.audit import audit_rings
from solver.check.findings import Finding
from solver.check.missing import nearest_motor
from solver.design.design import Design
from solver.design.train import Placement
from solver.design.train_data import Motor, RingTrain, Stand
from solver.search.place.drive import motors_within
from solver.search.reaches import gap_of

Places = Callable[[RingTrain], Placement | None]  # those of a train, None where it has none; may raise SearchStopped

MOST_TOGETHER = 2  # things that are looked at together
MOST_LARGER = 20  # teeth by which another motor pinion is larger
_HELD = ("arm", "roller", "sag")  # rules of what holds the parts


@dataclass(frozen=True)
class _Wish:
    """What a file asks for beside links. without: the design that does not."""

    name: str
    without: Callable[[Design], Design]


_WISHES = (
    _Wish("fit.rollers", lambda d: _fit(d, rollers=None)),
    _Wish("drive", lambda d: replace(d, drive=None)),
    _Wish("supports", lambda d: replace(d, supports=None)),
    _Wish("fit.stands", lambda d: _fit(d, stands="none")),
    _Wish("fit.keep_free", lambda d: _fit(d, keep_free=())),
    _Wish("fit.link", lambda d: _fit(d, link_places=())),
)


def _fit(design: Design, **changes: object) -> Design:
    return replace(design, fit=replace(design.fit, **changes))  # type: ignore[arg-type]


def in_the_way(given: RingTrain, places: Places, tick: Callable[[], None]) -> list[Finding]:
    """What a train without places has no room for, though its links have; [] where that cannot be told. tick: called
    now and then; what it or `places` raises ends the work."""
    asked = [wish for wish in _WISHES if wish.without(given.design) != given.design]
    for count in range(1, MOST_TOGETHER + 1):
        found = list[Finding]()
        for some in combinations(asked, count):
            if (placement := places(_without(given, some))) is None:
                continue
            else_ = "but " + " and ".join(wish.name for wish in some) if len(some) > 1 else "else"
            text = f"everything {else_} has a place among {len(given.design.fit.directions or ())} directions"
            for wish in some:
                alone = _without(given, [other for other in some if other is not wish])
                found += _told(alone, wish, text, placement, places, tick)
        if found:
            return found
    return []


def _without(given: RingTrain, wishes: Iterable[_Wish]) -> RingTrain:
    for wish in wishes:
        given = replace(given, design=wish.without(given.design))
    return given


def _told(
    given: RingTrain, wish: _Wish, text: str, placement: Placement, places: Places, tick: Callable[[], None]
) -> Iterator[Finding]:
    """What stands in the way of a train that has this placement without it."""
    none = Finding("direction", wish.name, text, hint=f"loosen {wish.name}")
    if wish.name == "supports":
        broken = [one for one in audit_rings(given, placement).findings if one.rule in _HELD]
        yield from (replace(one, text=f"{one.text}, where {text}") for one in broken)
        if not broken:
            yield none
    elif wish.name == "fit.rollers":
        yield replace(none, hint=_fewer_rollers(given, places) or none.hint)
    elif wish.name == "drive":
        short = nearest_motor(given, placement, _motors(given), tick)
        told = none if short is None else replace(short, text=f"{text}; {short.text}")
        yield replace(told, hint=_other_pinion(given, places) or none.hint)
    else:
        yield none


def _motors(given: RingTrain) -> Iterator[Motor]:
    """Every motor that the file allows, one for each shape."""
    for one in motors_within(given.design, given.train, gap_of(given.design), None) or ():
        yield Motor(one.ring, one.rpm, one.pinion, one.thirds, Stand(Fraction(0), (), one.shape.radius))


def _fewer_rollers(given: RingTrain, places: Places) -> str:
    """How many rollers a ring would do, in words; "" where not even three would."""
    rollers = given.design.fit.rollers
    assert rollers is not None
    for count in range(min(rollers.count) - 1, 2, -1):
        design = _fit(given.design, rollers=replace(rollers, count=(count,)))
        if places(replace(given, design=design)) is not None:
            return f"fit.rollers.count = {count} would do"
    return ""


def _other_pinion(given: RingTrain, places: Places) -> str:
    """Which motor pinion would do: the largest that is smaller than those that may be, or else a larger one; "" where
    none does."""
    drive = given.design.drive
    assert drive is not None
    least, most = min(drive.pinion_teeth), max(drive.pinion_teeth)
    for teeth in (*range(least - 1, 1, -1), *range(most + 1, most + MOST_LARGER + 1)):
        design = replace(given.design, drive=replace(drive, pinion_teeth=(teeth,)))
        if places(replace(given, design=design)) is not None:
            return f"drive.pinion_teeth = {teeth} would do"
    return ""
