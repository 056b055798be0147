"""Setting by teeth, by enumeration: where gears can mesh at all, and the best of every combination of moves.

Shares no code with `solver/sky`. Gears are discs with a phase: tooth number 0 of a gear at angle p has its middle in
the direction p [turns, counterclockwise]. Two gears mesh where, on the line of their centres, the middle of a tooth of
the one lies as far to one side as the middle of a gap of the other.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from fractions import Fraction
from math import floor, gcd

from solver.design.links import KIND_BY_NAME
from solver.design.train import Link, Train

HALF = Fraction(1, 2)


def offset(teeth: int, phase: Fraction, towards: Fraction) -> Fraction:
    """How far past a direction, counterclockwise, the next tooth's middle is [teeth, from 0 to 1]."""
    return teeth * (phase - towards) % 1


def meshes(teeth: int, phase: Fraction, other: int, other_phase: Fraction, towards: Fraction) -> bool:
    """Whether two gears mesh; towards: direction from the first to the second. Counterclockwise of the one is, at their
    line of centres, clockwise of the other; a gap's middle is half a tooth past a tooth's."""
    return (offset(teeth, phase, towards) + offset(other, other_phase, towards + HALF) - HALF) % 1 == 0


def phases(teeth: int, phase: Fraction, other: int, towards: Fraction) -> list[Fraction]:
    """Every phase of the second gear in which it meshes with the first."""
    at = HALF - offset(teeth, phase, towards)  # where a tooth of it must be, past the direction back
    found = [((at + tooth) / other + towards + HALF) % 1 for tooth in range(other)]
    assert all(meshes(teeth, phase, other, one, towards) for one in found)
    return found


def reachable(inner: int, outer: int, link: Link, turned: Fraction, seed: int) -> set[Fraction]:
    """Every angle that the outer ring can be turned by [turns], the inner one turned by `turned` since both were put
    together; all gears stand in directions that the seed draws, every position of every gear is tried."""
    rng = random.Random(seed)
    kind = KIND_BY_NAME[link.kind]
    thirds = list(link.thirds)
    towards = [Fraction(rng.randrange(360), 360) for _ in range(4)]
    start = Fraction(rng.randrange(1000), 1000)

    def ends(phase: Fraction, first: bool) -> Iterator[Fraction]:
        """Phases of the outer ring for one of the inner; first: one way to put it together is enough."""
        last: list[tuple[int, Fraction]] = [(inner, phase)]
        gears = [*(thirds[:1] if kind.wheel_thirds else ()), link.wheel]
        for number, teeth in enumerate(gears):
            last = [(teeth, one) for had, at in last for one in phases(had, at, teeth, towards[number])]
            last = last[:1] if first else sorted(set(last))
        # The pinion is fixed to the wheel: its tooth 0 lies a little past the wheel's.
        arbor = [(link.pinion, (one + Fraction(1, 7)) % 1) for _, one in last]
        more = [*(thirds[-1:] if kind.pinion_thirds else ()), outer]
        for number, teeth in enumerate(more, start=2):
            arbor = [(teeth, one) for had, at in arbor for one in phases(had, at, teeth, towards[number])]
            arbor = arbor[:1] if first else sorted(set(arbor))
        yield from (one for _, one in arbor)

    (assembled,) = ends(start, True)
    return {(one - assembled) % 1 for one in ends((start + turned) % 1, False)}


def short(turns: Fraction) -> Fraction:
    around = turns % 1
    return around - 1 if around > HALF else around


def positions(train: Train, goals: dict[int, Fraction], drive: Fraction) -> set[tuple[Fraction, Fraction]]:
    """(worst, sum) of what is left over for every combination of positions of all rings, by the meshes alone."""
    rings, links = train.rings, train.links
    ways: set[tuple[Fraction, Fraction, Fraction]] = {(drive % 1, Fraction(0), Fraction(0))}
    for number, link in enumerate(links):
        after = set()
        for at, worst, total in ways:
            for there in reachable(rings[number], rings[number + 1], link, at, number):
                off = abs(short(there - goals[number + 1])) if number + 1 in goals else Fraction(0)
                after.add((there, max(worst, off), total + off))
        ways = after
    return {(worst, total) for _, worst, total in ways}


