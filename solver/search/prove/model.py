"""A design as one CP-SAT model: the rules posted on one set of variables, asked for the least value of a key, for a
train, or for all.

The rules alone define the model; what is fixed of the structure or left out of a link's choices narrows the question.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise, product
from typing import NamedTuple, Protocol

from ortools.sat.python import cp_model

from constraints.envelope import MaxEnvelope, envelope
from constraints.error import BodyTarget, RateBound, Rates, WithinError, scale_of, slack_of
from constraints.interchange import Interchange
from constraints.jigs import MaxJigs, jigs
from constraints.largest import MaxLargest, largest
from constraints.level import WithinLevel
from constraints.link import Choice, LinkChoices, LinkRule
from constraints.made import StandingLink, Stays
from constraints.new_gears import MaxNewGears, new_gears
from constraints.parts import MaxParts, parts
from constraints.reverted import Reverted
from constraints.run import Run
from constraints.sag import RingsHold
from constraints.seats import InOrder
from constraints.sense import Senses
from constraints.step import EqualSteps, RingChoice
from constraints.teeth import Teeth
from constraints.third import ThirdCount, ThirdTriangle
from constraints.total import MaxTeeth, total_teeth
from constraints.train import Expr, Key, LinkVars, TrainVars
from solver.design.design import Design, Family, Structure
from solver.design.exact import log_fraction
from solver.design.kinematics import pairs
from solver.design.links import KINDS
from solver.design.made import OnBench
from solver.design.train import Link, Train
from solver.search.levels import least_step, levels_of
from solver.search.options.caps import Caps, caps_of
from solver.search.reaches import gap_of
from solver.search.runs import runs_of
from solver.search.sagged import sagging_of
from solver.search.solves import Solves

COLUMNS_OF_A_TRAIN = ("kind", "wheel", "pinion")
MOST_FAMILIES = 300  # combinations of free rings that are listed as families

MEASURES: dict[str, Callable[[TrainVars, OnBench], Expr]] = {
    "error": lambda train, made: train.worst,
    "parts": lambda train, made: parts(train),
    "jigs": lambda train, made: jigs(train, made.gear_counts, made.ring_counts),
    "teeth": lambda train, made: total_teeth(train),
    "largest": lambda train, made: largest(train),
    "envelope": lambda train, made: envelope(train),
    "new_gears": lambda train, made: new_gears(train, made.drawer),
}


class NoRings(ValueError):
    """There is no number of rings, or no choice of them, that the design allows."""


class Fixed(NamedTuple):
    """A rank key, or a block of the lexicographic tail, held at ("=="), above (">=") or below ("<=") a value."""

    key: str
    relation: str
    value: int


@dataclass(frozen=True)
class Narrowed:
    """Part of a design: a structure's trains up to an error, a fraction, and a few just above it. options: of each link
    the (kind, wheel, pinion) left; None: all."""

    structure: Structure
    error: float
    options: tuple[frozenset[tuple[int, int, int]], ...] | None = None

    def bounds(self, design: Design, scale: int) -> Iterator[RateBound]:
        """What no train up to the error breaks."""
        seats, slack = self.structure.seats, slack_of(self.structure.links)
        for pair in pairs(design):
            most = log_fraction(pair.least) + math.log(pair.factor(self.error))
            yield RateBound(seats[pair.above], seats[pair.below], math.ceil(scale * most) + slack)


class Rule(Protocol):
    def post(self, train: TrainVars) -> None: ...


_CAP_RULES: dict[str, Callable[[int, OnBench], Rule]] = {
    "parts": lambda most, made: MaxParts(most),
    "jigs": lambda most, made: MaxJigs(most, made.gear_counts, made.ring_counts),
    "teeth": lambda most, made: MaxTeeth(most),
    "largest": lambda most, made: MaxLargest(most),
    "envelope": lambda most, made: MaxEnvelope(most),
    "new_gears": lambda most, made: MaxNewGears(most, made.drawer),
}


class DesignModel:
    """The model of a design, or of part of it, under caps; rank keys can be held or minimised until it is closed.

    train: its variables; scale: units of a logarithm.
    """

    def __init__(
        self,
        design: Design,
        caps: Caps | None = None,
        part: Narrowed | None = None,
        *,
        smallest: bool = False,
        families: Sequence[Family] | None = None,
    ) -> None:
        """caps: the design's own where None. smallest: the smallest third gears stand for all. families: some of the
        design's; None: all.

        Raises NoRings where the frame is too shallow for any number of rings.
        """
        self.design, self.part, self.made = design, part, design.on_bench
        self.families = design.families() if families is None else families
        caps = caps_of(design) if caps is None else caps
        self.kinds = [kind for kind in KINDS if kind.thirds <= design.arbors.third_gears]
        self.stays = self._staying() if self.made.links or self.made.held else None
        self.train = train = self._variables(caps, smallest)
        first, last, width = design.bodies[0], design.bodies[-1], math.log1p(float(design.limits.max_error))
        if design.reference == "best":
            width *= 2
        self.last = log_fraction(last.low / first.high) - width, log_fraction(last.high / first.low) + width
        self.scale = scale_of(train, self.last, width)
        for rule in self._rules(caps):
            rule.post(train)
        self._measures: dict[str, Expr] = {}

    def _variables(self, caps: Caps, smallest: bool) -> TrainVars:
        design, arbors, part = self.design, self.design.arbors, self.part
        gap = gap_of(design) if arbors.reverted else 0
        rules: list[LinkRule] = [
            Teeth(frozenset(arbors.wheel_teeth), frozenset(arbors.pinion_teeth), frozenset(arbors.third_teeth))
        ]
        levels, runs = levels_of(design), runs_of(design)
        if levels is not None:
            kinds = frozenset(i for i, kind in enumerate(self.kinds) if levels.link(kind))
            rules.append(WithinLevel(kinds, least_step(design)))
        run = None if runs is None else Run(runs.ring_runs, runs.third_runs, runs.gears_run)
        rules += [run] if run is not None else []
        rules += [rule(caps[key]) for key, rule in (("largest", MaxLargest), ("envelope", MaxEnvelope)) if key in caps]
        links = LinkChoices(
            [(kind.wheel_thirds, kind.pinion_thirds) for kind in self.kinds],
            arbors.wheel_teeth,
            arbors.pinion_teeth,
            arbors.third_teeth,
            Reverted() if arbors.reverted else None,
            ThirdTriangle(gap) if arbors.reverted else None,
            rules,
            run,
        )
        if part is None:
            families = self.families
            if not families:
                raise NoRings
            counts, seats = families[0].counts, None
            rings = [sorted({z for family in families for z in family.rings[i]}) for i in range(counts[-1])]
            listed = [family.rings for family in families]
        else:
            rings, counts, seats = (
                list(map(list, part.structure.rings)),
                (len(part.structure.rings),),
                part.structure.seats,
            )
            listed = [part.structure.rings]
        growing = arbors.reverted  # without places the rings need not grow
        some = None
        if sum(math.prod(map(len, choice)) for choice in listed) <= MOST_FAMILIES:
            every = dict.fromkeys(teeth for choice in listed for teeth in product(*choice))
            some = [teeth for teeth in every if not growing or all(a < b for a, b in pairwise(teeth))]
            if not some:
                raise NoRings
        return TrainVars(
            links,
            rings,
            counts,
            len(design.bodies),
            self._key("envelope" in caps),
            some,
            growing=growing,
            smallest=smallest,
            seats=seats,
            keep=self._kept if self.made.links or (part is not None and part.options is not None) else None,
        )

    def _key(self, absolute: bool) -> Callable[[int, int], Key]:
        """What of two rings decides the choices between them: both, where it matters how far out all of it stands, else
        their difference, and with which small gears each of them runs."""
        if not self.design.arbors.reverted:
            return lambda inner, outer: ()
        if absolute:
            return lambda inner, outer: (inner, outer)
        runs = runs_of(self.design)
        if runs is None:
            return lambda inner, outer: (outer - inner,)
        return lambda inner, outer: (outer - inner, runs.sort(inner), runs.sort(outer))

    def _kept(self, number: int, choice: Choice) -> bool:
        if self.stays is not None and not self.stays.allows(number, choice):
            return False
        part = self.part
        return part is None or part.options is None or choice[:3] in part.options[number]

    def _staying(self) -> Stays:
        """What stands where it is."""
        links = {}
        for link in self.made.links:
            kind = next((one for one in self.kinds if one.name == link.kind), None)
            thirds = None
            if kind is not None and link.thirds is not None:
                rest = iter(link.thirds)
                thirds = next(rest) if kind.wheel_thirds else 0, next(rest) if kind.pinion_thirds else 0
            index = -1 if kind is None else self.kinds.index(kind)
            links[link.link] = StandingLink(index, link.wheel, link.pinion, thirds)
        riders = {one.ring: -1 if one.blank else one.body for one in self.made.held}
        return Stays(links, {ring: rider for ring, rider in riders.items() if rider is not None})

    def _rules(self, caps: Caps) -> Iterator[Rule]:
        """The rules that look at more than one link, and limits."""
        design = self.design
        yield InOrder()
        if self.stays is not None:
            yield self.stays
        yield RingChoice(self.train.growing) if self.train.families is None else EqualSteps()
        yield ThirdCount(design.arbors.third_gears)
        yield Senses([None if body.sense == "either" else body.sense == "reverse" for body in design.bodies])
        yield Rates(self.scale, self.last)
        if self.part is not None:
            yield from self.part.bounds(design, self.scale)
        else:
            yield self._within()
        sagging = sagging_of(design)
        if sagging is not None:
            yield RingsHold(sagging.ring_holds)
        for key, most in caps.items():
            yield _CAP_RULES[key](most, self.made)

    def _within(self) -> WithinError:
        targets = [BodyTarget(body.low, body.high, body.cap) for body in self.design.bodies]
        return WithinError(targets, self.design.reference == "first", self.design.limits.max_error, self.scale)

    # -- asking --------------------------------------------------------------------------------------------------

    def measure(self, key: str) -> Expr:
        """A rank key, or one block of the lexicographic tail ("order0", "order1", ...), as an expression."""
        if key not in self._measures:
            known = MEASURES.get(key)
            self._measures[key] = (
                known(self.train, self.made) if known else blocks(self.train)[int(key.removeprefix("order"))]
            )
        return self._measures[key]

    def reaches(self, top: int, most: int | None) -> Expr:
        """A variable for the envelope [teeth] of all that stands, not less than the teeth make it, in the place of the
        teeth's own from here on. top: nothing stands farther out; most: nor may it, None: no limit."""
        teeth = self.measure("envelope")
        reach = self.train.model.new_int_var(0, max(top, *teeth.proto.domain), "reach of all")
        self.train.model.add(reach >= teeth)
        if most is not None:
            self.train.model.add(reach <= most)
        self._measures["envelope"] = reach
        return reach

    def order_keys(self) -> list[str]:
        """Names of the blocks that, minimised one after the other, give the lexicographically first train."""
        return [f"order{i}" for i in range(len(blocks(self.train)))]

    def hold(self, fixed: Sequence[Fixed]) -> None:
        """Hold keys at, above or below values."""
        for key, relation, value in fixed:
            measure = self.measure(key)
            if relation == "==":
                self.train.model.add(measure == value)
            elif relation == ">=":
                self.train.model.add(measure >= value)
            else:
                self.train.model.add(measure <= value)

    def interchange(self) -> None:
        """Have one train stand for all that differ by the order of links around blanks alone. For questions of teeth,
        without envelopes."""
        Interchange().post(self.train)

    def tell_trains_apart(self) -> None:
        """Have every train be solutions of its own, so that one can be excluded; before the model is closed."""
        for link in self.train.links:
            link.ask(*COLUMNS_OF_A_TRAIN)

    def exclude(self, train: Train) -> None:
        """Of a closed model that tells trains apart, forbid one, whatever its third gears are."""
        seats = ((self.train.seats[body][ring], 1) for body, ring in enumerate(train.seats))
        self._forbid([*self._rings(train), *seats, *self.told(range(len(train.links)), train)])

    def exclude_links(self, train: Train, levels: Iterable[int]) -> None:
        """Likewise all trains with the rings of this one and those of its links that are on these levels."""
        last = len(train.rings) - 1
        self._forbid([*self._rings(train), (self.train.seats[-1][last], 1), *self.told(levels, train)])

    def exclude_between(self, train: Train, bodies: tuple[int, int]) -> None:
        """Likewise all trains with the rings of this one, these two bodies where they are, and the links between."""
        seats = [train.seats[body] for body in bodies]
        held = ((self.train.seats[body][ring], 1) for body, ring in zip(bodies, seats, strict=True))
        self._forbid([*self._rings(train), *held, *self.told(range(min(seats), max(seats)), train)])

    def told(self, levels: Iterable[int], train: Train) -> Iterator[tuple[Expr, int]]:
        """What the links on these levels are in a train: variables and their values."""
        kinds = {kind.name: index for index, kind in enumerate(self.kinds)}
        for level in levels:
            link = train.links[level]
            values = (kinds[link.kind], link.wheel, link.pinion)
            yield from zip(map(self.train.links[level].column, COLUMNS_OF_A_TRAIN), values, strict=True)

    def _rings(self, train: Train) -> list[tuple[Expr, int]]:
        return list(zip(self.train.rings, train.rings, strict=False))

    def _forbid(self, told: Sequence[tuple[Expr, int]]) -> None:
        self.train.model.add_forbidden_assignments([variable for variable, _ in told], [[value for _, value in told]])

    def units(self, square: Fraction) -> int:
        """The error of a (1 + error)**2 in units, rounded up; what it is off besides, `slack` tells."""
        return math.ceil(self.scale * log_fraction(square) / 2)

    @property
    def slack(self) -> int:
        """By how many units rounding can put a train's error off."""
        return slack_of(len(self.train.links))

    def extract(self, value: Callable[[cp_model.IntVar], int]) -> Train:
        """Read a train back from the variables' values; of choices that no rule told apart the first one."""
        train = self.train
        seats = tuple(next(ring for ring, here in seats.items() if value(here)) for seats in train.seats)
        rings = tuple(value(ring) for ring in train.rings[: seats[-1] + 1])
        return Train(rings, seats, tuple(self._link(link, rings, value) for link in train.links[: seats[-1]]))

    def _link(self, link: LinkVars, rings: tuple[int, ...], value: Callable[[cp_model.IntVar], int]) -> Link:
        choice = link.taken(rings[link.number], rings[link.number + 1], value)
        thirds = [link.third_taken(side, choice, value) for side in ("wheel", "pinion")]
        return Link(self.kinds[choice.kind].name, choice.wheel, choice.pinion, tuple(z for z in thirds if z))


