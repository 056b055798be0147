"""The limits of a design file, each as something that can be loosened by degrees: an edit of the file's data."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from copy import deepcopy
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from functools import partial
from typing import Any

from solver.design.bounds import LEAST_TEETH, MOST_DIRECTIONS, MOST_RINGS, MOST_ROLLERS, MOST_TEETH
from solver.design.design import MM_PER_INCH, Design
from solver.design.errors import show_numbers
from solver.design.geometry import envelope_mm
from solver.files.schema import DesignFile

Data = dict[str, Any]

_MORE_TEETH, _MORE_RING_TEETH, _MORE_STEP, _MORE_BLANKS, _MORE_THIRDS = 12, 5, 3, 3, 2
_MORE_ROLLERS = 4
_MUCH_LONGER = 10_000  # steps
_MANY_DIRECTIONS = 96
_ALL_ERRORS = 1000  # percent


@dataclass(frozen=True)
class Knob:
    """One limit that can be loosened by degrees.

    rule: its name in the design's rules; field: where it stands in the file; now: its value there. edit changes the
    file's data so that the limit is loosened by a degree from 1 to `most`; each degree allows all that the one before
    allowed. says: the value that a degree stands for, alone. least: finds the least degree at which the rest of the
    file has a solution where there is a quicker way than trying, None for none.
    """

    rule: str
    field: str
    now: str
    most: int
    edit: Callable[[Data, int], None]
    says: Callable[[int], str]
    least: Callable[[Data], int | None] | None = None


Best = Callable[[Data, str], Fraction | None]


def _table(data: Data, name: str) -> Data:
    table: Data = data.setdefault(name, {})
    return table


def knobs_of(data: Data, design: Design, best: Best) -> Iterator[Knob]:
    """Every limit of a file. best: the least (1 + worst error)**2, or least value of another rank key, of data."""
    file = DesignFile.model_validate(data)
    yield from _ring_knobs(file, design)
    yield from _arbor_knobs(file, design)
    yield from _body_knobs(data, file, design)
    yield from _fit_knobs(file, design)
    yield from _search_knobs(file, design, best)


def _span(numbers: tuple[int, ...]) -> Any:
    """Numbers as a file would have them: a number, a range or a list."""
    if len(numbers) == 1:
        return numbers[0]
    if numbers == tuple(range(numbers[0], numbers[-1] + 1)):
        return {"min": numbers[0], "max": numbers[-1]}
    return list(numbers)


def _counting(start: int, by: int) -> Callable[[int], str]:
    return lambda degree: str(start + by * degree)


def _nth(values: tuple[int, ...], degree: int) -> str:
    return str(values[degree - 1])


def _hundredths(start: Fraction, degree: int) -> str:
    return _decimal(start + Fraction(degree, 100))


def _outwards(numbers: tuple[int, ...], least: int, most: int, reach: int) -> list[int]:
    """Numbers not among these, the nearest first, the smaller of two as near."""
    span = range(max(least, numbers[0] - reach), min(most, numbers[-1] + reach) + 1)
    others = [number for number in span if number not in numbers]
    return sorted(others, key=lambda number: (min(abs(number - known) for known in numbers), number))


def _ring_knobs(file: DesignFile, design: Design) -> Iterator[Knob]:
    rings = file.rings
    if rings.teeth is not None:
        choices = rings.teeth

        def widen(data: Data, degree: int) -> None:
            _table(data, "rings")["teeth"] = [
                _span(tuple(sorted({*ring, *_near(ring, degree)}))) for ring in choices
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
            _table(data, "rings")[key] = _span(tuple(sorted({*numbers, *others[:degree]})))

        yield Knob(
            "step", f"rings.{key}", show_numbers(numbers), len(others), edit,
            partial(_nth, tuple(others)),
        )  # fmt: skip


def _near(ring: tuple[int, ...], reach: int) -> set[int]:
    return {z for known in ring for z in range(known - reach, known + reach + 1) if LEAST_TEETH <= z <= MOST_TEETH}


def _arbor_knobs(file: DesignFile, design: Design) -> Iterator[Knob]:
    arbors = file.arbors
    thirds = arbors.third_gears > 0
    for key in ("wheel_teeth", "pinion_teeth", *(("third_teeth",) if thirds else ())):
        numbers: tuple[int, ...] = getattr(arbors, key)

        def more(data: Data, degree: int, key: str = key, numbers: Any = numbers) -> None:
            kept = getattr(DesignFile.model_validate(data).arbors, key)
            wider = {*kept, *range(numbers[-1] + 1, numbers[-1] + degree + 1)}
            _table(data, "arbors")[key] = _span(tuple(sorted(wider)))

        def fewer(data: Data, degree: int, key: str = key, numbers: Any = numbers) -> None:
            kept = getattr(DesignFile.model_validate(data).arbors, key)
            _table(data, "arbors")[key] = _span(tuple(sorted({*kept, *range(numbers[0] - degree, numbers[0])})))

        top = min(_MORE_TEETH, MOST_TEETH - numbers[-1])
        if top > 0:
            yield Knob(
                "teeth", f"arbors.{key}.max", str(numbers[-1]), top, more,
                _counting(numbers[-1], 1),
            )  # fmt: skip
        if numbers[0] > LEAST_TEETH:
            yield Knob(
                "teeth", f"arbors.{key}.min", str(numbers[0]), numbers[0] - LEAST_TEETH, fewer,
                _counting(numbers[0], -1),
            )  # fmt: skip
    if arbors.stock:

        def open_stock(data: Data, degree: int) -> None:
            _table(data, "arbors")["stock"] = []

        yield Knob("teeth", "arbors.stock", show_numbers(arbors.stock), 1, open_stock, lambda degree: "any count")
    links = len(design.bodies) + design.rings.blanks[-1] - 1
    room = min(_MORE_THIRDS, 2 * links - arbors.third_gears)
    if room > 0 and design.arbors.third_teeth:

        def add(data: Data, degree: int) -> None:
            _table(data, "arbors")["third_gears"] = arbors.third_gears + degree

        yield Knob(
            "third", "arbors.third_gears", str(arbors.third_gears), room, add,
            lambda degree: str(arbors.third_gears + degree),
        )  # fmt: skip


def _body_knobs(data: Data, file: DesignFile, design: Design) -> Iterator[Knob]:
    if any(body.sense == file.bodies.sense for body in design.bodies[1:]) and file.bodies.sense != "either":

        def either(data: Data, degree: int) -> None:
            _table(data, "bodies")["sense"] = "either"

        yield Knob("sense", "bodies.sense", file.bodies.sense, 1, either, lambda degree: "either")
    for index, entry in enumerate(file.bodies.own):
        if entry.sense not in (None, "either"):

            def turn(data: Data, degree: int, index: int = index) -> None:
                data["bodies"]["list"][index]["sense"] = "either"

            yield Knob("sense", f"bodies.list[{index}].sense", str(entry.sense), 1, turn, lambda degree: "either")
        if entry.max_error_pct is not None:
            cap = Fraction(entry.max_error_pct)
            room = math.ceil((_ALL_ERRORS - cap) * 100)
            if room > 0:

                def widen(data: Data, degree: int, index: int = index, cap: Fraction = cap) -> None:
                    data["bodies"]["list"][index]["max_error_pct"] = str(cap + Fraction(degree, 100))

                yield Knob(
                    "error", f"bodies.list[{index}].max_error_pct", _decimal(cap), room, widen,
                    partial(_hundredths, cap),
                )  # fmt: skip
    if file.bodies.reference == "first" and len(design.bodies) > 1:

        def best(data: Data, degree: int) -> None:
            _table(data, "bodies")["reference"] = "best"

        yield Knob("error", "bodies.reference", "first", 1, best, lambda degree: "best")


def _decimal(value: Fraction) -> str:
    return f"{Decimal(value.numerator) / Decimal(value.denominator):f}"


def _fit_knobs(file: DesignFile, design: Design) -> Iterator[Knob]:
    """Limits of fit, in the file's units: a frame grows by whole millimetres or twentieths of an inch."""
    fit, table = design.fit, file.fit
    step, small = (Fraction(1, 20), Fraction(1, 200)) if file.units == "in" else (Fraction(1), Fraction(1, 10))
    unit = MM_PER_INCH if file.units == "in" else Fraction(1)
    matters = fit.directions is not None or (design.arbors.third_gears > 0 and design.arbors.reverted)
    if matters and fit.clearance > 0:
        yield _shrinking("clearance", ("fit", "clearance"), fit.clearance / unit, small)
    if fit.directions is None:
        return
    if table.frame is not None:
        for key in ("side", "width", "height", "diameter", "depth"):
            length = getattr(table.frame, key)
            if length is not None:
                yield _growing_length("frame", ("fit", "frame", key), length, step)
    yield from _direction_knobs(fit.directions)
    for key in ("plate", "stands"):
        if getattr(fit, key) != "none":
            rule = "post" if key == "plate" else "stand"
            yield _switch(rule, ("fit", key), getattr(fit, key), "none")
    if fit.plate != "none" or fit.stands != "none":
        yield _shrinking("post", ("fit", "post_radius"), fit.post_radius / unit, small, least=small)
    if fit.rollers is not None:
        counts = fit.rollers.count
        more = min(_MORE_ROLLERS, MOST_ROLLERS - counts[-1])
        if more > 0:

            def add(data: Data, degree: int) -> None:
                wider = tuple(sorted({*counts, *range(counts[-1] + 1, counts[-1] + degree + 1)}))
                data["fit"]["rollers"]["count"] = _span(wider)

            yield Knob("roller", "fit.rollers.count", show_numbers(counts), more, add, _counting(counts[-1], 1))
        reach = fit.rollers.reach
        if reach < 180:

            def farther(data: Data, degree: int) -> None:
                data["fit"]["rollers"]["reach"] = str(min(reach + degree, Fraction(180)))

            yield Knob(
                "roller", "fit.rollers.reach", _decimal(reach), math.ceil(180 - reach), farther,
                lambda degree: _decimal(min(reach + degree, Fraction(180))),
            )  # fmt: skip

        def remove(data: Data, degree: int) -> None:
            data["fit"].pop("rollers", None)

        yield Knob("roller", "fit.rollers", "as given", 1, remove, lambda degree: "none")
    yield from _drive_knobs(design)


