"""A train that exists, as the audit takes it: its gears, where they stand, what is stated of it. Plain data."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from solver.design.design import Design
from solver.design.train import Train

MOST_RATIO = 10**15  # of the periods of two rings, or the turns of two arbors


@dataclass(frozen=True)
class Stated:
    """A number as the maker states it: its text, its value, and to how many decimals; None for a fraction."""

    text: str
    value: Fraction
    decimals: int | None


@dataclass(frozen=True)
class Stand:
    """Where an arbor stands: direction [degrees], +1 or -1 for each third gear that stands counterclockwise or
    clockwise of it, and its distance [teeth], None where the teeth give it or the least is meant."""

    direction: Fraction
    sides: tuple[int, ...]
    radius: int | None


@dataclass(frozen=True)
class Motor:
    """The motor that there is: the ring it works with, its speed [rev/min], pinion, third gears, and its stand."""

    ring: int
    rpm: Fraction
    pinion: int
    thirds: tuple[int, ...]
    stand: Stand


@dataclass(frozen=True)
class Broken:
    """A limit of the file that the train breaks and that is found in reading: rule, where, text."""

    rule: str
    where: str
    text: str


@dataclass(frozen=True)
class RingTrain:
    """A ring train with the limits that its file states.

    design: the limits; names: of the rings; compared: whether the file gives bodies to compare with, else those of
    the design are stand-ins with the train's own periods. stands, rollers, motor: where everything stands; None: not
    given. ratios, states: what is stated for each link and ring. broken: what was found in reading. notes: what is
    taken for granted, a sentence each. source: the file's data without [train].
    """

    name: str
    design: Design
    train: Train
    names: tuple[str, ...]
    compared: bool
    directions_stated: bool
    stands: tuple[Stand, ...] | None
    rollers: tuple[tuple[Fraction, ...], ...] | None
    motor: Motor | None
    ratios: tuple[Stated | None, ...]
    states: tuple[Stated | None, ...]
    broken: tuple[Broken, ...]
    notes: tuple[str, ...]
    source: dict[str, Any]


@dataclass(frozen=True)
class Mesh:
    """Two gears that work together. idlers: how many third gears stand between; thirds: their teeth, where given."""

    driver: str
    driven: str
    teeth: tuple[int, int]
    idlers: int
    thirds: tuple[int, ...]
    ratio: Stated | None


@dataclass(frozen=True)
class State:
    """A stated result: turns of one arbor for a turn of another, and its sense, None where that is left open."""

    of: str
    per: str
    turns: Stated
    sense: str | None


@dataclass(frozen=True)
class Goal:
    """What an arbor should do: between low and high turns for one turn of the reference arbor; its sense against the
    arbor `against`; its own greatest error as a fraction."""

    of: str
    low: Fraction
    high: Fraction
    sense: str
    against: str
    cap: Fraction | None


@dataclass(frozen=True)
class MeshTrain:
    """A train of arbors; all turns are for one of the arbor `reference`. max_error: the overall limit as a fraction,
    None where none is stated."""

    name: str
    title: str
    reference: str
    meshes: tuple[Mesh, ...]
    states: tuple[State, ...]
    goals: tuple[Goal, ...]
    max_error: Fraction | None
    notes: tuple[str, ...]