class Collector(cp_model.CpSolverSolutionCallback):
    """Keeps up to `limit` different trains and stops the enumeration at one more."""

    def __init__(self, owner: DesignModel, limit: int) -> None:
        super().__init__()
        self.owner, self.limit = owner, limit
        self.found: dict[Train, None] = {}
        self.full = False

    def on_solution_callback(self) -> None:
        found = self.owner.extract(self.value)
        if found not in self.found and len(self.found) >= self.limit:
            self.full = True
            self.stop_search()
            return
        self.found[found] = None


class Improving(cp_model.CpSolverSolutionCallback):
    """Hands on each train that is found on the way to the best."""

    def __init__(self, owner: DesignModel, told: Callable[[Train], None]) -> None:
        super().__init__()
        self.owner, self.told = owner, told

    def on_solution_callback(self) -> None:
        self.told(self.owner.extract(self.value))


def enumerate_trains(model: DesignModel, limit: int, solves: Solves) -> tuple[list[Train], bool]:
    """The trains of part of a design, at most `limit`, and whether that is all of them. Raises SearchStopped."""
    model.tell_trains_apart()
    collector = Collector(model, limit)
    solves.run(model.train.close(), collector)
    return list(collector.found), not collector.full


def minimise(model: DesignModel, key: str, solves: Solves) -> int | None:
    """Least value of a rank key, proven; None: there is no train. Raises SearchStopped."""
    model.train.model.minimize(model.measure(key))
    solver, exists = solves.run(model.train.close())
    return round(solver.objective_value) if exists else None


def blocks(train: TrainVars) -> list[Expr]:
    """The teeth in lexicographic order (rings, seats, kinds, wheels, pinions, thirds) as numbers below 2**40 each."""
    digits: list[tuple[Expr, Collection[int]]] = list(zip(train.rings, train.ring_values, strict=True))
    digits += [(train.seat(body), seats) for body, seats in enumerate(train.seats)]
    for name in ("kind", "wheel", "pinion"):
        digits += [(link.column(name), link.literals(name)) for link in train.links]
    for link in train.links:
        thirds = [link.third(side) for side in ("wheel", "pinion")]
        digits += [(sum(z * here for z, here in third.items()), third) for third in thirds]
    found: list[Expr] = []
    size = 1 << 40
    for column, values in digits:
        if len(values) <= 1:
            continue
        least = min(values)
        digit, radix = column - least, max(values) - least + 1
        if size * radix >= 1 << 40:
            found.append(digit + 0)
            size = radix
        else:
            found[-1] = found[-1] * radix + digit
            size *= radix
    return found