def _drive_knobs(design: Design) -> Iterator[Knob]:
    drive = design.drive
    if drive is None:
        return
    if drive.ring != "any":
        yield _switch("drive", ("drive", "ring"), drive.ring, "any")
    if drive.third_gears == 0:
        yield _switch("drive", ("drive", "third_gears"), 0, 1)
    if not drive.reverse_ok:
        yield _switch("drive", ("drive", "reverse_ok"), False, True)
    numbers = drive.pinion_teeth
    if numbers[-1] < MOST_TEETH:

        def more(data: Data, degree: int) -> None:
            data["drive"]["pinion_teeth"] = _span((*numbers, *range(numbers[-1] + 1, numbers[-1] + degree + 1)))

        yield Knob(
            "drive", "drive.pinion_teeth.max", str(numbers[-1]), min(_MORE_TEETH, MOST_TEETH - numbers[-1]), more,
            _counting(numbers[-1], 1),
        )  # fmt: skip


def _direction_knobs(directions: tuple[Fraction, ...]) -> Iterator[Knob]:
    """Equally spaced ones are doubled; a list is joined by those of every fifteen degrees."""
    count = len(directions)
    if directions == tuple(Fraction(360 * index, count) for index in range(count)):
        doublings = int(math.log2(max(1, _MANY_DIRECTIONS / count)))

        def double(data: Data, degree: int) -> None:
            _table(data, "fit")["directions"] = count * 2**degree

        if doublings:
            yield Knob(
                "direction", "fit.directions", str(count), doublings, double, lambda degree: str(count * 2**degree)
            )
        return
    joined = sorted({*directions, *(Fraction(15 * index) for index in range(24))})
    if len(directions) < len(joined) <= MOST_DIRECTIONS:

        def join(data: Data, degree: int) -> None:
            _table(data, "fit")["directions"] = [str(angle) for angle in joined]

        yield Knob(
            "direction", "fit.directions", "as given", 1, join, lambda degree: "every 15 degrees as well"
        )  # fmt: skip


