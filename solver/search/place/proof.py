"""Whether a train has places, said a second time: by CP-SAT alone, from every direction and side that there is.

The rules are stated by `tables`, apart from the tables and the order by which the search finds places; what is common
to both is where a gear stands in a direction, and the exact lengths.
"""

from __future__ import annotations

from collections.abc import Sequence

from solver.design.train import Train
from solver.search.place.drive import motors_within
from solver.search.place.place_model import PlaceModel, rollers_of
from solver.search.place.places import JoinedPlaces, alike
from solver.search.place.placing import Fitter
from solver.search.place.rollers import Wheelhouse
from solver.search.place.shapes import ArborShape, link_shape
from solver.search.place.tables import RuleTables
from solver.search.rank import arbor_radii
from solver.search.solves import Solves


def places_exist(fitter: Fitter, train: Train, most: int | None, solves: Solves) -> bool:
    """Whether a train whose third gears are chosen has places, for some radii of its arbors and some motor that reaches
    out at most so far [teeth; None: anywhere], where a drive is asked for. Raises SearchStopped."""
    stack, count = fitter.stack(train), len(train.rings)
    if not fitter.rings_clear(stack):
        return False

    def everywhere(shapes: Sequence[ArborShape]) -> list[JoinedPlaces]:
        return alike([fitter.placer.every(shape, count) for shape in shapes])

    links = []
    for level, link in enumerate(train.links):
        inner, outer = train.rings[level : level + 2]
        radii = arbor_radii(inner, outer, link, fitter.gap)
        if not radii:
            return False
        links += everywhere([link_shape(level, inner, outer, link, radius) for radius in radii])
    motors = motors_within(fitter.design, train, fitter.gap, most)
    drives = [[]] if motors is None else [[drive] for drive in everywhere([motor.shape for motor in motors])]
    rollers = [
        rollers_of(Wheelhouse(fitter.measures, level, teeth, fitter.placer.passes(level, count)))
        for level, teeth in enumerate(train.rings if fitter.holder else ())
    ]
    passes = [fitter.placer.stand_passes(ring, count) for ring in stack.riders]
    models = (PlaceModel(RuleTables(fitter.measures, stack, [*links, *drive], rollers, passes)) for drive in drives)
    return any(model.exists(solves) for model in models)
