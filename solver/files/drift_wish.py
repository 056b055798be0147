"""The wish `max_drift`: so many degrees off after so many years at most, turned into each body's own greatest error.

A body whose period is t and whose ring takes m strays |1/m - 1/t| of a turn in each unit of time (difference of two
uniform rates; common practice, no source). With d = degrees / (360 * years) the wish is |1/m - 1/t| <= d, that is
t/m <= 1 + d*t on the fast side, and m/t <= 1 / (1 - d*t) on the slow side (no limit where d*t >= 1). Errors are
max(m/t, t/m) - 1, so that the cap d*t is the wish itself on the fast side, and stricter by (d*t)**2 / (1 - d*t) on the
slow one: it never allows more drift than was asked for. Caps end at 1000 %, beyond which no file allows any error.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from solver.design.design import Body
from solver.design.errors import single
from solver.files.body_sets import body_sets
from solver.files.schema import BodiesTable, DriftWish

MOST_CAP = Fraction(10)  # 1000 %: the most that max_error_pct may be, and what bounds of models are made for
YEAR_DAYS = Fraction(36525, 100)  # a Julian year
UNIT_DAYS = {"hours": Fraction(1, 24), "days": Fraction(1), "years": YEAR_DAYS}


def drift_cap(period: Fraction, unit_days: Fraction, wish: DriftWish) -> Fraction:
    """The greatest error, as a fraction, with which a body of that period [units of so many days] keeps a wish."""
    return min(MOST_CAP, wish.degrees * period * unit_days / (360 * wish.years * YEAR_DAYS))


def unit_told(table: BodiesTable) -> str | None:
    """The unit of a table's periods: that of its set, or the one that it names."""
    if table.set_name in body_sets():
        return body_sets()[table.set_name].unit
    return table.unit


def with_wishes(table: BodiesTable, bodies: Sequence[Body], wish: DriftWish | None) -> tuple[Body, ...]:
    """The bodies with the caps that follow from their own wishes, or else from the one for all (`wish`).

    A period range has no drift: the wish for all leaves it out. A body with a wish turns as ring 0 does unless the file
    says "reverse": the wrong way round it would drift at twice its rate. Raises DesignError where the unit of the
    periods is not known, and for a range with a wish of its own.
    """
    own = {entry.name: index for index, entry in enumerate(table.own) if entry.max_drift is not None}
    if wish is None and not own:
        return tuple(bodies)
    unit = unit_told(table)
    if unit not in UNIT_DAYS:
        path = "search.max_drift" if wish is not None else f"bodies.list[{min(own.values())}].max_drift"
        raise single(path, None, 'needs the unit of the periods: give bodies.set, or bodies.unit = "days"')
    found = []
    for body in bodies:
        asked = wish
        if body.name in own:
            asked = table.own[own[body.name]].max_drift
            if body.low != body.high:
                path = f"bodies.list[{own[body.name]}].max_drift"
                raise single(path, None, "a period range has no drift of its own; give period")
        if asked is not None and body.low == body.high:
            cap = drift_cap(body.low, UNIT_DAYS[unit], asked)
            sense = "same" if body.sense == "either" else body.sense
            body = replace(body, cap=cap if body.cap is None else min(cap, body.cap), sense=sense)
        found.append(body)
    return tuple(found)
