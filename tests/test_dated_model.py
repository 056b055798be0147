"""A model set to a date, as data: places of rings, gears in mesh with them, meetings that the model shows."""

from __future__ import annotations

import json
from fractions import Fraction
from functools import cache
from math import atan2, hypot, pi

import pytest

from solver import Design, parse_design
from solver.answer.document import SolutionAnswer
from solver.answer.solve import solve
from solver.service.page.dated import dated, hanging_or_why
from solver.service.page.motion import motion
from solver.service.page.sky import SAMPLES, Hanging
from solver.sky.bodies import sky_of
from solver.sky.errors import SkyError
from solver.sky.events import MeetingPair, meetings
from solver.sky.meeting_rows import HEADINGS, meeting_rows, told
from solver.sky.moments import Moment, parse_moment

RINGS = "[rings]\ninner_teeth = 24\ntooth_step = 5\nblanks = {min = 0, max = 1}\n[search]\nkeep = 1\n"
J2000 = Moment(Fraction(0))


@cache
def solved(bodies: str, more: str = "") -> tuple[Design, SolutionAnswer]:
    design = parse_design(f"[bodies]\n{bodies}\n{RINGS}{more}")
    return design, solve(design).solutions[0]


JUPITER, URANUS = 'set = "jupiter"', 'set = "uranus"'
SOUTH = '[sky]\nzero_deg = 0\nseen_from = "south"\n'
REVERSED = 'set = "jupiter"\nsense = "either"\n', "[arbors]\nthird_gears = 1\n"


def hung(bodies: str, more: str = "") -> Hanging:
    found, why = hanging_or_why(*solved(bodies, more))
    assert found is not None, why
    return found


def carried(found: Hanging, places: list[Fraction]) -> list[float]:
    return [float(places[ring] * 360) for ring in found.riders]


def test_rings_stand_at_the_mean_longitudes_of_the_source() -> None:
    """Jupiter's moons at J2000.0: L1.2 (Lainey, Duriez, Vienne). Longitude 0 is straight up unless told."""
    at = [19.93399, 214.49454, 221.77532, 80.96340]
    assert carried(hung(JUPITER), hung(JUPITER).set_to(J2000)) == pytest.approx([(90 + one) % 360 for one in at])
    south = hung(JUPITER, SOUTH)
    assert carried(south, south.set_to(J2000)) == pytest.approx([-one % 360 for one in at])


def test_which_way_ring_0_runs_is_as_the_maker_sees_it() -> None:
    """Moons of Jupiter run counterclockwise seen from north; those of Uranus clockwise (GUST86: its pole of motion is
    beyond the ecliptic's south)."""
    ways = [(JUPITER, "", 1), (JUPITER, SOUTH, -1), (URANUS, "", -1), (URANUS, SOUTH, 1)]
    assert [hung(bodies, more).forward for bodies, more, _ in ways] == [way for _, _, way in ways]


@pytest.mark.parametrize("days", ["1", "-365.25", "54786", "54786.123456789"])
def test_running_on_is_exact(days: str) -> None:
    """Io is the reference: its ring makes days/1.769137786 turns, all others as many as their ratios say."""
    found = hung(JUPITER)
    start = Moment(Fraction(100))
    turns = Fraction(days) / Fraction("1.769137786")
    begun = found.set_to(start)
    ran = found.run_to(Moment(start.days + Fraction(days)), start)
    for ring, before, after in zip(found.solution.rings, begun, ran, strict=True):
        assert after == (before + turns / Fraction(*ring.ratio)) % 1
    told_turns = found.at(Moment(start.days + Fraction(days)), start).ring_turns
    assert told_turns == [float(one) for one in ran]


