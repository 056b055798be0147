"""What the ways share: the outcome, and the design told as logarithms, in the form that general solvers take.

The logarithm of a ring's period is that of its teeth plus, for each link, the logarithm of wheel/pinion. A body's
error is the distance of that from its target; the worst error W is minimised. Solvers of whole numbers get all
logarithms times SCALE, rounded.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import combinations, pairwise, product
from typing import NamedTuple, Protocol

from benchmarks.cases import goal_of
from solver import Design
from solver.check.judge import judge
from solver.design.links import KINDS
from solver.design.train import Link, Train
from solver.search.options.candidates import Candidate, Candidates

SCALE = 10**6  # the largest sum is 1e6 * log(1e14) = 3.3e7, well inside 32 bits
MOST_FAMILIES = 100_000


class Unsupported(ValueError):
    """The way cannot state this design; the text says what it lacks."""


@dataclass(frozen=True)
class Point:
    """One train, judged exactly. error: worst error as a fraction; jigs, largest: as the judge counts them."""

    error: float
    jigs: int
    largest: int


@dataclass(frozen=True)
class Outcome:
    """What a way found: one point, several for a front, none for none.

    proven: to the rounding of the way's logarithms. seconds: wall time of the solve, imports not counted.
    """

    points: tuple[Point, ...]
    proven: bool
    seconds: float
    note: str = ""


@dataclass(frozen=True)
class Found:
    """What one optimisation gave. train None and proven: there is none."""

    train: Train | None
    proven: bool
    note: str = ""


class OneGoal(Protocol):
    """One optimisation of a problem."""

    def __call__(self, by_jigs: bool, most_jigs: int | None = None) -> tuple[Train | None, int, bool]:
        """By the number of jigs, or by the error with at most so many: the best train, its jigs, and whether it is
        proven."""


def by_goal(problem: Problem, run: OneGoal, note: str) -> Found:
    """The least worst error, or for the goal "jigs" the fewest jigs and then the least error within them."""
    if problem.goal != "jigs":
        train, _, proven = run(by_jigs=False)
        return Found(train, proven, note)
    best, jigs, proven = run(by_jigs=True)
    if best is None or not proven:
        return Found(best, proven, note)
    train, _, proven = run(by_jigs=False, most_jigs=jigs)
    return Found(train or best, proven, note)


class Way(Protocol):
    """A way to solve a case."""

    name: str
    what: str

    def available(self) -> str | None:
        """None, or what is missing."""

    def run(self, design: Design, time_limit: float) -> Outcome:
        """Solve within so many seconds. Raises Unsupported where the way cannot state the design."""


class Clock:
    """Seconds since it was made, and how many are left of a limit."""

    def __init__(self, limit: float) -> None:
        self.began, self.limit = time.perf_counter(), limit

    def passed(self) -> float:
        return time.perf_counter() - self.began

    def left(self) -> float:
        return max(0.0, self.limit - self.passed())


@dataclass(frozen=True)
class Peer:
    """A way that optimises one goal at a time; a front is found by the epsilon constraint.

    solve(problem, clock): the least worst error of a problem, or for the goal "jigs" the fewest jigs and then the
    least error. goals: those it can state. needs: returns None or what is missing. lists: whether it needs families and
    options listed; else it has a model of its own of every design.
    """

    name: str
    what: str
    goals: tuple[str, ...]
    needs: Callable[[], str | None]
    solve: Callable[[Problem, Clock], Found]
    lists: bool = True

    def available(self) -> str | None:
        return self.needs()

    def run(self, design: Design, time_limit: float) -> Outcome:
        goal = goal_of(design)
        if (goal if goal != "front" else "error") not in self.goals:
            raise Unsupported(f"does not state the goal {goal}")
        clock = Clock(time_limit)
        if goal == "front":
            return self._front(design, clock)
        problem = self._problem(design)
        listing = clock.passed()
        found = self.solve(problem, clock)
        seconds = clock.passed()
        points = () if found.train is None else (judged(design, found.train),)
        note = f"{found.note}; {listing:.2f} s of it to list the candidates" if listing > 0.1 * seconds else found.note
        return Outcome(points, found.proven, seconds, note.lstrip("; "))

    def _problem(self, design: Design) -> Problem:
        return Problem.of(design) if self.lists else Problem.unlisted(design)

    def _front(self, design: Design, clock: Clock) -> Outcome:
        """Least error with no limit on the largest gear, then with one tooth less than the last train had, and so on.

        Each step is a whole problem of its own, whose candidates the limit makes fewer.
        """
        if design.front != ("error", "largest"):
            raise Unsupported("fronts of other keys than error and largest are not stated")
        points: list[Point] = []
        most, proven, note = max((*design.arbors.wheel_teeth, *design.arbors.pinion_teeth)), True, ""
        while True:
            narrowed = replace(design, limits=replace(design.limits, max_largest=most), front=())
            found = self.solve(self._problem(narrowed), clock)
            proven, note = proven and found.proven, found.note
            if found.train is None:
                break
            point = judged(design, found.train)
            points = [other for other in points if other.error < point.error] + [point]
            most = point.largest - 1
            if not clock.left():
                proven = False  # what lies below has not been looked at
                break
        return Outcome(tuple(points), proven, clock.passed(), note)


def judged(design: Design, train: Train) -> Point:
    """The exact figures of a train. Raises AssertionError where it breaks a rule: the way misstated the design."""
    verdict = judge(design, train)
    assert verdict.sound and verdict.worst_error is not None, verdict.violations
    return Point(verdict.worst_error, verdict.jigs, verdict.largest)


@dataclass(frozen=True)
class Option:
    """A choice for a link. log: of wheel/pinion; turn: 1 where it reverses the sense and that matters."""

    log: float
    thirds: int
    turn: int
    choice: Candidate

    @property
    def units(self) -> int:
        return round(SCALE * self.log)

    def link(self) -> Link:
        kind = KINDS[self.choice.kind]
        return Link(kind.name, self.choice.wheel, self.choice.pinion, self.choice.thirds)


class Row(NamedTuple):
    """A row of a link's table, all whole numbers."""

    group: int
    idle: int
    units: int
    thirds: int
    turn: int
    wheel: int
    pinion: int


