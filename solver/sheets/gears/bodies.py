"""Whether bodies of the sizes that are told pass each other and stay in their place; lengths [mm]."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from solver.design.design import Design
from solver.design.train import Train
from solver.forms.form import Remark, Sizes


def body_remarks(design: Design, train: Train, sizes: Sizes) -> Iterator[Remark]:
    """Bodies that reach into the next level, where they sit within their own; or that meet others where all stand out
    beyond the last level and each goes round on the circle of its rod, the middle of its ring's rim."""
    if design.hardware is None:
        return
    across = {name: float(diameter) for name, diameter in design.hardware.bodies}
    if design.fit.stands == "none":
        most = sizes.level_spacing_mm - sizes.clearance_mm
        for name, diameter in across.items():
            if diameter > most + 1e-9:
                told = f"{sizes.told(diameter)} across reaches into the next level; levels leave {sizes.told(most)}"
                yield Remark(f"body {name}", told, False)
        return
    circles = sorted(
        (sizes.radius_mm(train.rings[ring]) - sizes.rim_mm / 2, design.bodies[body].name)
        for body, ring in enumerate(train.seats)
    )
    for (inner, one), (outer, other) in pairwise(circles):
        need = (across.get(one, 0.0) + across.get(other, 0.0)) / 2 + sizes.clearance_mm
        if one in across and other in across and need > outer - inner + 1e-9:
            told = f"pass each other at {sizes.told(outer - inner)}, and need {sizes.told(need)} from middle to middle"
            yield Remark(
                f"bodies {one} and {other}", f"{told}: give one of them a longer rod, or make it smaller", False
            )
