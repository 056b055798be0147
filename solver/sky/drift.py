"""Drift: how fast each ring of a solution leaves its body, when it is so many degrees off, and turns of the drive.

Everything is exact where the first body is the reference; with a free common rate, to the digits that the answer has. A
ring that is evenly turned is off by the difference of two uniform rates, times the days (common practice, no source).
The model's clock is the reference: the body that the design holds exact takes the period in the file.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from fractions import Fraction

from solver.answer.document import SolutionAnswer
from solver.design.design import Body, Design
from solver.files.body_sets import body_sets
from solver.sky.bodies import SkyBody
from solver.sky.paths import unit_days
from solver.sky.rates import body_rates, model_rates, of_set, period_unit

STEPS = (Fraction(1), Fraction(5), Fraction(10))  # degrees
AGAIN = Fraction(5)  # degrees: the model is to be set again when a body is so far off
YEAR_DAYS = unit_days("years")


@dataclass(frozen=True)
class Crossing:
    """When a body is so many degrees off [days after it was set]; None: never. earliest, latest: as the period that the
    source prints may be half a unit of its last digit off."""

    degrees: Fraction
    days: Fraction | None
    earliest: Fraction | None
    latest: Fraction | None


@dataclass(frozen=True)
class BodyDrift:
    """How a body's ring leaves it [degrees a day], positive where the ring runs ahead.

    gears: against the period in the file; period: what that runs ahead of the sky's mean rate, None where no sky is
    known; rate: both together; least, most: its range by the uncertainty. half_unit: of the period's last printed digit
    [days], 0 for a period that is the file's own. wrong_way: whether the ring turns against its body, so that it drifts
    at the sum of both rates. librates: how far [degrees] the body swings about its mean, which no even ring can show.
    """

    name: str
    gears: Fraction
    period: Fraction | None
    rate: Fraction
    least: Fraction
    most: Fraction
    half_unit: Fraction
    wrong_way: bool
    librates: float | None
    crossings: tuple[Crossing, ...]

    def off(self, days: Fraction) -> Fraction:
        """How far the ring is ahead of its body [degrees] so many days after it was set; whole turns are counted."""
        return self.rate * days

    def when(self, degrees: Fraction) -> Crossing:
        """When it is so many degrees off, ahead or behind. degrees: greater than 0."""
        low, high = sorted((abs(self.least), abs(self.most)))
        sure = self.least > 0 or self.most < 0
        return Crossing(
            degrees,
            degrees / abs(self.rate) if self.rate else None,
            degrees / high if high else None,
            degrees / low if sure else None,
        )


@dataclass(frozen=True)
class DriveTurns:
    """The motor or the crank: turns of its shaft a day of the model's time, exact."""

    crank: bool
    a_day: Fraction

    def turns(self, days: Fraction) -> Fraction:
        """Turns that bring the model so many days on."""
        return self.a_day * days

    @property
    def a_year(self) -> Fraction:
        """Turns for a Julian year."""
        return self.a_day * YEAR_DAYS


@dataclass(frozen=True)
class Drift:
    """The drift of a solution. reference: the body whose ring is the clock; None: a common rate is. bodies: those with
    a period, in the design's order. left_out: those with a period range, which have no drift of their own. again: the
    first body to be `again_deg` off and when; None where none ever is. drive: None where the model has none."""

    reference: str | None
    bodies: tuple[BodyDrift, ...]
    left_out: tuple[str, ...]
    again_deg: Fraction
    again: tuple[str, Crossing] | None
    drive: DriveTurns | None


def drift(
    design: Design,
    solution: SolutionAnswer,
    sky: Sequence[SkyBody] | None = None,
    steps: Sequence[Fraction] = STEPS,
    again_deg: Fraction = AGAIN,
) -> Drift:
    """The drift of a solution. sky: the bodies of `sky_of(design)`; None: the periods in the file are all that is
    known. steps, again_deg: degrees off that are asked about. Raises SkyError where the periods' unit is not known."""
    day = unit_days(period_unit(design))
    found, left_out = [], []
    for index, (body, rate) in enumerate(zip(design.bodies, body_rates(design, solution), strict=True)):
        if body.low != body.high:
            left_out.append(body.name)
            continue
        found.append(_of_body(design, body, rate, day, None if sky is None else sky[index], steps))
    crossings = [(one.name, one.when(again_deg)) for one in found]
    soonest = [(when.days, name, when) for name, when in crossings if when.days is not None]
    _, name, again = min(soonest, key=lambda one: one[0], default=(None, "", None))
    return Drift(
        design.bodies[0].name if design.reference == "first" else None,
        tuple(found),
        tuple(left_out),
        again_deg,
        None if again is None else (name, again),
        drive_turns(design, solution),
    )


def drive_turns(design: Design, solution: SolutionAnswer) -> DriveTurns | None:
    """The motor's or the crank's turns; None where the model has neither. A third gear between changes nothing but the
    sense. Raises SkyError where the unit of the periods is not known."""
    drive = solution.drive
    if drive is None:
        return None
    ring = solution.rings[drive.ring]
    return DriveTurns(
        design.cranked, model_rates(design, solution)[drive.ring] / 360 * Fraction(ring.teeth, drive.pinion)
    )


def half_unit(design: Design, body: Body) -> Fraction:
    """Half a unit of the last digit of a period as its source prints it [the periods' unit]; 0 where it is the file's
    own, which is taken at its word."""
    if not of_set(design, body):
        return Fraction(0)
    one = body_sets()[design.set_name or ""]
    printed = one.printed[[name for name, _ in one.periods].index(body.name)]
    try:
        exponent = Decimal(printed).as_tuple().exponent
    except InvalidOperation:  # a fraction, which has no last digit
        return Fraction(0)
    assert isinstance(exponent, int)
    return Fraction(10) ** exponent / 2


def _of_body(
    design: Design, body: Body, model: Fraction, day: Fraction, sky: SkyBody | None, steps: Sequence[Fraction]
) -> BodyDrift:  # fmt: skip
    """model: how fast the ring turns the way that its body goes [degrees a day]; day: the days in a unit of periods."""
    half = half_unit(design, body) * day
    in_file = 360 / (body.low * day)
    in_sky = in_file if sky is None else abs(sky.rate)
    best = 360 / in_sky
    one = BodyDrift(
        body.name,
        model - in_file,
        None if sky is None else in_file - in_sky,
        model - in_sky,
        model - 360 / (best - half),
        model - 360 / (best + half),
        half,
        model < 0,
        None if sky is None else sky.swings,
        (),
    )
    return BodyDrift(**{**vars(one), "crossings": tuple(one.when(step) for step in steps)})
