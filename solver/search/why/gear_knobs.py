"""What may be loosened of rings, arbors and bodies."""

from __future__ import annotations

import math
from collections.abc import Iterator
from fractions import Fraction
from functools import partial
from typing import Any

from solver.design.design import Design
from solver.design.errors import show_numbers
from solver.design.ranges import LEAST_TEETH, MOST_RINGS, MOST_TEETH
from solver.files.schema import DesignFile
from solver.search.why.knob import (
    ALL_ERRORS,
    MORE_TEETH,
    Data,
    Knob,
    counting,
    decimal_text,
    hundredths,
    nth,
    span,
    table_of,
)

_MORE_RING_TEETH, _MORE_STEP, _MORE_BLANKS, _MORE_THIRDS = 5, 3, 3, 2


def _outwards(numbers: tuple[int, ...], least: int, most: int, reach: int) -> list[int]:
    """Numbers not among these, the nearest first, the smaller of two as near."""
    span = range(max(least, numbers[0] - reach), min(most, numbers[-1] + reach) + 1)
    others = [number for number in span if number not in numbers]
    return sorted(others, key=lambda number: (min(abs(number - known) for known in numbers), number))


def ring_knobs(file: DesignFile, design: Design) -> Iterator[Knob]:
    rings = file.rings
    if rings.teeth is not None:
        choices = rings.teeth

        def widen(data: Data, degree: int) -> None:
            table_of(data, "rings")["teeth"] = [
                span(tuple(sorted({*ring, *_near(ring, degree)}))) for ring in choices
            ]  # fmt: skip

        yield Knob(
            "step",
            "rings.teeth",
            "as given",
            _MORE_RING_TEETH,
            widen,
            lambda degree: f"each ring {degree} more or less",
        )
        return
    inner, step = design.rings.inner_teeth, design.rings.tooth_step
    for key, numbers, least, reach in (
        ("inner_teeth", inner, LEAST_TEETH, _MORE_RING_TEETH),
        ("tooth_step", step, 1, _MORE_STEP),
        ("blanks", design.rings.blanks, 0, _MORE_BLANKS),
    ):
        others = _outwards(numbers, least, MOST_RINGS - len(design.bodies) if key == "blanks" else MOST_TEETH, reach)

        def edit(data: Data, degree: int, key: str = key, numbers: Any = numbers, others: Any = others) -> None:
            table_of(data, "rings")[key] = span(tuple(sorted({*numbers, *others[:degree]})))

        yield Knob(
            "step", f"rings.{key}", show_numbers(numbers), len(others), edit,
            partial(nth, tuple(others)),
        )  # fmt: skip


def _near(ring: tuple[int, ...], reach: int) -> set[int]:
    return {z for known in ring for z in range(known - reach, known + reach + 1) if LEAST_TEETH <= z <= MOST_TEETH}


def arbor_knobs(file: DesignFile, design: Design) -> Iterator[Knob]:
    arbors = file.arbors
    thirds = arbors.third_gears > 0
    for key in ("wheel_teeth", "pinion_teeth", *(("third_teeth",) if thirds else ())):
        numbers: tuple[int, ...] = getattr(arbors, key)

        def more(data: Data, degree: int, key: str = key, numbers: Any = numbers) -> None:
            kept = getattr(DesignFile.model_validate(data).arbors, key)
            wider = {*kept, *range(numbers[-1] + 1, numbers[-1] + degree + 1)}
            table_of(data, "arbors")[key] = span(tuple(sorted(wider)))

        def fewer(data: Data, degree: int, key: str = key, numbers: Any = numbers) -> None:
            kept = getattr(DesignFile.model_validate(data).arbors, key)
            table_of(data, "arbors")[key] = span(tuple(sorted({*kept, *range(numbers[0] - degree, numbers[0])})))

        top = min(MORE_TEETH, MOST_TEETH - numbers[-1])
        if top > 0:
            yield Knob(
                "teeth", f"arbors.{key}.max", str(numbers[-1]), top, more,
                counting(numbers[-1], 1),
            )  # fmt: skip
        if numbers[0] > LEAST_TEETH:
            yield Knob(
                "teeth", f"arbors.{key}.min", str(numbers[0]), numbers[0] - LEAST_TEETH, fewer,
                counting(numbers[0], -1),
            )  # fmt: skip
    if arbors.stock:

        def open_stock(data: Data, degree: int) -> None:
            table_of(data, "arbors")["stock"] = []

        yield Knob("teeth", "arbors.stock", show_numbers(arbors.stock), 1, open_stock, lambda degree: "any count")
    links = len(design.bodies) + design.rings.blanks[-1] - 1
    room = min(_MORE_THIRDS, 2 * links - arbors.third_gears)
    if room > 0 and design.arbors.third_teeth:

        def add(data: Data, degree: int) -> None:
            table_of(data, "arbors")["third_gears"] = arbors.third_gears + degree

        yield Knob(
            "third", "arbors.third_gears", str(arbors.third_gears), room, add,
            lambda degree: str(arbors.third_gears + degree),
        )  # fmt: skip


def body_knobs(data: Data, file: DesignFile, design: Design) -> Iterator[Knob]:
    if any(body.sense == file.bodies.sense for body in design.bodies[1:]) and file.bodies.sense != "either":

        def either(data: Data, degree: int) -> None:
            table_of(data, "bodies")["sense"] = "either"

        yield Knob("sense", "bodies.sense", file.bodies.sense, 1, either, lambda degree: "either")
    for index, entry in enumerate(file.bodies.own):
        if entry.sense not in (None, "either"):

            def turn(data: Data, degree: int, index: int = index) -> None:
                data["bodies"]["list"][index]["sense"] = "either"

            yield Knob("sense", f"bodies.list[{index}].sense", str(entry.sense), 1, turn, lambda degree: "either")
        if entry.max_error_pct is not None:
            cap = Fraction(entry.max_error_pct)
            room = math.ceil((ALL_ERRORS - cap) * 100)
            if room > 0:

                def widen(data: Data, degree: int, index: int = index, cap: Fraction = cap) -> None:
                    data["bodies"]["list"][index]["max_error_pct"] = str(cap + Fraction(degree, 100))

                yield Knob(
                    "error", f"bodies.list[{index}].max_error_pct", decimal_text(cap), room, widen,
                    partial(hundredths, cap),
                )  # fmt: skip
    if file.bodies.reference == "first" and len(design.bodies) > 1:

        def best(data: Data, degree: int) -> None:
            table_of(data, "bodies")["reference"] = "best"

        yield Knob("error", "bodies.reference", "first", 1, best, lambda degree: "best")