def _put(data: Data, path: tuple[str, ...], value: Any) -> None:
    for name in path[:-1]:
        data = _table(data, name)
    data[path[-1]] = value


def _switch(rule: str, path: tuple[str, ...], now: Any, then: Any) -> Knob:
    """A limit that is either there or not."""
    words = {True: "true", False: "false"} if isinstance(now, bool) else {}
    return Knob(
        rule, ".".join(path), words.get(now, str(now)), 1, lambda data, degree: _put(data, path, then),
        lambda degree: words.get(then, str(then)),
    )  # fmt: skip


def _growing_length(rule: str, path: tuple[str, ...], now: Fraction, step: Fraction) -> Knob:
    """A length that may grow without end."""
    return Knob(
        rule, ".".join(path), _decimal(now), _MUCH_LONGER,
        lambda data, degree: _put(data, path, str(now + degree * step)),
        lambda degree: _decimal(now + degree * step),
    )  # fmt: skip


def _shrinking(rule: str, path: tuple[str, ...], now: Fraction, step: Fraction, least: Fraction = Fraction(0)) -> Knob:
    """A length that may shrink to `least`, by so much for each degree."""

    def then(degree: int) -> Fraction:
        return min(now, max(now - degree * step, least))

    def edit(data: Data, degree: int) -> None:
        _put(data, path, str(then(degree)) if then(degree) else 0)

    return Knob(
        rule, ".".join(path), _decimal(now), max(1, math.ceil((now - least) / step)), edit,
        lambda degree: _decimal(then(degree)),
    )  # fmt: skip