@pytest.mark.parametrize("bodies, more", [(JUPITER, ""), (JUPITER, SOUTH), (URANUS, ""), REVERSED])
def test_a_tooth_meets_a_gap_at_any_date_and_later(bodies: str, more: str) -> None:
    found = hung(bodies, more)
    one = found.stood(motion(found.design, found.solution), parse_moment("2026-12-24T18:00Z"))
    parts = {part.id: part for part in (*one.rings, *one.gears)}
    for turns in (0.0, 13.7, -3.21):
        for pair in one.meshes:
            first, second = (parts[name] for name in pair)
            x, y = (getattr(second, axis) - getattr(first, axis, 0.0) for axis in "xy")
            assert hypot(x, y) == pytest.approx(first.pitch_radius + second.pitch_radius, abs=2e-3)
            line = atan2(y, x) / (2 * pi)
            u = first.teeth * (line - first.phase_turns - first.rate_float * turns)
            v = second.teeth * (line + 0.5 - second.phase_turns - second.rate_float * turns)
            assert (u + v) % 1 == pytest.approx(0.5, abs=1e-6), pair
    assert one.rings[0].rate == (str(found.forward), "1")
    for ring, body in zip(found.riders, found.sky, strict=True):
        told_body = one.rings[ring].body
        assert told_body is not None
        exact = Fraction(*map(int, told_body.true_rate)) * found.rates[0] * found.forward
        assert abs(exact) == body.rate / 360, "the mark runs as the sky does"


def test_true_places_between_the_samples_are_near_enough_for_a_mark() -> None:
    """What the page takes between two samples, against the library: Mercury, which strays most, half a degree."""
    found = hung('set = "planets"\nonly = ["Mercury", "Venus", "Earth"]')
    at = parse_moment("2026-12-24")
    mercury = found.at(at).bodies[0]
    period = 1 / mercury.rate_float
    ahead = mercury.ahead_turns
    assert len(ahead) == SAMPLES and mercury.true_turns is not None
    for step in range(-60, 60):
        days = step * period / 130
        place = ((days / period + 0.5) % 1.0) * SAMPLES
        low, part = int(place), place % 1.0
        between = ahead[low] * (1 - part) + ahead[(low + 1) % SAMPLES] * part
        moment = Moment(at.days + Fraction(days))
        body = found.sky[0]
        true = body.true(moment)
        assert true is not None
        assert abs((body.mean(moment) + 360 * between - true + 180) % 360 - 180) < 0.5
    assert max(map(abs, ahead)) * 360 == pytest.approx(23.7, abs=0.3)  # its greatest equation of centre (handbooks)


def test_the_model_meets_when_its_own_rings_stand_together() -> None:
    """By exact ratios: at the time that is told the two rings are at one angle, after as many rounds as the bodies."""
    found = hung(JUPITER)
    start, after = parse_moment("2026-01-01"), parse_moment("2027-06-01")
    rows = meeting_rows(found.design, found.solution, ("Europa", "Callisto"), after, 10, start).rows
    assert len(rows) == 10 and [row.number for row in rows] == list(range(rows[0].number, rows[0].number + 10))
    a, b = found.riders[1], found.riders[3]
    for row in rows:
        assert row.model is not None and row.mean is not None and row.true is not None
        places = found.run_to(row.model, start)
        assert abs(float((places[a] - places[b] + Fraction(1, 2)) % 1) - 0.5) < 1e-12
        assert row.late_days == pytest.approx(float(row.model.days - row.mean.days))
        assert abs(float(row.true.days - row.mean.days)) < (1.18 + 0.91) / 79.8  # what both stray, by their rates
    assert [row.true for row in rows] == meetings(found.sky[1], found.sky[3], after, 10, "true")


@pytest.mark.parametrize("kind", ["mean", "true"])
def test_fast_moons_meet_as_often_as_looking_every_half_hour_finds(kind: str) -> None:
    """Io and Europa over 60 days: each time their places change sides. No meeting is left out or told twice."""
    io, europa = sky_of(solved(JUPITER)[0])[:2]

    def apart(moment: Moment) -> float:
        one, other = (getattr(body, kind)(moment) for body in (io, europa))
        return (one - other + 180) % 360 - 180

    start = parse_moment("2026-03-01")
    moments = [Moment(start.days + Fraction(step, 48)) for step in range(60 * 48 + 1)]
    sides = [apart(moment) for moment in moments]
    exact = [float(moment.days) for moment, one, other in zip(moments, sides, sides[1:], strict=False)
             if one <= 0 < other and other - one < 180]  # fmt: skip
    found = meetings(io, europa, start, len(exact) + 1, kind)  # type: ignore[arg-type]
    assert len(exact) == 17 and float(found[-1].days) > float(moments[-1].days)
    for one, before in zip(found, exact, strict=False):
        assert 0 <= float(one.days) - before <= 1 / 48


