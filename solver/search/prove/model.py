"""The CP-SAT model of one structure: the rules posted on one train, enumerated or minimised.

The rules alone define the model; `Window` adds only what they imply (candidates that cannot be part of a train
within the error bounds are left out), so the same answers come out without it, slowly.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import NamedTuple, Protocol

from ortools.sat.python import cp_model

from constraints.envelope import MaxEnvelope, envelope
from constraints.error import RateBound, Rates
from constraints.jigs import MaxJigs, jigs
from constraints.largest import MaxLargest, largest
from constraints.parts import MaxParts, parts
from constraints.reverted import Reverted
from constraints.sense import SenseOfBody, SenseOfRings
from constraints.step import EqualSteps, RingChoice
from constraints.teeth import Teeth
from constraints.third import NoPlaces, ThirdCount, ThirdSmallest, ThirdTriangle
from constraints.total import MaxTeeth, total_teeth
from constraints.train import Expr, TrainVars
from solver.design.design import Design, Structure
from solver.design.exact import log_fraction
from solver.design.kinematics import Pair
from solver.design.links import KINDS
from solver.design.train import Link, Train
from solver.search.options.candidates import Candidates, Option
from solver.search.options.caps import Caps, caps_of, third_limit
from solver.search.prove.logs import SCALE, log_of
from solver.search.rounding import prime_slack
from solver.search.solves import Solves


class Rule(Protocol):
    def post(self, train: TrainVars) -> None: ...


_CAP_RULES: dict[str, Callable[[int], Rule]] = {
    "parts": MaxParts,
    "jigs": MaxJigs,
    "teeth": MaxTeeth,
    "largest": MaxLargest,
    "envelope": MaxEnvelope,
}


class LogBound(NamedTuple):
    """How much the scaled logarithm of one ring's period may be more than that of another."""

    above: int
    below: int
    most: int


class Fixed(NamedTuple):
    """A rank key, or a block of the lexicographic tail, held at ("=="), above (">=") or below ("<=") a value."""

    key: str
    relation: str
    value: int


def bounds_for(design: Design, structure: Structure, pairs: tuple[Pair, ...], error: float) -> tuple[LogBound, ...]:
    """Bounds on the scaled logarithms that no train up to `error` (a fraction) breaks.

    Rounded outwards by `rounding.prime_slack`, so that a few trains just above the error may pass.
    """
    teeth = (*(max(ring) for ring in structure.rings), *design.arbors.wheel_teeth, *design.arbors.pinion_teeth)
    room = prime_slack(structure.links, max(teeth))
    return tuple(
        LogBound(
            structure.seats[pair.above],
            structure.seats[pair.below],
            math.ceil(SCALE * (log_fraction(pair.least) + math.log(pair.factor(error)))) + room,
        )
        for pair in pairs
    )


@dataclass(frozen=True)
class Window:
    """What is known of a structure before CP-SAT sees it.

    bounds: on the scaled logarithms. options: for each link the candidates left, or None for all.
    """

    bounds: tuple[LogBound, ...]
    options: tuple[frozenset[Option], ...] | None


