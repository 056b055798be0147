"""Whether any train of a design with certain rings has what is asked for, and places: CP-SAT alone, from the rules."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import product

from solver.design.design import Design
from solver.design.train import Link, Train
from solver.search.place.standing import Ground, Rings, thirds_of
from solver.search.prove.model import DesignModel
from solver.search.prove.placed import Grounds, PlacedModel, State, TooManyPlaces, grounds, with_rings
from solver.search.solves import Solves

PATIENCE = 12  # models of one train with the same rings, before one is made of all

Breaks = Callable[[Train], bool]  # whether a train with places is what is asked for, exactly


class WithPlaces:
    """Looks for trains with places; remembers where things can stand."""

    def __init__(self, design: Design) -> None:
        self.design, self.ground = design, Ground(design)
        self._options: dict[Rings, list[list[Link]]] = {}
        self._sizes: dict[Rings, int] = {}
        self._tried: dict[Rings, int] = {}
        self._found: dict[Rings, Grounds | None] = {}

    def settle(self, model: DesignModel, train: Train, state: State, breaks: Breaks, solves: Solves) -> Train | None:
        """A train with places that has this one's rings and what is asked for; None: there is none, and this train,
        with all that is excluded by the same proof, is excluded from the model of teeth.

        state: states what is asked for, to any model. Raises SearchStopped."""
        like = list(self._like(train))
        self._tried[train.rings] = self._tried.get(train.rings, 0) + len(like)
        every = None if self._tried[train.rings] <= PATIENCE else self.together(train.rings, state)
        if every is not None:
            placed = self._first(every, breaks, solves)
            if placed is None:
                model.exclude_links(train, ())
            return placed
        guilty: set[int] = set()
        for links in like:
            some = grounds(self.ground, train.rings, links, self.design.drive is not None, limited=False)
            held = PlacedModel(self.design, some, state, train)
            placed = self._first(held, breaks, solves)
            if placed is not None:
                return placed
            guilty.update(held.culprits(solves))
        model.exclude_links(train, sorted(guilty))
        return None

    def together(self, rings: Rings, state: State) -> PlacedModel | None:
        """The model of all trains with these rings; None: their places are too many."""
        every = self._everything(rings)
        return None if every is None else PlacedModel(self.design, every, state)

    def size(self, rings: Rings) -> int:
        """How many places of trains with these rings there are, before any rule is asked."""
        if rings not in self._sizes:
            links = self._links(rings)
            shapes = [one for level, some in enumerate(links) for one in self.ground.link_shapes(rings, level, some)]
            if self.design.drive is not None:
                shapes += self.ground.motor_shapes(rings)
            ways = sum(2 ** len(thirds_of(shape)) for shape in shapes)
            self._sizes[rings] = ways * len(self.ground.compass.directions)
        return self._sizes[rings]

    def _first(self, model: PlacedModel, breaks: Breaks, solves: Solves) -> Train | None:
        while (train := model.train(solves)) is not None:
            if breaks(train):
                return train
            model.teeth.exclude(train)  # what is asked for is had within rounding alone
        return None

    def _everything(self, rings: Rings) -> Grounds | None:
        """All places of all trains with these rings; None: they are too many."""
        if rings not in self._found:
            try:
                self._found[rings] = grounds(self.ground, rings, self._links(rings), self.design.drive is not None)
            except TooManyPlaces:
                self._found[rings] = None
        return self._found[rings]

    def _links(self, rings: Rings) -> list[list[Link]]:
        """Every link that there may be between these rings, with every choice of third gears."""
        if rings not in self._options:
            model = DesignModel(with_rings(self.design, rings))
            tables = [link.table for link in model.train.links]  # which name the sets of third gears
            kinds, stock = [kind.name for kind in model.kinds], self.design.arbors.third_teeth
            allowed = {0: stock, **{number: some for some, number in model.train.rules.sets.items()}}
            by_link = self.design.on_bench.by_link
            every = [
                [
                    Link(kinds[one.kind], one.wheel, one.pinion, thirds)
                    for one in table.choices
                    for thirds in _thirds(
                        (one.wheel_third, allowed[one.wheel_set]), (one.pinion_third, allowed[one.pinion_set])
                    )
                ]
                for table in tables
            ]
            self._options[rings] = [
                [one for one in some if level not in by_link or by_link[level].allows(one)]
                for level, some in enumerate(every)
            ]
        return self._options[rings]

    def _like(self, train: Train) -> Iterator[list[Sequence[Link]]]:
        """The links of a train, each with every choice of third gears; where two stand at one link, one choice of them
        after the other."""
        every: list[Iterable[Sequence[Link]]] = []
        for level, link in enumerate(train.links):
            of = link.kind, link.wheel, link.pinion
            same = [one for one in self._links(train.rings)[level] if (one.kind, one.wheel, one.pinion) == of]
            every.append([[one] for one in same] if len(link.thirds) > 1 else [same])
        return map(list, product(*every))


def _thirds(*sides: tuple[int, Sequence[int]]) -> Iterator[tuple[int, ...]]:
    """Every choice of third gears: on each side the least teeth (0: there is none), and those that may stand there."""
    return product(*([teeth for teeth in some if teeth >= few] for few, some in sides if few))
