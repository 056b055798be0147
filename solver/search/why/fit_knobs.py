"""What may be loosened of the fit: the frame, directions, posts, rollers, and the drive."""

from __future__ import annotations

import math
from collections.abc import Iterator
from fractions import Fraction

from solver.design.design import Design
from solver.design.errors import show_numbers
from solver.design.geometry import mm_in
from solver.design.ranges import MOST_DIRECTIONS, MOST_ROLLERS, MOST_TEETH
from solver.files.schema import DesignFile
from solver.search.levels import levels_of
from solver.search.why.knob import (
    MORE_TEETH,
    Data,
    Knob,
    counting,
    decimal_text,
    growing_length,
    put,
    shrinking,
    span,
    switch,
    table_of,
)

_MORE_ROLLERS = 4
_MANY_DIRECTIONS = 96


def fit_knobs(file: DesignFile, design: Design) -> Iterator[Knob]:
    """Limits of fit, in the file's units: a frame grows by whole millimetres or twentieths of an inch."""
    fit, table = design.fit, file.fit
    step, small = (Fraction(1, 20), Fraction(1, 200)) if file.units == "in" else (Fraction(1), Fraction(1, 10))
    unit = mm_in(file.units)
    matters = fit.directions is not None or (design.arbors.third_gears > 0 and design.arbors.reverted)
    if matters and fit.clearance > 0:
        yield shrinking("clearance", ("fit", "clearance"), fit.clearance / unit, small)
    if fit.directions is None:
        return
    if table.frame is not None:
        for key in ("side", "width", "height", "diameter", "depth"):
            length = getattr(table.frame, key)
            if length is not None:
                yield growing_length("frame", ("fit", "frame", key), length, step)
        if table.frame.depth is not None:
            spacing, levels = design.rings.level_spacing / unit, levels_of(design)
            # With less than every part needs to keep to its level, the rule `level` would allow less, and `arm` too.
            thick = None if levels is None else (levels.armed_mm or levels.thickest + levels.clearance)
            least = max(small, Fraction(math.ceil((thick or 0) / unit * 1000), 1000))
            if levels is None or least < spacing:
                yield shrinking("frame", ("rings", "level_spacing"), spacing, small, least=least)
    yield from direction_knobs(fit.directions)
    for key in ("plate", "stands"):
        if getattr(fit, key) != "none":
            rule = "post" if key == "plate" else "stand"
            if key == "plate" and design.supports is not None:
                yield Knob("post", "fit.plate", fit.plate, 1, _without_plate, lambda degree: "none, without [supports]")
                continue
            yield switch(rule, ("fit", key), getattr(fit, key), "none")
    if fit.plate != "none" or fit.stands != "none":
        yield shrinking("post", ("fit", "post_radius"), fit.post_radius / unit, small, least=small)
    if fit.rollers is not None:
        counts = fit.rollers.count
        more = min(_MORE_ROLLERS, MOST_ROLLERS - counts[-1])
        if more > 0:

            def add(data: Data, degree: int) -> None:
                wider = tuple(sorted({*counts, *range(counts[-1] + 1, counts[-1] + degree + 1)}))
                data["fit"]["rollers"]["count"] = span(wider)

            yield Knob("roller", "fit.rollers.count", show_numbers(counts), more, add, counting(counts[-1], 1))
        reach = fit.rollers.reach
        if reach < 180:

            def farther(data: Data, degree: int) -> None:
                data["fit"]["rollers"]["reach"] = str(min(reach + degree, Fraction(180)))

            yield Knob(
                "roller", "fit.rollers.reach", decimal_text(reach), math.ceil(180 - reach), farther,
                lambda degree: decimal_text(min(reach + degree, Fraction(180))),
            )  # fmt: skip

        # With a plate rollers turn on posts, which must be thinner than they are.
        thinnest = fit.post_radius / unit + small if fit.plate != "none" else small
        radius = fit.rollers.radius / unit
        if radius > thinnest:
            yield shrinking("roller", ("fit", "rollers", "radius"), radius, small, least=thinnest)

        def remove(data: Data, degree: int) -> None:
            data["fit"].pop("rollers", None)

        yield Knob("roller", "fit.rollers", "as given", 1, remove, lambda degree: "none")
    yield from drive_knobs(design)


def _without_plate(data: Data, degree: int) -> None:
    """With [supports] alone arms would have to reach everything instead, which may be harder."""
    put(data, ("fit", "plate"), "none")
    data.pop("supports", None)


def drive_knobs(design: Design) -> Iterator[Knob]:
    drive = design.drive
    if drive is None:
        return
    if drive.ring != "any":
        yield switch("drive", ("drive", "ring"), drive.ring, "any")
    if drive.third_gears == 0:
        yield switch("drive", ("drive", "third_gears"), 0, 1)
    if not drive.reverse_ok:
        yield switch("drive", ("drive", "reverse_ok"), False, True)
    numbers = drive.pinion_teeth
    if numbers[-1] < MOST_TEETH:

        def more(data: Data, degree: int) -> None:
            data["drive"]["pinion_teeth"] = span((*numbers, *range(numbers[-1] + 1, numbers[-1] + degree + 1)))

        yield Knob(
            "drive", "drive.pinion_teeth.max", str(numbers[-1]), min(MORE_TEETH, MOST_TEETH - numbers[-1]), more,
            counting(numbers[-1], 1),
        )  # fmt: skip


def direction_knobs(directions: tuple[Fraction, ...]) -> Iterator[Knob]:
    """Equally spaced ones are doubled; a list is joined by those of every fifteen degrees."""
    count = len(directions)
    if directions == tuple(Fraction(360 * index, count) for index in range(count)):
        doublings = int(math.log2(max(1, _MANY_DIRECTIONS / count)))

        def double(data: Data, degree: int) -> None:
            table_of(data, "fit")["directions"] = count * 2**degree

        if doublings:
            yield Knob(
                "direction", "fit.directions", str(count), doublings, double, lambda degree: str(count * 2**degree)
            )
        return
    joined = sorted({*directions, *(Fraction(15 * index) for index in range(24))})
    if len(directions) < len(joined) <= MOST_DIRECTIONS:

        def join(data: Data, degree: int) -> None:
            table_of(data, "fit")["directions"] = [str(angle) for angle in joined]

        yield Knob(
            "direction", "fit.directions", "as given", 1, join, lambda degree: "every 15 degrees as well"
        )  # fmt: skip