@dataclass(frozen=True)
class Family:
    """Rings of given teeth, as many as the longest structure has.

    logs: of each ring's teeth over those of ring 0; classes: for each link which list of options it takes.
    """

    rings: tuple[int, ...]
    logs: tuple[float, ...]
    classes: tuple[int, ...]

    def units(self, ring: int) -> int:
        return round(SCALE * self.logs[ring])


@dataclass(frozen=True)
class Problem:
    """A design as every peer gets it.

    counts: how many rings there may be (the outermost ones of a family are left out); classes: the lists of options;
    targets: log of the period ratios (low, high) to the first body; senses: None where either will do, else 1 for
    reverse; cap: log of 1 + the greatest error; same_class: whether the links of every family share their options.
    """

    design: Design
    goal: str
    families: tuple[Family, ...]
    counts: tuple[int, ...]
    classes: tuple[tuple[Option, ...], ...]
    targets: tuple[tuple[float, float], ...]
    senses: tuple[int | None, ...]
    third_limit: int
    cap: float

    @classmethod
    def of(cls, design: Design) -> Problem:
        """Raises Unsupported for what no case needs: a free rate, own caps, limits that couple links."""
        limits = design.limits
        coupled = (limits.max_parts, limits.max_jigs, limits.max_teeth)
        if design.reference != "first" or any(body.cap is not None for body in design.bodies) or any(coupled):
            raise Unsupported("a free rate, own caps and limits on parts, jigs and teeth are not stated")
        goal = goal_of(design)
        if goal == "jigs" and design.arbors.third_gears:
            raise Unsupported("the jigs of third gears are not stated")
        senses = tuple({"either": None, "same": 0, "reverse": 1}[body.sense] for body in design.bodies)
        candidates = Candidates(design)
        classes: dict[tuple[Option, ...], int] = {}
        by_pair: dict[object, int] = {}
        by_list: dict[tuple[Candidate, ...], int] = {}
        families: dict[object, Family] = {}
        for family in design.families():
            counts = family.counts
            if math.prod(map(len, family.rings)) > MOST_FAMILIES:
                raise Unsupported("too many rings to list")
            for rings in product(*family.rings):
                pairs = list(pairwise(rings))
                if candidates.growing and any(outer <= inner for inner, outer in pairs):
                    continue
                for pair in pairs:
                    key = link_key(design, *pair)
                    if key not in by_pair:
                        listed = candidates.between(*pair)
                        if listed not in by_list:
                            merged = merge(listed, goal, any(sense is not None for sense in senses))
                            by_list[listed] = classes.setdefault(merged, len(classes))
                        by_pair[key] = by_list[listed]
                ratios = tuple(Fraction(ring, rings[0]) for ring in rings)
                kinds = tuple(by_pair[link_key(design, *pair)] for pair in pairs)
                if goal == "error":  # rings of the same ratios and options differ only in later keys
                    families.setdefault((ratios, kinds), Family(rings, tuple(map(math.log, ratios)), kinds))
                else:
                    families[rings] = Family(rings, tuple(map(math.log, ratios)), kinds)
        first = design.bodies[0].low
        return cls(
            design,
            goal,
            tuple(families.values()),
            counts,
            tuple(classes),
            tuple((math.log(body.low / first), math.log(body.high / first)) for body in design.bodies),
            senses,
            min(design.arbors.third_gears, 2 * (counts[-1] - 1)),
            math.log1p(float(limits.max_error)),
        )

    @classmethod
    def unlisted(cls, design: Design) -> Problem:
        """A design that is not told in lists."""
        return cls(design, goal_of(design), (), (), (), (), (), 0, math.log1p(float(design.limits.max_error)))

    @property
    def rings(self) -> int:
        """Rings of the longest structure."""
        return self.counts[-1]

    @property
    def links(self) -> int:
        return self.rings - 1

    @property
    def same_class(self) -> bool:
        return all(len(set(family.classes)) == 1 for family in self.families)

    def seats(self, body: int) -> tuple[int, ...]:
        """The rings that a body may ride on."""
        last = len(self.targets) - 1
        if body in (0, last):
            return (0,) if body == 0 else tuple(count - 1 for count in self.counts)
        return tuple(range(body, self.rings - last + body))

    def structures(self) -> Iterator[tuple[Family, tuple[int, ...]]]:
        """Every structure: the family and the bodies' places."""
        bodies = len(self.targets)
        for family in self.families:
            for count in self.counts:
                for middle in combinations(range(1, count - 1), bodies - 2):
                    yield family, (0, *middle, count - 1)

    @property
    def senses_matter(self) -> bool:
        """Whether the sense can come out wrong."""
        return any(sense == 1 for sense in self.senses) or (0 in self.senses and self.third_limit > 0)

    def rows(self) -> list[Row]:
        """The table of a link: a row for each class and option, and one for each class where the link is idle.

        Links beyond the last body are idle. Wheel and pinion are 0 unless jigs are counted, so that options that
        differ in nothing else share a row.
        """
        jigs = self.goal == "jigs"
        found = {
            Row(number, 0, o.units, o.thirds, o.turn, *((o.choice.wheel, o.choice.pinion) if jigs else (0, 0))): None
            for number, options in enumerate(self.classes)
            for o in options
            if o.thirds <= self.third_limit
        }
        if len(self.counts) > 1:
            found.update({Row(number, 1, 0, 0, 0, 0, 0): None for number in range(len(self.classes))})
        return list(found)

    def idle_possible(self, link: int) -> bool:
        return link >= self.counts[0] - 1

    def read(self, family: Family, places: tuple[int, ...], rows: Sequence[Row]) -> Train:
        """The train of the rows chosen for its links; of options that share a row the first."""
        chosen = []
        for link in range(places[-1]):
            row = rows[link]
            chosen.append(
                next(
                    o
                    for o in self.classes[family.classes[link]]
                    if (o.units, o.thirds, o.turn) == row[2:5]
                    and row[5:] in ((0, 0), (o.choice.wheel, o.choice.pinion))
                )
            )
        return self.train(family, places, chosen)

    def hull(self) -> list[tuple[float, float]]:
        """Least and greatest log period of each ring over all families, from the options alone."""
        found = [(0.0, 0.0)]
        steps = [
            (min(o.log for o in options), max(o.log for o in options)) if options else None for options in self.classes
        ]
        for ring in range(1, self.rings):
            ends = []
            for family in self.families:
                ways = [steps[one] for one in family.classes[:ring]]
                if None not in ways:
                    ends.append(
                        (family.logs[ring] + sum(w[0] for w in ways), family.logs[ring] + sum(w[1] for w in ways))
                    )
            found.append((min(a for a, _ in ends), max(b for _, b in ends)) if ends else (0.0, 0.0))
        return found

    def train(self, family: Family, places: tuple[int, ...], options: Sequence[Option]) -> Train:
        count = places[-1] + 1
        return Train(family.rings[:count], places, tuple(option.link() for option in options[: count - 1]))


