"""The bodies of a design in the sky: where each stands, in the mean and truly, and the angle of its ring."""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction

from solver.design.design import Body, Design
from solver.files.body_sets import BodySet, body_sets
from solver.files.longitudes import J2000_JD, Longitude
from solver.sky.errors import SkyError
from solver.sky.moments import Moment, civil, parse_moment
from solver.sky.paths import mean_longitude, unit_days, within_turn
from solver.sky.rates import period_unit
from solver.sky.truths import Truth, truth_of
from solver.words.shown import shown

_ALWAYS = ("0001-01-02", "9999-12-30")


@dataclass(frozen=True)
class SkyBody:
    """A body in the sky. rate: of its mean longitude [degrees a day], exact as in the source, negative for an own body
    that goes round against the others; plane, zero: in which plane it is counted and from where; clockwise: whether
    longitudes grow so, seen from the ecliptic's north. covers: the first and the last moment for which the source is
    good. true_within: how near true longitudes are [degrees], None where
    there are none; no_truth: why. greatest: how far the true longitude strays from the mean one [degrees], None where
    that is not known. swings: how far [degrees] a ring that turns evenly strays within 50 years as the body librates.
    """

    name: str
    rate: Fraction
    source: str
    plane: str
    zero: str
    clockwise: bool
    covers: tuple[Moment, Moment]
    greatest: float | None
    true_within: float | None
    no_truth: str
    swings: float | None
    _data: Longitude = field(repr=False)
    _truth: Truth = field(repr=False)

    def mean(self, moment: Moment) -> float:
        """The mean longitude [degrees, 0 to 360], with the long-period terms of the source. Raises SkyError beyond what
        the source covers."""
        self._refuse_beyond(moment)
        return mean_longitude(self._data, moment)

    def true(self, moment: Moment) -> float | None:
        """The true longitude [degrees, 0 to 360], counted like the mean one; None where no source is good enough.
        Raises SkyError beyond what the source covers."""
        self._refuse_beyond(moment)
        found = self._truth.at(moment)
        return None if found is None else within_turn(found)

    def _refuse_beyond(self, moment: Moment) -> None:
        first, last = self.covers
        if not first <= moment <= last:
            span = f"{civil(first)[:10]} to {civil(last)[:10]}"
            raise SkyError(f"{_when(moment)}: the longitude of {shown(self.name)} is known from {span} ({self.source})")


def _when(moment: Moment) -> str:
    try:
        return f"date {civil(moment)[:10]}"
    except SkyError:
        return f"Julian day {moment.jd:.0f}"


def sky_of(design: Design) -> tuple[SkyBody, ...]:
    """The bodies of a design in the sky, in its order. Raises SkyError, which names those without a longitude."""
    own = {start.body: start for start in design.starts or ()}
    known = body_sets()[design.set_name] if design.set_name is not None else None
    found, missing = [], []
    for body in design.bodies:
        if body.name in own:
            start = own[body.name]
            try:
                epoch = parse_moment(start.epoch)
            except SkyError as fault:
                raise SkyError(f"{shown(body.name)}: epoch: {str(fault).removeprefix('date ')}") from None
            clockwise = known is not None and any(one.clockwise for one in known.longitudes.values())
            found.append(_own(body, start.longitude, epoch, period_unit(design), clockwise))
        elif known is not None and body.low == body.high and _as_in(known, body):
            found.append(_of_set(body.name, known.longitudes[body.name]))
        else:
            missing.append(shown(body.name))
    if missing:
        ranges = [shown(body.name) for body in design.bodies if body.low < body.high]
        least = f"; {' and '.join(ranges)} must have a period, as a range says no one rate" if ranges else ""
        which = ", ".join(missing)
        told = "give each its longitude at an epoch in [[bodies.list]], or use a set"
        raise SkyError(f"no longitude is known of {which}: {told}{least}")
    return tuple(found)


def _as_in(known: BodySet, body: Body) -> bool:
    return (body.name, body.low) in known.periods and body.name in known.longitudes


def _own(body: Body, longitude: Fraction, epoch: Moment, unit: str, clockwise: bool) -> SkyBody:
    """A body of the file's own goes round as the first one does, the set's way where there is a set, and against it
    where the file says "reverse": its longitude, counted as those of the others, falls then."""
    rate = (-360 if body.sense == "reverse" else 360) / (body.low * unit_days(unit))
    data = Longitude(
        longitude, rate, Fraction(0), epoch.days + J2000_JD, None, "the design file", "the plane that the file means",
        "the file's own", clockwise, _ALWAYS, None, "", "", "the file says a mean longitude alone",
    )  # fmt: skip
    return _of_set(body.name, data)


def _of_set(name: str, data: Longitude) -> SkyBody:
    truth = truth_of(name, data)
    first, last = (parse_moment(text) for text in data.covers)
    swings = None if data.swing is None else data.swing.ring
    return SkyBody(
        name, data.rate, data.source, data.plane, data.zero, data.clockwise, (first, last), data.greatest,
        truth.within, truth.missing, swings, data, truth,
    )  # fmt: skip


def ring_angle(design: Design, body: SkyBody, longitude: float) -> float:
    """Where the body stands on the model's front [degrees counterclockwise from the right, 0 to 360] at a longitude
    [degrees]: from `zero_deg` on, the way that it runs seen from the viewer's side. A ring that runs the other way in
    the model still gets the angle of its body."""
    counterclockwise = body.clockwise == (design.sky.seen_from == "south")
    return within_turn(float(design.sky.zero_deg) + (longitude if counterclockwise else -longitude))