Moves = tuple[tuple[int, int], ...]


def all_moves(train: Train, goals: dict[int, Fraction], drive: Fraction) -> list[tuple[object, ...]]:
    """(worst, sum, arbors lifted, teeth counted, teeth of each wheel and ring in turn) of every way to set a train
    whose ring 0 was turned by `drive`, sorted. A wheel's teeth count as they carry their own outer ring
    counterclockwise. A ring with a body is turned by whole teeth too, the shorter way from where it would follow if no
    arbor since the last body's ring was lifted."""
    found: list[tuple[object, ...]] = []
    for places, moves in all_turns(train, goals, drive):
        off = [abs(short(place)) for place in places]
        lifted = sum(one != (0, 0) for one in moves)
        teeth = sum(abs(wheel) + abs(beside) for wheel, beside in moves)
        found.append((max(off, default=Fraction(0)), sum(off, Fraction(0)), lifted, teeth, moves))
    return sorted(found)


def all_turns(train: Train, goals: dict[int, Fraction], drive: Fraction) -> list[tuple[tuple[Fraction, ...], Moves]]:
    """How far each ring with a goal is turned past it, and the moves, of every way to set a train as in `all_moves`."""
    found: list[tuple[tuple[Fraction, ...], Moves]] = []

    def go(ring: int, at: Fraction, follows: Fraction, past: tuple[Fraction, ...], moves: Moves) -> None:
        """at: how far this ring is turned; follows: how far it would be with no arbor lifted since the last body."""
        if ring == len(train.rings) - 1:
            found.append((past, moves))
            return
        link, teeth = train.links[ring], train.rings[ring + 1]
        ratio = Fraction(link.pinion * train.rings[ring], link.wheel * teeth)
        ratio = -ratio if KIND_BY_NAME[link.kind].reverses else ratio
        places = link.wheel // gcd(link.wheel, link.pinion)
        for wheel in range(-((places - 1) // 2), places // 2 + 1):
            there = at * ratio + Fraction(wheel * link.pinion, link.wheel * teeth)
            if ring + 1 not in goals:
                go(ring + 1, there, follows * ratio, past, (*moves, (wheel, 0)))
                continue
            least = floor((follows * ratio - there - HALF) * teeth)
            for beside in range(least, least + teeth + 2):
                to = there + Fraction(beside, teeth)
                if -HALF < to - follows * ratio <= HALF:
                    go(ring + 1, to, to, (*past, to - goals[ring + 1]), (*moves, (wheel, beside)))

    go(0, drive, drive, (), ())
    return found


def random_train(rng: random.Random, rings: int, most: int) -> Train:
    """A small train; most: teeth of a wheel. Of some, all links are alike, so that many ways lead to one place."""
    alike = (rng.randint(2, most), rng.randint(2, most)) if rng.random() < 0.4 else None
    teeth = [rng.randint(5, 9)]
    while len(teeth) < rings:
        teeth.append(teeth[-1] + rng.randint(0, 2))
    links = []
    for _ in range(rings - 1):
        kind = rng.choice(("plain", "plain", "third-wheel", "third-pinion", "third-both"))
        thirds = tuple(rng.randint(3, 7) for _ in range(KIND_BY_NAME[kind].thirds))
        links.append(Link(kind, *(alike or (rng.randint(2, most), rng.randint(2, most))), thirds))
    seats = [0, *sorted(rng.sample(range(1, rings - 1), rng.randint(0, rings - 2))), rings - 1]
    return Train(tuple(teeth), tuple(seats), tuple(links))
