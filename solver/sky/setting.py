"""Setting by teeth: what the maker lifts and turns on so that every body stands nearest to where it should.

The maker first turns the drive until ring 0 stands right, or a little off where that leaves the worst body less off;
all rings follow by their gears. Then link by link outwards:
the arbor is lifted, turned on by k teeth of its wheel and the ring beyond it by k*b/a + m of its own, and put back;
what lies farther out follows through its own gears. `chain` has the mathematics of it; `nearest` the choice
with ring 0 in its place, `sharing` with ring 0 off it as well.

Angles are turns, counterclockwise as seen from the front.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import gcd
from typing import Literal

from solver.answer.document import SolutionAnswer, train_of
from solver.design.design import Design
from solver.design.kinematics import ring_ratios
from solver.design.links import KIND_BY_NAME
from solver.design.train import Train
from solver.sky.bodies import SkyBody, ring_angle
from solver.sky.chain import Stretch, follows, stretches
from solver.sky.moments import Moment
from solver.sky.nearest import Way, nearest
from solver.sky.regear import Regear, fewest
from solver.sky.sharing import WORK, Proven, SharedOut, share_out

First = Literal["off", "in", "left"]


@dataclass(frozen=True)
class LinkByTeeth:
    """What is done at one link, from the inside out.

    wheel_teeth: teeth of its wheel that the arbor is turned on by; ring_teeth: whole teeth that the ring beyond is
    turned on by beside what the arbor's turn asks of it; positive is counterclockwise. ring_turn: how far that ring is
    turned in all [turns]; step: the least by which it can be moved so [turns].
    """

    link: int
    wheel_teeth: int
    ring_teeth: int
    ring_turn: Fraction
    step: Fraction

    @property
    def lifted(self) -> bool:
        return self.wheel_teeth != 0 or self.ring_teeth != 0


@dataclass(frozen=True)
class BodyByTeeth:
    """A body as it is set. stands: the angle at which it then stands; left_over: how far that is past where it should
    stand, 0 where it is clamped to its ring at any angle [turns, counterclockwise]. step: between neighbouring angles
    that its ring can have as the last body's ring before it stands; 0 for ring 0, which the drive
    turns. move_teeth: whole teeth that its ring is turned on.
    """

    name: str
    ring: int
    wanted: Fraction
    stands: Fraction
    left_over: Fraction
    step: Fraction
    move_teeth: int
    clamped: bool

    @property
    def left_over_deg(self) -> float:
        return float(self.left_over * 360)

    @property
    def stands_deg(self) -> float:
        """The angle from the right, from 0 to 360 [degrees]."""
        return float(self.stands % 1 * 360)


@dataclass(frozen=True)
class TeethSetting:
    """How the model is set. drive: how far ring 0 is turned first by the drive; worst, total: of what is left over
    [turns]. first: where ring 0 may be then: "off" its place by what serves all bodies best, "in" its place, or "left"
    where it stood, as no body is set by it. No other moves with ring 0 so leave a less worst, nor with that a less sum;
    of all that leave as little, these lift the fewest arbors, then count the fewest teeth. proven: what of this is; if
    not "best", it is the best that was found."""

    drive: Fraction
    bodies: tuple[BodyByTeeth, ...]
    links: tuple[LinkByTeeth, ...]
    worst: Fraction
    total: Fraction
    first: First
    proven: Proven


def set_by_teeth(
    design: Design,
    solution: SolutionAnswer,
    wanted: Sequence[Fraction],
    standing: Sequence[Fraction] | None = None,
    clamped: Collection[str] = (),
    first_exact: bool = False,
) -> TeethSetting:
    """How a solution's model is set. wanted: where each body of the design should stand; standing: where each stands
    now [turns from the right], None: as the model was put together, all at the zero mark (`design.sky`). clamped: names
    of bodies that are clamped to their rings at any angle instead, so that these need not be moved. first_exact: ring 0
    exactly in its place; else the drive may leave it off as well.

    Raises ValueError where there is not an angle for each body.
    """
    train = train_of(design, solution)
    names = [body.name for body in design.bodies]
    now = [design.sky.zero_deg / 360] * len(names) if standing is None else standing
    return set_train(train, names, wanted, now, [name in clamped for name in names], first_exact)


def set_train(
    train: Train,
    names: Sequence[str],
    wanted: Sequence[Fraction],
    standing: Sequence[Fraction],
    clamped: Sequence[bool] | None = None,
    first_exact: bool = False,
    work: int = WORK,
) -> TeethSetting:
    """The same for a train and its bodies, from the inside out. work: as for `share_out`."""
    if not len(names) == len(wanted) == len(standing) == len(train.seats):
        raise ValueError(f"{len(train.seats)} bodies need as many names and angles")
    loose = [False] * len(names) if clamped is None else list(clamped)
    fixed = [body for body, one in enumerate(loose) if not one]
    goals = {train.seats[body]: wanted[body] - standing[body] for body in fixed}
    drive = _short(goals[0]) if 0 in goals else Fraction(0)
    legs = stretches(train, sorted(goals))
    first: First = "left" if 0 not in goals else "in" if first_exact else "off"
    found = _found(legs, drive, [goals[leg.end] for leg in legs], first == "off", work)
    moves, places = min((_moves(train, legs, drive, goals, way) for way in found.ways), key=_order)
    links = _links(train, legs, moves)
    turned = _turned(train, drive + places[0], links)
    off = dict(zip((0, *(leg.end for leg in legs)), places, strict=True))
    by_end = {leg.end: leg for leg in legs}
    bodies = []
    for body, name in enumerate(names):
        ring = train.seats[body]
        left = Fraction(0) if loose[body] else off[ring]
        bodies.append(
            BodyByTeeth(
                name,
                ring,
                wanted[body],
                wanted[body] if loose[body] else (standing[body] + turned[ring]) % 1,
                left,
                by_end[ring].step if ring in by_end else Fraction(0),
                links[ring - 1].ring_teeth if ring else 0,
                loose[body],
            )
        )
    return TeethSetting(turned[0], tuple(bodies), links, found.worst, found.total, first, found.proven)


def _found(
    legs: Sequence[Stretch], drive: Fraction, goals: Sequence[Fraction], may_be_off: bool, work: int
) -> SharedOut:
    """The best positions, ring 0 in its place or off it as well."""
    exact = nearest(legs, drive, goals)
    if may_be_off:
        return share_out(legs, drive, goals, exact, work)
    return SharedOut(exact.worst, exact.total, tuple((Fraction(0), *way) for way in exact.ways), "best")


def forward(train: Train, setting: TeethSetting, turns: Fraction) -> tuple[Fraction, ...]:
    """Where each body stands after ring 0 was turned on by so much from where it was set [turns from the right]."""
    ratios, sign, rates = ring_ratios(train), 1, [Fraction(1)]
    for link, ratio in zip(train.links, ratios[1:], strict=True):
        sign *= -1 if KIND_BY_NAME[link.kind].reverses else 1
        rates.append(sign / ratio)
    return tuple((body.stands + rates[body.ring] * turns) % 1 for body in setting.bodies)


def ring_turns(design: Design, sky: Sequence[SkyBody], moment: Moment, true: bool = False) -> tuple[Fraction, ...]:
    """Where the ring of each body should stand at a moment [turns from the right]: by its mean longitude, or by the
    true one where that is asked for and known. Raises SkyError beyond what is known."""
    found = []
    for body in sky:
        longitude = body.true(moment) if true else None
        found.append(turns_of(ring_angle(design, body, body.mean(moment) if longitude is None else longitude)))
    return tuple(found)


def turns_of(degrees: float) -> Fraction:
    """An angle from a table of the sky in turns, to a millionth of a degree, far beyond what any table knows."""
    return Fraction(round(degrees * 10**6), 360 * 10**6)


def _short(turns: Fraction) -> Fraction:
    """The same angle by the shorter way: above -1/2, up to 1/2 of a turn."""
    around = turns % 1
    return around - 1 if around > Fraction(1, 2) else around


def _moves(
    train: Train, legs: Sequence[Stretch], drive: Fraction, goals: dict[int, Fraction], way: Way
) -> tuple[list[Regear], Way]:
    """The fewest moves to these deviations, ring 0 first: every ring of a body is turned the shorter way from where it
    follows."""
    moves, stands = [], drive + way[0]
    for leg, off in zip(legs, way[1:], strict=True):
        follows_to = leg.ratio * stands
        by_hand = _short(goals[leg.end] + off - follows_to)
        moves.append(fewest(train.links[leg.start : leg.end], leg, by_hand * leg.outer))
        stands = follows_to + by_hand
    return moves, way


def _order(choice: tuple[Sequence[Regear], Way]) -> tuple[int, int, Fraction, tuple[tuple[int, ...], ...]]:
    """What comes first of those that leave as little: fewest arbors, fewest teeth, ring 0 nearest to its place."""
    orders = [one.order for one in choice[0]]
    return (
        sum(one[0] for one in orders),
        sum(one[1] for one in orders),
        abs(choice[1][0]),
        tuple(one[2] for one in orders),
    )


def _links(train: Train, legs: Sequence[Stretch], moves: Sequence[Regear]) -> tuple[LinkByTeeth, ...]:
    """The moves by links, each counted as its own gears turn: a pinion turns against its ring, but for a third gear."""
    carried: dict[int, int] = {}
    for leg, move in zip(legs, moves, strict=True):
        carried.update(enumerate(move.wheels, start=leg.start))
    beside = {leg.end - 1: move.ring for leg, move in zip(legs, moves, strict=True)}
    found = []
    for number, link in enumerate(train.links):
        wheel, ring = carried.get(number, 0), beside.get(number, 0)
        outer = train.rings[number + 1]
        turn = (Fraction(wheel * link.pinion, link.wheel) + ring) / outer
        against = KIND_BY_NAME[link.kind].pinion_thirds == 0
        step = Fraction(gcd(link.wheel, link.pinion), link.wheel * outer)
        found.append(LinkByTeeth(number, -wheel if against else wheel, ring, turn, step))
    return tuple(found)


def _turned(train: Train, drive: Fraction, links: Sequence[LinkByTeeth]) -> list[Fraction]:
    """How far each ring is turned from where it stood, by the drive, by hand and by following [turns]."""
    turned = [drive]
    for number, (link, move) in enumerate(zip(train.links, links, strict=True)):
        ratio = follows(link) * Fraction(train.rings[number], train.rings[number + 1])
        turned.append(turned[-1] * ratio + move.ring_turn)
    return turned
