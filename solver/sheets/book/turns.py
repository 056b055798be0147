"""What must come out when rings are turned by hand: turn counts, and which way each gear turns.

Ring i turns T[i+1]/T[i] times as often as ring i+1, which is (wheel / Z[i]) * (Z[i+1] / pinion), an exact fraction: in
lowest terms p/q, ring i turns p times while ring i+1 turns q times.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from solver.design.design import Design
from solver.design.kinematics import ring_ratios
from solver.design.links import KIND_BY_NAME
from solver.design.train import Train
from solver.sheets.gears.gears import ring_name
from solver.sheets.gears.inventory import Inventory

MOST_TURNS = 12  # that a maker counts by hand in one go
MOST_SLOW = 60  # turns of a fast ring for one of a slow one, the most that is asked for
NEAR_DEG = 45.0  # from its mark: where a ring that is not quite round is taken to be plain to see


@dataclass(frozen=True)
class TurnCheck:
    """Two rings turned by hand: `turns` of the one are exactly `while_turns` of the other, in lowest terms; same: both
    the same way round. near: where that is too much to count, (turns, turns of the other, by how many degrees the other
    is then past that, negative: short of it)."""

    one: str
    other: str
    turns: int
    while_turns: int
    same: bool
    near: tuple[int, int, float] | None = None

    def text(self) -> str:
        """ "ring 3 turns 5 times while ring 4 turns 3 times, the same way"."""
        way = "the same way" if self.same else "the other way"
        exact = f"{self.one} turns {_times(self.turns)} while {self.other} turns {_times(self.while_turns)}, {way}"
        if self.near is None:
            return exact
        turns, others, off = self.near
        there = f"{abs(off):.1f}° {'past' if off > 0 else 'short of'} its mark"
        made = f"after {_turns(turns)} of {self.one}, {self.other} is {there} of {_turns(others)}"
        return f"{exact}; easier to count: {made}"


def turn_check(names: tuple[str, str], ratio: Fraction, same: bool) -> TurnCheck:
    """The check of two rings of which the first turns `ratio` times as often as the other."""
    turns, others = ratio.numerator, ratio.denominator
    near = None
    if turns > MOST_TURNS or others > MOST_TURNS:
        near = _near(ratio)
    return TurnCheck(*names, turns, others, same, near)


def _near(ratio: Fraction) -> tuple[int, int, float]:
    """Turns of the first for one turn of a far slower one; else the fewest after which the other is near its mark, or
    if none are, those after which it is nearest."""
    if ratio > MOST_TURNS:
        return round(ratio), 1, float((round(ratio) / ratio - 1) * 360)
    options = []
    for turns in range(1, MOST_TURNS + 1):
        whole = max(round(turns / ratio), 1)
        options.append((turns, whole, float((turns / ratio - whole) * 360)))
    near = [option for option in options if abs(option[2]) <= NEAR_DEG]
    return near[0] if near else min(options, key=lambda option: abs(option[2]))


def reversals(train: Train) -> tuple[bool, ...]:
    """Whether each ring turns against ring 0 (counting meshes; common practice, no source)."""
    found = [False]
    for link in train.links:
        found.append(found[-1] ^ KIND_BY_NAME[link.kind].reverses)
    return tuple(found)


def link_checks(design: Design, train: Train) -> tuple[TurnCheck, ...]:
    """For each link, the turns of its two rings."""
    ratios, reverse = ring_ratios(train), reversals(train)
    names = [ring_name(design, train, ring) for ring in range(len(train.rings))]
    return tuple(
        turn_check((names[i], names[i + 1]), ratios[i + 1] / ratios[i], reverse[i] == reverse[i + 1])
        for i in range(len(train.links))
    )


def senses(stock: Inventory) -> tuple[tuple[str, str], ...]:
    """Which way each gear turns, seen from the front, when ring 0 turns counterclockwise: every mesh reverses."""
    reverse = reversals(stock.train)
    found = []
    for made in stock.gears:
        turned = reverse[made.gear.level] ^ (made.meshes % 2 == 1)
        found.append((made.gear.use, "clockwise" if turned else "counterclockwise"))
    return tuple(found)


def _times(count: int) -> str:
    return "once" if count == 1 else f"{count} times"


def _turns(count: int) -> str:
    return f"{count} turn{'' if count == 1 else 's'}"
