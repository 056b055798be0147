"""What is too long to list by walking: CP-SAT enumerates it structure by structure, or orders it block by block."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from solver.design.design import Structure
from solver.search.order import effort
from solver.search.order.listing import Lister
from solver.search.order.score import Found, path_of

if TYPE_CHECKING:
    from solver.search.prove.model import Fixed, TrainModel


class Modelled:
    """The trains of one question as CP-SAT finds them; what is found is remembered by the lister."""

    def __init__(self, lister: Lister) -> None:
        self.lister = lister
        self.limit = max(effort.MODEL_LIMIT, effort.LIST_PER_KEPT * lister.question.keep)

    def all(self) -> tuple[list[Found], bool]:
        """The best trains within all limits, and whether CP-SAT could list all. Raises SearchStopped, Unproven."""
        # The smallest third gears stand for all, but not where another one could save a jig that is needed.
        caps, design = self.lister.question.caps, self.lister.shared.design
        smallest = "jigs" not in caps or design.arbors.third_gears == 0
        found: list[Found] = []
        listed = 0
        for model in self._models():
            enumerate_trains = model.enumerate_smallest if smallest else model.enumerate
            trains, whole = enumerate_trains(self.limit - listed)
            listed += len(trains)
            found += self.lister.scored([path_of(train) for train in trains])
            if not whole:
                return found, False
        return found, True

    def alike(self) -> list[Found]:
        """The first `keep` of trains that differ in no key, by the teeth themselves in lexicographic order; CP-SAT
        orders what is too long to list. Raises SearchStopped, Unproven."""
        lattices, units = self.lister.all_inside()
        _, whole = self.lister.listed(lattices, units, self.lister.limit)
        if not whole:
            for model in self._models():
                self._descend(model, [], model.order_keys())
        return self.lister.first()

    def _models(self) -> Iterator[TrainModel]:
        """A model for each structure that may have a train."""
        lattices, units = self.lister.all_inside()
        for lattice in lattices:
            for structure in lattice.structures(units):
                model = self._model(structure, lattice.scale, units)
                if model is not None:
                    yield model

    def _model(self, structure: Structure, scale: int, units: float) -> TrainModel | None:
        """The model of all trains of a structure within the limits; None: there are none inside."""
        from solver.search.prove.model import TrainModel, Window, bounds_for  # loads CP-SAT, which few designs need

        lister, shared, question = self.lister, self.lister.shared, self.lister.question
        options = lister.lattice(structure, scale).options(units)
        if options is None:
            return None
        error = float(shared.design.limits.max_error)
        if question.most is not None:
            error = min(error, math.sqrt(question.most) - 1)
        bounds = bounds_for(shared.design, structure, shared.pairs, error)
        shared.tally.modelled.add(structure)
        window = Window(bounds, tuple(map(frozenset, options)))
        return TrainModel(structure, lister.candidates, window, shared.solves, question.caps)

    def _descend(self, model: TrainModel, fixed: Sequence[Fixed], keys: list[str]) -> list[Found]:
        """The `keep` best trains under the fixed keys, by the remaining ones."""
        from solver.search.prove.model import Fixed

        trains, whole = model.enumerate(self.limit, fixed)
        if whole:
            return self.lister.scored([path_of(train) for train in trains])
        if not keys:
            raise RuntimeError(f"a class of one train lists more than {self.limit}: {fixed}")
        found: dict[tuple[object, ...], Found] = {}
        least = 0
        while len(found) < self.lister.question.keep:
            value = model.minimise(keys[0], [*fixed, Fixed(keys[0], ">=", least)])
            if value is None:
                break
            for item in self._descend(model, [*fixed, Fixed(keys[0], "==", value)], keys[1:]):
                found[item.train.identity()] = item
            least = value + 1
        return list(found.values())
