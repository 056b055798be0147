"""Setting by teeth with ring 0 off its place as well, by enumeration: the best of every combination of moves and turns.

Shares no code with `solver/sky`. For given moves a body is off by a line over d, how far ring 0 is past its place. The
worst of these, and where that is kept their sum, are least where two of the lines have one size, or where one is 0: all
such d are tried.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction
from itertools import product

from brute_setting import Moves, all_turns

from solver.design.links import KIND_BY_NAME
from solver.design.train import Train

Line = tuple[Fraction, Fraction]  # off by the first times d, and the second


def off(lines: Sequence[Line], turn: Fraction) -> tuple[Fraction, Fraction]:
    """(worst, sum) with ring 0 so far past its place."""
    sizes = [abs(rate * turn + at) for rate, at in lines]
    return max(sizes), sum(sizes, Fraction(0))


def least(lines: Sequence[Line]) -> tuple[Fraction, Fraction]:
    """(worst, sum): the least worst that any d leaves, and the least sum with it."""
    turns = [-at / rate for rate, at in lines]
    for number, (rate, at) in enumerate(lines):
        for other, beside in lines[:number]:
            turns += [(side * beside - at) / (rate - side * other) for side in (1, -1) if rate != side * other]
    worst = min(off(lines, turn)[0] for turn in turns)
    turns += [(side * worst - at) / rate for rate, at in lines for side in (1, -1)]
    return min(off(lines, turn) for turn in turns if off(lines, turn)[0] == worst)


def rates_of(train: Train) -> list[Fraction]:
    """Turns of each ring for one of ring 0."""
    rates = [Fraction(1)]
    for number, link in enumerate(train.links):
        rate = rates[-1] * Fraction(link.pinion * train.rings[number], link.wheel * train.rings[number + 1])
        rates.append(-rate if KIND_BY_NAME[link.kind].reverses else rate)
    return rates


def wrapped(rate: Fraction, at: Fraction, known: Fraction) -> Iterable[Line]:
    """The lines of a body at this angle past its place, modulo turns, which some |d| up to `known` brings as near."""
    at %= 1
    return [(rate, at + turns) for turns in range(-9, 9) if abs(at + turns) <= known * (1 + abs(rate))]


def nearness(rate: Fraction, at: Fraction) -> Fraction:
    """What ring 0 and one body, alone, leave at least: no more bodies leave less."""
    return min(abs(at % 1 + turns) / (1 + abs(rate)) for turns in (0, -1))


def best(train: Train, goals: dict[int, Fraction], drive: Fraction) -> tuple[Fraction, Fraction, int, int, set[Moves]]:
    """(worst, sum, arbors lifted, teeth counted, the moves that have these) of all ways to set a train with ring 0
    anywhere about where `drive` puts it."""
    rates = rates_of(train)
    known = Fraction(1, 2)
    by_place: dict[tuple[Fraction, ...], list[tuple[int, int, Moves]]] = {}
    for places, moves in all_turns(train, goals, drive):
        lifted = sum(one != (0, 0) for one in moves)
        teeth = sum(abs(wheel) + abs(beside) for wheel, beside in moves)
        by_place.setdefault(places, []).append((lifted, teeth, moves))
        known = min(known, max((abs((one + Fraction(1, 2)) % 1 - Fraction(1, 2)) for one in places), default=known))
    found: tuple[Fraction, Fraction, int, int] | None = None
    ways = set[Moves]()
    near = sorted(
        (max(nearness(rates[ring], at) for ring, at in zip(sorted(goals), places, strict=True)), places)
        for places in by_place
    )
    for bound, places in near:
        if found is not None and bound > found[0]:
            break
        some = by_place[places]
        choices = [wrapped(rates[ring], at, known) for ring, at in zip(sorted(goals), places, strict=True)]
        for lines in product(*choices):
            worst, total = least([(Fraction(1), Fraction(0)), *lines])
            if found is not None and (worst, total) > found[:2]:
                continue
            for lifted, teeth, moves in some:
                if found is None or (worst, total, lifted, teeth) < found:
                    found, ways = (worst, total, lifted, teeth), set()
                if (worst, total, lifted, teeth) == found:
                    ways.add(moves)
    assert found is not None
    return *found, ways
