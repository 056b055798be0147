"""Drift on the terminal: a table, and a plot in plain characters; and the same plot as SVG."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from math import ceil, floor, log10

from rich.table import Table

from solver.cli.tables import Paper, plain_table
from solver.sheets.draw.rays import Ray, RayWords, rays
from solver.sky.drift import YEAR_DAYS, Drift
from solver.sky.told import a_year, crossing_text, sentences, time_text
from solver.words.numbers import decimal
from solver.words.shown import shown

_MARKS = "123456789"
_COLUMNS = 60  # of the plot
_MOST_POWERS = 7  # what is later than that is not told apart


def print_drift(paper: Paper, drift: Drift) -> None:
    """The table, the plot, and what is to be said beside them."""
    paper.print(drift_table(drift))
    for line in drift_plot(drift):
        paper.line(line)
    for line in sentences(drift):
        paper.line(line)


def drift_table(drift: Drift) -> Table:
    """Body by body: degrees in a year by the gears, by the file's period and together, and when it is how far off; with
    a drive its turns till then."""
    known = any(one.period is not None for one in drift.bodies)
    steps = [when.degrees for when in drift.bodies[0].crossings] if drift.bodies else []
    off = [f"{decimal(float(step), 4)}° off after" for step in steps]
    columns = ["body", "gears °/year", *(["period °/year", "in all °/year"] if known else []), *off]
    what = "crank" if drift.drive is not None and drift.drive.crank else "motor"
    turned = f"{what} turns to {decimal(float(steps[-1]), 4)}°" if drift.drive is not None and steps else None
    table = plain_table("Drift", [*columns, *([turned] if turned else [])], left=("body", *off))
    for one in drift.bodies:
        cells = [shown(one.name), a_year(one.gears)]
        cells += [a_year(one.period), a_year(one.rate)] if known else []
        cells += [crossing_text(when) for when in one.crossings]
        if turned and drift.drive is not None:
            days = one.crossings[-1].days
            cells.append("" if days is None else f"{float(drift.drive.turns(days)):,.1f}")
        table.add_row(*cells)
    return table


def drift_plot(drift: Drift) -> Iterator[str]:
    """When each body is how far off, along a line of time whose parts are ten times the one before: a figure for each
    of the degrees asked about, and a dot from the first of them to the last. Nothing where no body drifts."""
    times = [when.days for one in drift.bodies for when in one.crossings if when.days is not None]
    if not times:
        return
    low = floor(log10(float(min(times) / YEAR_DAYS)))
    high = min(max(ceil(log10(float(max(times) / YEAR_DAYS))), low + 1), low + _MOST_POWERS)

    def at(days: Fraction) -> int:
        return round((log10(float(days / YEAR_DAYS)) - low) / (high - low) * (_COLUMNS - 1))

    wide = max(len(shown(one.name)) for one in drift.bodies)
    steps = [decimal(float(when.degrees), 4) for when in drift.bodies[0].crossings]
    told = ", ".join(f"{_MARKS[number]} {step}°" for number, step in enumerate(steps))
    yield f"degrees off over years, each part ten times the one before: {told}"
    for one in drift.bodies:
        row = [" "] * _COLUMNS
        places = [at(when.days) for when in one.crossings if when.days is not None]
        for place in range(min(places, default=0), min(max(places, default=-1), _COLUMNS - 1) + 1):
            row[place] = "."
        for number, place in enumerate(places):
            if place < _COLUMNS:
                row[place] = _MARKS[number]
        late = " never" if not places else " later" if min(places) >= _COLUMNS else ""
        yield f" {shown(one.name):<{wide}} |{''.join(row).rstrip()}{late}"
    axis, words = ["-"] * _COLUMNS, [" "] * (_COLUMNS + 8)
    for power in range(low, high + 1):
        place = round((power - low) / (high - low) * (_COLUMNS - 1))
        axis[place] = "+"
        label = f"{10.0**power:g}" if power < 5 else f"1e{power}"
        if not "".join(words[max(0, place - 1) : place + 1]).strip():
            words[place : place + len(label)] = label
    yield f" {'':<{wide}} |{''.join(axis)}"
    yield f" {'years':<{wide}}  {''.join(words).rstrip()}"


def drift_svg(drift: Drift, title: str) -> str:
    """How far each body is off over the years, as SVG: a line for each, named beside it."""
    lines = [Ray(one.name, abs(float(one.rate * YEAR_DAYS))) for one in drift.bodies]
    steps = [float(when.degrees) for when in drift.bodies[0].crossings] if drift.bodies else [1.0]
    again = next((one for one in sentences(drift) if one.startswith(("set it again", "no body"))), "")
    off = [
        f"{one.name}: {decimal(float(when.degrees), 4)} degrees after {time_text(when.days)}"
        for one in drift.bodies
        for when in one.crossings[-1:]
    ]
    return rays(
        lines, steps, RayWords(f"Drift: {title}", again, "years after it was set", "degrees off", "; ".join(off))
    )
