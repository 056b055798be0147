"""The CP-SAT model of one train's places: the rules posted on the places of its links, its drive and its rollers.

It answers where trying one place after the other would take too long: whether there is a placement at all, and which
is the first, thing by thing.
"""

from __future__ import annotations

from constraints.places import PlaceVars
from solver.search.place.arm_tables import arm_rules
from solver.search.place.level_tables import level_rule
from solver.search.place.rollers import Wheelhouse
from solver.search.place.tables import RingRollers, RuleTables
from solver.search.solves import Solves


def rollers_of(house: Wheelhouse) -> RingRollers:
    """The rollers of a ring in every direction of the grid; none where they are larger than the ring leaves."""
    every = slice(None if house.possible else 0)
    directions = tuple(float(at.direction) for at in house.all())
    return RingRollers(house.level, directions, house.xs[every], house.ys[every], house.passes)


class PlaceModel:
    """The model of the places of things, links and then the drive, under all rules."""

    def __init__(self, tables: RuleTables) -> None:
        self.tables = tables

    def build(self) -> PlaceVars:
        """A fresh model with every rule."""
        train, tables = PlaceVars(), self.tables
        for thing in tables.things:
            train.item(len(thing))
        for rollers in tables.rollers:
            train.ring(len(rollers))
        train.riders += [train.model.new_constant(1) for _ in tables.stack.riders]
        for rule in (tables.frame(), tables.neighbour(), tables.post(), tables.stand()):
            rule.post(train)
        if (levels := level_rule(tables)) is not None:
            levels.post(train)
        if tables.rollers:
            tables.roller().post(train)
            tables.spread([[(None, gaps)] for gaps in tables.stack.gaps]).post(train)
        for arm in arm_rules(tables):
            arm.post(train)
        return train

    def exists(self, solves: Solves) -> bool:
        """Whether there is a placement, proven either way. Raises SearchStopped."""
        return solves.run(self.build().model)[1]

    def first(self, solves: Solves) -> tuple[list[int], list[tuple[int, ...]]] | None:
        """The first placement: for each thing the index of its place, the earlier things first, and the directions of
        each ring's rollers on the grid; None: there is none, proven. Raises SearchStopped."""
        train = self.build()
        chosen: list[int] = []
        for places in train.items:
            train.model.minimize(sum(index * place for index, place in enumerate(places)))
            solver, exists = solves.run(train.model)
            if not exists:
                return None
            chosen.append(round(solver.objective_value))
            train.model.add(places[chosen[-1]] == 1)
        return chosen, [
            tuple(index for index, roller in enumerate(ring) if solver.boolean_value(roller)) for ring in train.rollers
        ]