def link_key(design: Design, inner: int, outer: int) -> object:
    """Links of one key have the same candidates.

    Without places the rings do not matter; with them only their difference does, since every distance between
    centres moves along with the rings, unless the whole has a greatest radius.
    """
    if not design.arbors.reverted:
        return None
    return (inner, outer) if design.limits.max_envelope is not None else outer - inner


def merge(listed: tuple[Candidate, ...], goal: str, sense_matters: bool) -> tuple[Option, ...]:
    """The options of a link, ascending by ratio.

    For the error alone, of options with one ratio and one sense the first with the fewest third gears will do.
    """
    kept: dict[object, Option] = {}
    for one in sorted(listed, key=lambda one: KINDS[one.kind].thirds):
        kind = KINDS[one.kind]
        ratio, turn = Fraction(one.wheel, one.pinion), int(kind.reverses and sense_matters)
        option = Option(math.log(ratio), kind.thirds, turn, one)
        kept.setdefault((ratio, turn) if goal == "error" else one, option)
    return tuple(sorted(kept.values(), key=lambda option: (option.log, option.thirds, option.turn)))


def rounding(problem_links: int) -> float:
    """How far two proven answers may differ in log error: each step of each is rounded by half a unit, and windows
    by one; the coarsest scale of any way is 1e5.
    """
    return (problem_links + 6) / 1e5


def missing(module: str, extra: str = "pip install '.[bench]'") -> Callable[[], str | None]:
    """A check that a module can be found."""
    from importlib.util import find_spec

    return lambda: None if find_spec(module) else f"no Python package {module} ({extra})"
