"""What is too long to list by walking: CP-SAT enumerates it structure by structure, or orders it block by block."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from solver.design.train import Train
from solver.search.order import effort
from solver.search.order.listing import Lister
from solver.search.order.score import Found, path_of

if TYPE_CHECKING:
    from solver.search.prove.model import DesignModel, Fixed, Narrowed


class Modelled:
    """The trains of one question as CP-SAT finds them; what is found is remembered by the lister."""

    def __init__(self, lister: Lister) -> None:
        self.lister = lister
        self.limit = max(effort.MODEL_LIMIT, effort.LIST_PER_KEPT * lister.question.keep)

    def all(self) -> tuple[list[Found], bool]:
        """The best trains within all limits, and whether CP-SAT could list all. Raises SearchStopped, Unproven."""
        # The smallest third gears stand for all, but not where another one could save a jig, or a gear, that is needed.
        caps, design = self.lister.question.caps, self.lister.shared.design
        smallest = caps.keys().isdisjoint({"jigs", "new_gears"}) or design.arbors.third_gears == 0
        found: list[Found] = self.lister.settled()
        listed = 0
        for part in self._parts():
            trains, whole = self._enumerate(part, (), self.limit - listed, smallest)
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
            for part in self._parts():
                self._descend(part, [], self._model(part).order_keys())
        return self.lister.first()

    def _parts(self) -> Iterator[Narrowed]:
        """Each structure that may have a train, with the error and the choices of its links that are left."""
        from solver.search.prove.model import Narrowed  # loads CP-SAT, which few designs need

        lattices, units = self.lister.all_inside()
        question, shared = self.lister.question, self.lister.shared
        error = float(shared.design.limits.max_error)
        if question.most is not None:
            error = min(error, math.sqrt(question.most) - 1)
        for lattice in lattices:
            for structure in lattice.structures(units):
                options = self.lister.lattice(structure, lattice.scale).options(units)
                if options is not None and not self.lister.gone(structure):
                    shared.tally.modelled.add(structure)
                    yield Narrowed(structure, error, tuple(map(frozenset, options)))

    def _model(self, part: Narrowed, smallest: bool = False) -> DesignModel:
        from solver.search.prove.model import DesignModel

        return DesignModel(self.lister.shared.design, self.lister.question.caps, part, smallest=smallest)

    def _enumerate(
        self, part: Narrowed, fixed: Sequence[Fixed], limit: int, smallest: bool = False
    ) -> tuple[list[Train], bool]:
        from solver.search.prove.model import enumerate_trains

        model = self._model(part, smallest)
        model.hold(fixed)
        return enumerate_trains(model, limit, self.lister.shared.solves)

    def _descend(self, part: Narrowed, fixed: Sequence[Fixed], keys: list[str]) -> list[Found]:
        """The `keep` best trains under the fixed keys, by the remaining ones."""
        from solver.search.prove.model import Fixed, minimise

        trains, whole = self._enumerate(part, fixed, self.limit)
        if whole:
            return self.lister.scored([path_of(train) for train in trains])
        if not keys:
            raise RuntimeError(f"a class of one train lists more than {self.limit}: {fixed}")
        found: dict[tuple[object, ...], Found] = {}
        least = 0
        while len(found) < self.lister.question.keep:
            model = self._model(part)
            model.hold([*fixed, Fixed(keys[0], ">=", least)])
            value = minimise(model, keys[0], self.lister.shared.solves)
            if value is None:
                break
            for item in self._descend(part, [*fixed, Fixed(keys[0], "==", value)], keys[1:]):
                found[self.lister.shared.same(item.train)] = item
            least = value + 1
        return list(found.values())