class TrainModel:
    """Builds models of one structure under one window and asks them."""

    def __init__(
        self, structure: Structure, candidates: Candidates, window: Window, solves: Solves, caps: Caps | None = None
    ) -> None:
        """caps: the design's own where None."""
        self.design, self.structure, self.candidates = candidates.design, structure, candidates
        self.window, self.solves = window, solves
        self.caps = caps_of(self.design) if caps is None else caps
        limit = max(third_limit(self.design, self.caps, len(structure.rings)), 0)
        self.kinds = [kind for kind in KINDS if kind.thirds <= limit]

    # -- building ------------------------------------------------------------------------------------------------

    def _variables(self) -> TrainVars:
        rings, links, found = self.structure.rings, self.structure.links, self.candidates
        shapes = [(kind.wheel_thirds, kind.pinion_thirds) for kind in self.kinds]
        options = self.window.options
        if options is None:
            wheels = [found.wheel_teeth] * links
            pinions = [found.pinion_teeth] * links
        else:
            wheels = [tuple(wheel for _, wheel, _ in link) for link in options]
            pinions = [tuple(pinion for _, _, pinion in link) for link in options]
        top = max(max(ring) for ring in rings)
        span = (2 * links + 2) * max(
            log_of(z) for z in (*self.candidates.wheel_teeth, *self.candidates.pinion_teeth, top)
        )
        span += 2 * links * SCALE // 100
        return TrainVars.build(rings, wheels, pinions, found.third_teeth, [shapes] * links, span, found.gap)

    def rules(self) -> list[Rule]:
        """The rules of the design for this structure."""
        design, structure, found = self.design, self.structure, self.candidates
        arbors = design.arbors
        rules: list[Rule] = [Teeth(arbors.wheel_teeth, arbors.pinion_teeth, arbors.third_teeth)]
        if design.rings.teeth is None:
            inner, second = structure.rings[0][0], structure.rings[1][0]
            rules.append(EqualSteps(inner, second - inner))
        else:
            rules.append(RingChoice(design.rings.teeth, found.growing))
        rules += [Reverted(), ThirdTriangle(found.gap)] if arbors.reverted else [NoPlaces()]
        rules += [ThirdCount(arbors.third_gears), SenseOfRings()]
        for body, ring in zip(design.bodies, structure.seats, strict=True):
            if body.sense != "either":
                rules.append(SenseOfBody(ring, body.sense == "reverse"))
        teeth = {z for ring in structure.rings for z in ring} | set(arbors.wheel_teeth) | set(arbors.pinion_teeth)
        rules.append(Rates({z: log_of(z) for z in teeth}))
        rules += [RateBound(*bound) for bound in self.window.bounds]
        for key, rule in _CAP_RULES.items():
            if key in self.caps:
                rules.append(rule(self.caps[key]))
        return rules

    def build(self, fixed: Sequence[Fixed] = (), further: Sequence[Rule] = ()) -> tuple[TrainVars, dict[str, Expr]]:
        """A fresh model. fixed: rank keys and blocks that are held; further: rules beside the design's own."""
        train = self._variables()
        for rule in (*self.rules(), *further):
            rule.post(train)
        if self.window.options is not None:
            for link, options in zip(train.links, self.window.options, strict=True):
                train.model.add_allowed_assignments(
                    [link.kind_index, link.wheel.value, link.pinion.value], sorted(options)
                )
        measures: dict[str, Expr] = {}
        for key, relation, value in fixed:
            if key not in measures:
                measures[key] = self.measure(train, key)
            measure = measures[key]
            if relation == "==":
                train.model.add(measure == value)
            elif relation == ">=":
                train.model.add(measure >= value)
            else:
                train.model.add(measure <= value)
        return train, measures

    def measure(self, train: TrainVars, key: str) -> Expr:
        """A rank key, or one block of the lexicographic tail ("order0", "order1", ...), as an expression."""
        known: dict[str, Callable[[TrainVars], Expr]] = {
            "parts": parts,
            "jigs": jigs,
            "teeth": total_teeth,
            "largest": largest,
        }
        if key in known:
            return known[key](train)
        if key == "envelope":
            return envelope(train) if self.design.arbors.reverted else cp_model.LinearExpr.sum([])
        return _blocks(train)[int(key.removeprefix("order"))]

    def order_keys(self) -> list[str]:
        """Names of the blocks that, minimised one after the other, give the lexicographically first train."""
        return [f"order{i}" for i in range(len(_blocks(self._variables())))]

    # -- asking --------------------------------------------------------------------------------------------------

    def enumerate(self, limit: int, fixed: Sequence[Fixed] = ()) -> tuple[list[Train], bool]:
        """All trains, at most `limit`, and whether that is all of them. Raises SearchStopped."""
        return self._enumerate(limit, self.build(fixed)[0])

    def enumerate_smallest(self, limit: int) -> tuple[list[Train], bool]:
        """Likewise those alone whose third gears are the smallest that fit, which stand for all."""
        return self._enumerate(limit, self.build(further=[ThirdSmallest(self.candidates.third_teeth)])[0])

    def _enumerate(self, limit: int, train: TrainVars) -> tuple[list[Train], bool]:
        collector = _Collector(self, train, limit)
        self.solves.run(train.model, collector)
        return list(collector.found), not collector.full

    def minimise(self, key: str, fixed: Sequence[Fixed]) -> int | None:
        """Least value of a rank key, proven, or None where no train exists. Raises SearchStopped."""
        train, measures = self.build(fixed)
        train.model.minimize(measures[key] if key in measures else self.measure(train, key))
        solver, exists = self.solves.run(train.model)
        return round(solver.objective_value) if exists else None

    def extract(self, train: TrainVars, value: Callable[[cp_model.IntVar], int]) -> Train:
        """Read a train back from the variables' values."""
        links = []
        for link in train.links:
            kind = self.kinds[value(link.kind_index)]
            thirds = [value(link.wheel_third.value)] * kind.wheel_thirds
            thirds += [value(link.pinion_third.value)] * kind.pinion_thirds
            links.append(Link(kind.name, value(link.wheel.value), value(link.pinion.value), tuple(thirds)))
        return Train(tuple(value(ring.value) for ring in train.rings), self.structure.seats, tuple(links))


def _blocks(train: TrainVars) -> list[Expr]:
    """The teeth in lexicographic order (rings, kinds, wheels, pinions, thirds) as numbers below 2**40 each."""
    digits: list[tuple[cp_model.IntVar, int]] = [(ring.value, max(ring.is_value) + 1) for ring in train.rings]
    digits += [(link.kind_index, len(link.kinds)) for link in train.links]
    for pick in ("wheel", "pinion"):
        digits += [(count.value, max(count.is_value) + 1) for count in (getattr(link, pick) for link in train.links)]
    digits += [
        (count.value, max(count.is_value) + 1)
        for link in train.links
        for count in (link.wheel_third, link.pinion_third)
        if len(count.is_value) > 1
    ]
    blocks: list[Expr] = []
    size = 1 << 40
    for variable, radix in digits:
        if size * radix >= 1 << 40:
            blocks.append(variable + 0)
            size = radix
        else:
            blocks[-1] = blocks[-1] * radix + variable
            size *= radix
    return blocks


class _Collector(cp_model.CpSolverSolutionCallback):
    """Keeps up to `limit` different trains and stops the enumeration at one more."""

    def __init__(self, owner: TrainModel, train: TrainVars, limit: int) -> None:
        super().__init__()
        self.owner, self.train, self.limit = owner, train, limit
        self.found: dict[Train, None] = {}
        self.full = False

    def on_solution_callback(self) -> None:
        found = self.owner.extract(self.train, self.value)
        if found not in self.found and len(self.found) >= self.limit:
            self.full = True
            self.stop_search()
            return
        self.found[found] = None
