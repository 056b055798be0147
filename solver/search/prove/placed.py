"""Teeth and places as one CP-SAT model, of all trains of a design that have certain rings.

Every place of every choice of each link, and of the motor, is a literal beside the teeth that it belongs to. Where
these are too many, the links are held to those of one train, and what is excluded is no more than the few of them that
CP-SAT needs for its proof (logic-based Benders' cuts).
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

import numpy as np
from ortools.sat.python import cp_model

from constraints.places import Aspect, PlaceVars
from constraints.sag import PostsHold
from solver.design.design import Design
from solver.design.geometry import envelope_limit_teeth
from solver.design.train import DrivePlace, Link, Placement, RollerPlace, Train
from solver.search.place.arm_tables import arm_rules, reached_alone
from solver.search.place.level_tables import level_rule
from solver.search.place.rollers import STEP
from solver.search.place.shapes import RingStack
from solver.search.place.standing import Ground, Rings, Standing, link_of, reach_of, thirds_of
from solver.search.place.tables import RuleTables
from solver.search.prove.model import DesignModel
from solver.search.reaches import Reaches
from solver.search.roller_gaps import RollerGaps
from solver.search.sagged import sagging_of
from solver.search.solves import Solves, WorkSpent

MOST_TRIED = 500_000  # places of one thing, before any rule is asked
MOST_PLACES = 200_000  # of all things, that the rules of one thing leave
MOST_CELLS = 12_000_000  # of tables of what two things leave each other

Told = TypeVar("Told", bound=Hashable)
State = Callable[[DesignModel], bool]  # states what is asked for; False: it cannot be had


class TooManyPlaces(Exception):
    """More places than one model is made of."""


@dataclass(frozen=True)
class Grounds:
    """All places of trains with the same rings: of each link and then of the motor, by what stands where (standing,
    with owners), and the rules of places between them; stiff: of each thing, at which places its posts hold."""

    rings: Rings
    standing: list[Standing]
    owners: list[int]
    tables: RuleTables
    stiff: list[np.ndarray]

    def of(self, owner: int) -> Iterator[tuple[int, Standing]]:
        """What stands there of a link or the motor, numbered."""
        return ((number, self.standing[number]) for number, one in enumerate(self.owners) if one == owner)


def grounds(
    ground: Ground, rings: Rings, links: Sequence[Sequence[Link]], motor: bool, *, limited: bool = True
) -> Grounds:
    """The places of these links, level by level, and of the motor, that no rule of one thing alone forbids.

    Raises TooManyPlaces, where they are limited."""
    count, fit = len(rings), ground.fit
    riders = tuple(range(count)) if fit.stands != "none" else ()
    passes = [ground.stand_passes(ring, count) for ring in riders]
    stack = RingStack(rings, riders)
    shapes = [ground.link_shapes(rings, level, some) for level, some in enumerate(links)]
    if motor:
        shapes.append(ground.motor_shapes(rings))
    standing, owners = list[Standing](), list[int]()
    for owner, some in enumerate(shapes):
        tried = len(ground.compass.directions) * sum(2 ** len(thirds_of(shape)) for shape in some)
        if limited and tried > MOST_TRIED:
            raise TooManyPlaces
        there = [_alone(ground, stack, passes, one) for one in ground.everywhere(some, count)]
        standing += (one for one in there if len(one))
        owners += (owner for one in there if len(one))
    rollers = [ground.rollers(level, rings) for level in range(count if fit.rollers is not None else 0)]
    things = [one.places for one in standing]
    tables = RuleTables(ground.measures, stack, things, rollers, passes, owners)
    if limited and (sum(map(len, things)) > MOST_PLACES or tables.cells > MOST_CELLS):
        raise TooManyPlaces
    return Grounds(rings, standing, owners, tables, [ground.stiff(one, count) for one in standing])


def _alone(ground: Ground, stack: RingStack, passes: Sequence[range], one: Standing) -> Standing:
    """What the rules leave that look at one thing alone: frame, posts and how they bend, levels, arms, and the stands
    of the first and the last ring, where bodies surely ride."""
    tables = RuleTables(ground.measures, stack, [one.places], [], passes)
    stands = tables.stand().things
    kept = [
        tables.frame().inside[0],
        tables.post().alone[0],
        ground.stiff(one, len(stack.rings)),
        *(stands[ring][0] for ring in (0, -1) if stands),
    ]
    if (levels := level_rule(tables)) is not None:
        kept.append(levels.alone[0])
    if ground.measures.arms is not None:
        kept.append(reached_alone(tables, stack.riders[:1] + stack.riders[-1:])[0])
    return one.only(np.logical_and.reduce(kept))


def with_rings(design: Design, rings: Rings) -> Design:
    """The design with these rings alone."""
    blanks = len(rings) - len(design.bodies)
    return replace(design, rings=replace(design.rings, teeth=tuple((z,) for z in rings), blanks=(blanks,)))


class PlacedModel:
    """The model of a design's trains with certain rings and their places."""

    def __init__(self, design: Design, found: Grounds, state: State, held: Train | None = None) -> None:
        """state: what is asked for besides. held: each link is that of this train where its literal in `wanted` is
        true, and has no place where it is not.

        Raises NoRings where the rings are too many for the frame's depth."""
        self.design, self.grounds, rings = design, found, found.rings
        self.teeth = teeth = DesignModel(with_rings(design, rings))
        self.model = teeth.train.model
        self.places = PlaceVars(self.model)
        teeth.tell_trains_apart()
        self.wanted: list[cp_model.IntVar] = []
        self.last: Sequence[int] = ()  # a solution
        for level in range(len(rings) - 1):
            self._link(level, held)
        if design.drive is not None:
            self.places.either([len(one) for _, one in found.of(len(rings) - 1)])
            self._senses()
        for rollers in found.tables.rollers:
            self.places.ring(len(rollers))
        self._riders()
        tables = found.tables
        for rule in (tables.frame(), tables.neighbour(), tables.post(), tables.stand(), PostsHold(found.stiff)):
            rule.post(self.places)
        if (levels := level_rule(tables)) is not None:
            levels.post(self.places)
        if tables.rollers:
            tables.roller().post(self.places)
            tables.spread(list(self._gaps())).post(self.places)
        for arm in arm_rules(tables):
            arm.post(self.places)
        if {"envelope"} & {*design.rank, *design.front} or design.limits.max_envelope is not None:
            self._reach()
        self.possible = state(teeth)
        teeth.train.close()

    def train(self, solves: Solves, most: float | None = None) -> Train | None:
        """A train with its places; None: there is none, proven. Raises SearchStopped, and WorkSpent beyond so much
        work."""
        if not self.possible:
            return None
        solver, exists = self._run(self.wanted, solves, most)
        return self._extract(solver) if exists else None

    def least(self, key: str, solves: Solves, most: float) -> tuple[int, Train] | None:
        """The least value of a measure that was asked for before the model was closed, and a train that has it; None:
        there is none, proven. Raises SearchStopped, and WorkSpent beyond so
        much work."""
        if not self.possible:
            return None
        self.model.minimize(self.teeth.measure(key))
        solver, exists = solves.run(self.model, most=most)
        if not exists:
            return None
        self.begin_at(list(solver.response_proto.solution))
        return round(solver.objective_value), self._extract(solver)

    def good(self, key: str, solves: Solves, most: float) -> Train | None:
        """Likewise a train with as small a value as so much work finds; None: there is none, proven."""
        try:
            one = self.least(key, solves, most)
        except WorkSpent as spent:
            if spent.best is None:
                raise
            self.begin_at(list(spent.best.response_proto.solution))
            return self._extract(spent.best)
        return None if one is None else one[1]

    def begin_at(self, values: Sequence[int]) -> None:
        """Begin the next solve at the values that this model, or one of the same variables, had in a solution."""
        self.last = values
        self.model.clear_hints()  # type: ignore[no-untyped-call]
        hint = self.model.proto.solution_hint
        hint.vars.extend(range(len(values)))
        hint.values.extend(values)

    def culprits(self, solves: Solves) -> list[int]:
        """Of a model without a train some links, by level, that alone leave none; few, though perhaps not the fewest.

        Raises SearchStopped."""
        guilty = list(range(len(self.wanted)))
        for level in list(guilty):
            rest = [one for one in guilty if one != level]
            if len(rest) < len(guilty) and not (
                self.possible and self._run([self.wanted[one] for one in rest], solves)[1]
            ):
                guilty = rest
        return guilty

    def _run(
        self, wanted: Sequence[cp_model.IntVar], solves: Solves, most: float | None = None
    ) -> tuple[cp_model.CpSolver, bool]:
        self.model.clear_assumptions()
        self.model.add_assumptions(list(wanted))
        return solves.run(self.model, most=most)

    # -- posted ------------------------------------------------------------------------------------------------------

    def _link(self, level: int, held: Train | None) -> None:
        """The places of a link, each of which says of what teeth it is."""
        wanted = None
        if held is not None:
            wanted = self.model.new_bool_var(f"wanted {level}")
            self.wanted.append(wanted)
            for variable, value in self.teeth.told([level], held):
                self.model.add(variable == value).only_enforce_if(wanted)
        parts = list(self.grounds.of(level))
        self.places.either([len(one) for _, one in parts], wanted)
        link = self.teeth.train.links[level]
        kinds = {kind.name: index for index, kind in enumerate(self.teeth.kinds)}
        sides = [link.third("wheel"), link.third("pinion")]
        columns = [link.literals(name) for name in ("kind", "wheel", "pinion")]
        for number, one in parts:
            for shape, literal in self._rows(number, one.places.shapes):
                of = link_of(shape)
                meant = zip(columns, (kinds[of.kind], of.wheel, of.pinion), strict=True)
                thirds = zip(sides, (side.third or 0 for side in shape.sides), strict=True)
                told = [
                    column[value] for column, value in (*meant, *((side, z) for side, z in thirds if len(side) > 1))
                ]
                self.model.add_bool_and(told).only_enforce_if(literal)

    def _rows(self, number: int, told: Sequence[Told]) -> Iterator[tuple[Told, cp_model.IntVar]]:
        """What is told of the places of a thing, each with the literal that says that it is so."""
        rows: dict[Told, int] = {}
        aspect = Aspect(number, np.array([rows.setdefault(one, len(rows)) for one in told], np.int64))
        return zip(rows, self.places.literals(aspect), strict=True)

    def _senses(self) -> None:
        """The motor turns clockwise, ring 0 counterclockwise: with a third gear it works with a ring that turns against
        ring 0, without one with a ring that turns as ring 0 does."""
        drive, turned = self.design.drive, self.teeth.train.turned
        if drive is None or drive.reverse_ok:
            return
        for number, one in self.grounds.of(len(self.grounds.rings) - 1):
            for shape, literal in self._rows(number, one.places.shapes):
                ring = turned[shape.sides[0].level]
                self.model.add_implication(literal, ring if thirds_of(shape) else ~ring)

    def _riders(self) -> None:
        """Who rides on a ring brings a stand there."""
        for ring in self.grounds.tables.stack.riders:
            rider = self.model.new_bool_var(f"stand on ring {ring}")
            self.places.riders.append(rider)
            for seats in self.teeth.train.seats:
                if ring in seats:
                    self.model.add_implication(seats[ring], rider)

    def _gaps(self) -> Iterator[list[tuple[cp_model.IntVar | None, RollerGaps]]]:
        """How the rollers of each ring must stand: as one without a body, and as one with each that may ride there."""
        sagging, count = sagging_of(self.design), len(self.grounds.rings)
        for level, teeth in enumerate(self.grounds.rings if sagging is not None else ()):
            assert sagging is not None
            bare = sagging.roller_gaps(level, teeth, count, None)
            asked: list[tuple[cp_model.IntVar | None, RollerGaps]] = [(None, bare)]
            for body, seats in enumerate(self.teeth.train.seats):
                if level in seats and (gaps := sagging.roller_gaps(level, teeth, count, body)) != bare:
                    asked.append((seats[level], gaps))
            yield asked

    def _reach(self) -> None:
        """The envelope is that of every place too: arbors may stand farther out than they must, and the motor is part
        of it."""
        reaches = [list(map(reach_of, one.places.shapes)) for one in self.grounds.standing]
        top = max((far for some in reaches for far in some), default=0)
        limit, rings = self.design.limits.max_envelope, self.design.rings
        most = None if limit is None else envelope_limit_teeth(rings.pitch, Reaches(self.design).most, limit)
        reach = self.teeth.reaches(top, most)
        for number, some in enumerate(reaches):
            for far, literal in self._rows(number, some):
                self.model.add(reach >= far).only_enforce_if(literal)

    # -- read back ---------------------------------------------------------------------------------------------------

    def _extract(self, solver: cp_model.CpSolver) -> Train:
        train, found, last = self.teeth.extract(solver.value), self.grounds, len(self.grounds.rings) - 1
        chosen = [
            next((one, index) for number, one in found.of(owner) for index in self._true(solver, number))
            for owner in range(last + (self.design.drive is not None))
        ]
        drive = None
        if self.design.drive is not None:
            one, index = chosen.pop()
            shape, rpm = one.places.shapes[index], min(self.design.drive.motor_rpm)
            side = shape.sides[0]
            drive = DrivePlace(side.level, rpm, side.gear, thirds_of(shape), one.at(index))
        rollers = tuple(
            tuple(
                RollerPlace(STEP * index, (int(ring.xs[index]), int(ring.ys[index])))
                for index, here in enumerate(literals)
                if solver.boolean_value(here)
            )
            for ring, literals in zip(found.tables.rollers, self.places.rollers, strict=True)
        )
        placement = Placement(tuple(one.at(index) for one, index in chosen), rollers, drive)
        return replace(
            train, links=tuple(link_of(one.places.shapes[index]) for one, index in chosen), placement=placement
        )

    def _true(self, solver: cp_model.CpSolver, number: int) -> Iterator[int]:
        return (index for index, place in enumerate(self.places.items[number]) if solver.boolean_value(place))