def test_a_model_of_the_skys_own_rates_is_never_late() -> None:
    """Were the ratios those of the sky, the model would show every meeting when the mean longitudes meet."""
    found = hung(JUPITER)
    start, rings, riders = parse_moment("2026-01-01"), list(found.solution.rings), iter(found.sky)
    for index in found.riders:
        ratio = found.sky[0].rate / next(riders).rate
        rings[index] = rings[index].model_copy(update={"ratio": [ratio.numerator, ratio.denominator]})
    exact = found.solution.model_copy(update={"rings": rings})
    late = _late(found, exact, start)
    assert max(late) < 1e-3 < min(map(abs, _late(found, found.solution, start)[5:]))


def _late(found: Hanging, solution: SolutionAnswer, start: Moment) -> list[float]:
    rows = meeting_rows(found.design, solution, ("Ganymede", "Callisto"), start, 8, start).rows
    return [abs(row.late_days or 0.0) for row in rows]


def test_a_ring_that_runs_the_other_way_meets_nothing() -> None:
    found = hung(JUPITER)
    rings = list(found.solution.rings)
    rings[found.riders[3]] = rings[found.riders[3]].model_copy(update={"sense": "reverse"})
    solution = found.solution.model_copy(update={"rings": rings})
    told_rows = meeting_rows(found.design, solution, ("Io", "Callisto"), J2000, 2, J2000)
    assert told_rows.why == "the model shows none: its ring of Callisto runs the other way"
    assert all(row.model is None and row.mean is not None for row in told_rows.rows)
    assert [line[2:] for line in told(told_rows)] == [("–", "–")] * 2


def test_rows_are_ready_to_print() -> None:
    found = hung('set = "planets"\nonly = ["Venus", "Earth", "Mars"]')
    start = parse_moment("2020-01-01")
    rows = meeting_rows(found.design, found.solution, ("Earth", "Mars"), start, 3, start)
    assert rows.word == "opposition"
    lines = told(rows)
    assert all(len(line) == len(HEADINGS) for line in lines)
    assert lines[0][0].startswith("2020-10-13 2") and lines[0][1].startswith("2020-09-24 0")  # DE421, Simon et al.
    venus = meeting_rows(found.design, found.solution, ("Venus", "Earth"), parse_moment("2012-01-01"), 1, start)
    assert venus.word == "inferior conjunction" and told(venus)[0][0].startswith("2012-06-06 0")


@pytest.mark.parametrize(
    "names, said",
    [(("Io", "Io"), "meets itself at all times"), (("Io", "Titan"), "Titan is no body of this design; it has Io, Eur")],
)
def test_what_cannot_be_asked_is_one_line(names: tuple[str, str], said: str) -> None:
    found = hung(JUPITER)
    with pytest.raises(SkyError) as fault:
        meeting_rows(found.design, found.solution, names, J2000, 1, J2000)
    assert said in str(fault.value).replace('"', "") and "\n" not in str(fault.value)


def test_a_months_ring_meets_no_other() -> None:
    """The months of the Moon are counted from four different places, so no two of them meet in the sky."""
    with pytest.raises(SkyError, match="not counted in one plane from one zero"):
        MeetingPair(*sky_of(parse_design('[bodies]\nset = "moon-months"'))[:2])


def test_without_longitudes_it_starts_as_ever_and_says_why() -> None:
    own = '[[bodies.list]]\nname = "A"\nperiod = 1\n[[bodies.list]]\nname = "B"\nperiod = 2\n'
    design, solution = solved(own)
    shown = dated(design, solution, motion(design, solution), "2026-01-01")
    assert (shown.sky, shown.told) == (None, "") and shown.why.startswith("no longitude is known of")
    assert {float(level[0].phase) for level in shown.drawing.levels} == {0.25}


def test_without_the_packages_of_the_sky_it_says_what_helps(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("solver.sky.extra.find_spec", lambda library: None)
    design, solution = solved(JUPITER)
    shown = dated(design, solution, motion(design, solution), "2026-01-01")
    assert shown.sky is None and shown.why.endswith("pip install 'ringwright[sky]'")


def test_what_the_script_reads_is_plain_json() -> None:
    design, solution = solved(JUPITER)
    shown = dated(design, solution, motion(design, solution), "2026-01-01")
    assert shown.told.isascii() and json.loads(shown.told)["date_utc"] == "2026-01-01T00:00:00Z"