def _search_knobs(file: DesignFile, design: Design, best: Best) -> Iterator[Knob]:
    table = file.search
    if table.max_error_pct < _ALL_ERRORS:
        yield _error_knob(table.max_error_pct, best)
    for key in ("parts", "jigs", "teeth", "largest", "envelope"):
        limit = getattr(table, f"max_{key}")
        if limit is not None:
            yield _cap_knob(key, limit, file, design, best)


def _error_knob(limit: Fraction, best: Best) -> Knob:
    """Degrees are ten-thousandths of a percent, as errors are shown."""

    def edit(data: Data, degree: int) -> None:
        _table(data, "search")["max_error_pct"] = str(min(limit + Fraction(degree, 10_000), Fraction(_ALL_ERRORS)))

    most = math.ceil((_ALL_ERRORS - limit) * 10_000)

    def least(rest: Data) -> int | None:
        data = deepcopy(rest)
        edit(data, most)
        square = best(data, "error")
        if square is None:
            return None
        degree = math.floor(((math.sqrt(square) - 1) * 100 - float(limit)) * 10_000)
        while (1 + (limit + Fraction(degree, 10_000)) / 100) ** 2 < square:  # exact: the square root may be a hair off
            degree += 1
        return max(1, degree)

    return Knob(
        "error", "search.max_error_pct", _decimal(limit), most, edit,
        lambda degree: _decimal(limit + Fraction(degree, 10_000)), least,
    )  # fmt: skip


def _cap_knob(key: str, limit: Any, file: DesignFile, design: Design, best: Best) -> Knob:
    """Parts, jigs, teeth and largest gear count in ones, the envelope in thousandths."""
    unit = Fraction(1, 1000) if key == "envelope" else Fraction(1)
    most = 10**9 if key == "envelope" else 10**6

    def edit(data: Data, degree: int) -> None:
        table = _table(data, "search")
        if degree == most:
            table.pop(f"max_{key}", None)
        else:
            value = limit + degree * unit
            table[f"max_{key}"] = str(value) if key == "envelope" else int(value)

    def least(rest: Data) -> int | None:
        data = deepcopy(rest)
        edit(data, most)
        value = best(data, key)
        if value is None:
            return None
        if key != "envelope":
            return int(value) - int(limit)
        millimetres = envelope_mm(design.rings.pitch, design.rings.addendum, int(value))
        reach = Fraction(round(millimetres * 1000), 1000)
        if file.units == "in":
            reach = reach / MM_PER_INCH
        return math.ceil((reach - Fraction(limit)) / unit)

    return Knob(
        f"max_{key}", f"search.max_{key}", _decimal(Fraction(limit)), most, edit,
        lambda degree: _decimal(limit + degree * unit), least,
    )  # fmt: skip
