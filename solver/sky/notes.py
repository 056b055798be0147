"""What is to be known about a setting: time scale, planes, light time, what a ring that turns evenly cannot show."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import hypot

import erfa

from solver.sky.bodies import SkyBody
from solver.sky.moments import Moment, civil, delta

_LIGHT_AU_MINUTES = 499.004784 / 60  # of an astronomical unit: IAU 2012
_HOSTS = {"Jupiter": 5, "Saturn": 6, "Uranus": 7}  # as plan94 numbers them
_EARTH = 3
_FAST = 10.0  # degrees a day from which the hour counts


def notes_on(sky: Sequence[SkyBody], moment: Moment, true: bool) -> list[str]:
    """A line for each thing to be known at a moment."""
    return [*_time(moment), *_hour(sky), *_planes(sky), *_precession(sky, moment), *_light(sky, moment),
            *_swings(sky), *_uneven(sky, true), *_unknown(sky, true)]  # fmt: skip


def _time(moment: Moment) -> Iterator[str]:
    seconds = f"{float(delta(moment)):.3f}".rstrip("0").rstrip(".")
    year = int(civil(moment)[:4])
    if year < 1960:
        yield f"TT less UT1 is {seconds} s: before 1960 there was no UTC, and civil time is taken as UT1"
        return
    last, month, _ = erfa.leap_seconds.get()[-1]
    yield f"TT less UTC is {seconds} s (the last leap second known here ended with the day before {last}-{month:02}-01)"


def _hour(sky: Sequence[SkyBody]) -> Iterator[str]:
    fastest = max(sky, key=lambda body: abs(body.rate))
    if abs(fastest.rate) >= _FAST:
        yield f"the hour counts: in 12 hours {fastest.name} goes on by {abs(float(fastest.rate)) / 2:.0f} degrees"


def _planes(sky: Sequence[SkyBody]) -> Iterator[str]:
    by_plane: dict[tuple[str, str], list[str]] = {}
    for body in sky:
        by_plane.setdefault((body.plane, body.zero), []).append(body.name)
    for (plane, zero), names in by_plane.items():
        whose = "longitudes" if len(by_plane) == 1 else f"longitudes of {', '.join(names)}"
        yield f"{whose} are counted in {plane}; zero is {zero}"
    if any(body.clockwise for body in sky):
        yield "seen from the ecliptic's north these bodies run clockwise"


def _precession(sky: Sequence[SkyBody], moment: Moment) -> Iterator[str]:
    """General precession in longitude: IAU 2006 (Capitaine et al. 2003)."""
    if any(body.zero.startswith("the equinox of J2000") for body in sky):
        centuries = float(moment.days) / 36525
        on = (5028.796195 * centuries + 1.1054348 * centuries**2) / 3600
        yield f"the equinox has gone since J2000: longitudes from that of the date are {on:.3f} degrees more"


def _light(sky: Sequence[SkyBody], moment: Moment) -> Iterator[str]:
    for host, number in _HOSTS.items():
        moons = [body for body in sky if body.plane.startswith(host)]
        if moons:
            minutes = _light_minutes(number, moment)
            most = max(moons, key=lambda body: body.rate)
            moved = float(most.rate) * minutes / 1440
            yield (
                f"moons stand as they are; from the Earth one sees them as they were {minutes:.0f} minutes before, as "
                f"light from {host} takes so long at this date: {most.name} {moved:.1f} degrees back"
            )


def _light_minutes(number: int, moment: Moment) -> float:
    host, earth = (erfa.ufunc.plan94(2451545.0, float(moment.days), one)[0]["p"].tolist() for one in (number, _EARTH))
    return hypot(*(a - b for a, b in zip(host, earth, strict=True))) * _LIGHT_AU_MINUTES


def _swings(sky: Sequence[SkyBody]) -> Iterator[str]:
    told = [f"{body.name} by {body.swings:g} degrees within 50 years" for body in sky if body.swings is not None]
    if told:
        yield (
            f"a ring that turns evenly cannot show librations of 70.6 years: it strays from {' and from '.join(told)}; "
            "the setting has them, so set it again each year"
        )


def _uneven(sky: Sequence[SkyBody], true: bool) -> Iterator[str]:
    known = [body for body in sky if body.greatest is not None]
    if not known:
        return
    worst = max(known, key=lambda body: body.greatest or 0.0)
    way = "set by true longitudes it is right at this date alone" if true else "that is no fault of its gears"
    yield (
        f"a ring that turns evenly shows the mean longitude, which is up to {worst.greatest:g} degrees from the true "
        f"one ({worst.name}); {way}"
    )


def _unknown(sky: Sequence[SkyBody], true: bool) -> Iterator[str]:
    by_reason: dict[str, list[str]] = {}
    for body in sky:
        if body.true_within is None:
            by_reason.setdefault(body.no_truth, []).append(body.name)
    for reason, names in by_reason.items():
        instead = "; set by the mean one" if true else ""
        yield f"no true longitude of {', '.join(names)}: {reason}{instead}"
