"""Where the bodies of a model stand in the sky at a date, as drawn: turns counterclockwise from the right.

A ring that is set to a date stands where its body does by its mean longitude. From then on the model turns by its own
gears, the mean places by the sky's rates; true places stray from the mean ones in every turn of a body.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from solver.answer.document import SolutionAnswer
from solver.design.design import Design
from solver.service.page.motion import START_TURNS, Motion, Rate, rate_text
from solver.service.page.sky_told import MeetingsDocument, MeetingTold, PlaceInSky, SkyOfModel
from solver.sky.bodies import SkyBody, ring_angle, sky_of
from solver.sky.meeting_rows import MeetingRow, meeting_rows, utc_or_none
from solver.sky.moments import Moment, civil, tt_text
from solver.sky.paths import signed
from solver.sky.rates import model_rates

SAMPLES = 32  # of what is true less what is mean, in one turn of a body


@dataclass(frozen=True)
class Hanging:
    """A solution beside the sky. sky: its bodies; riders: the rings that carry them; forward: 1 where ring 0 runs
    counterclockwise on the drawing, else -1; rates: of every ring as it is drawn [turns a day]."""

    design: Design
    solution: SolutionAnswer
    sky: tuple[SkyBody, ...]
    riders: tuple[int, ...]
    forward: int
    rates: tuple[Fraction, ...]

    def set_to(self, moment: Moment) -> list[Fraction]:
        """Where every ring stands [turns] when the model is set to a moment; blank rings straight up."""
        found = [Fraction(START_TURNS)] * len(self.solution.rings)
        for ring, body in zip(self.riders, self.sky, strict=True):
            found[ring] = Fraction(ring_angle(self.design, body, body.mean(moment))) / 360
        return found

    def run_to(self, moment: Moment, set_at: Moment) -> list[Fraction]:
        """Where every ring stands [turns, 0 to 1] when the model was set at a moment and turned by its gears since."""
        days = moment.days - set_at.days
        return [(place + rate * days) % 1 for place, rate in zip(self.set_to(set_at), self.rates, strict=True)]

    def at(self, moment: Moment, set_at: Moment | None = None) -> SkyOfModel:
        """What the page shows at a moment. set_at: when the model was set; at that moment, unless told."""
        set_at = set_at or moment
        first_days = 1 / abs(self.rates[0])
        first, last = max(one.covers[0] for one in self.sky), min(one.covers[1] for one in self.sky)
        return SkyOfModel(
            schema="ringwright.sky/1",
            date=tt_text(moment),
            date_utc=civil(moment),
            days=rate_text(moment.days),
            days_float=float(moment.days),
            set_utc=civil(set_at),
            set_days_float=float(set_at.days),
            ring_turns=[float(turns) for turns in self.run_to(moment, set_at)],
            first_days=rate_text(first_days),
            first_days_float=float(first_days),
            forward=self.forward,
            first_utc=civil(first),
            last_utc=civil(last),
            bodies=[self._place(ring, body, moment) for ring, body in zip(self.riders, self.sky, strict=True)],
        )

    def _place(self, ring: int, body: SkyBody, moment: Moment) -> PlaceInSky:
        rate = _way(self.design, body) * body.rate / 360
        mean, true = body.mean(moment), body.true(moment)
        return PlaceInSky(
            ring=ring,
            name=body.name,
            mean_longitude_deg=mean,
            true_longitude_deg=true,
            true_within_deg=body.true_within,
            turns=ring_angle(self.design, body, mean) / 360,
            true_turns=None if true is None else ring_angle(self.design, body, true) / 360,
            rate=rate_text(rate),
            rate_float=float(rate),
            ahead_turns=[] if true is None else self._ahead(body, moment),
            source=body.source,
        )

    def _ahead(self, body: SkyBody, moment: Moment) -> list[float]:
        """True less mean places [turns] over one turn of a body around a moment, within what its source covers."""
        turn, (first, last) = 360 / abs(body.rate), body.covers
        sign, found = _way(self.design, body), []
        for place in range(SAMPLES):
            at = Moment(moment.days + turn * Fraction(2 * place - SAMPLES, 2 * SAMPLES))
            at = min(max(at, first), last)
            true = body.true(at)
            ahead = 0.0 if true is None else signed(true - body.mean(at))
            found.append(round(sign * ahead / 360.0, 7))
        return found

    def stood(self, motion: Motion, moment: Moment) -> Motion:
        """The same solution in motion, set to a moment: rings where their bodies are, gears in mesh with them, and the
        bodies' true rates those of the sky.

        A gear follows its ring by the ratio of their rates, so every mesh stays one; wheel and pinion of a link, which
        are lifted and meshed again when a model is set, each go with their own ring.
        """
        places, first_days = self.set_to(moment), 1 / abs(self.rates[0])
        true = {ring: _way(self.design, body) * body.rate / 360 * first_days
                for ring, body in zip(self.riders, self.sky, strict=True)}  # fmt: skip
        rings = []
        for ring, place in zip(motion.rings, places, strict=True):
            body = ring.body and ring.body.model_copy(update=_rates("true_rate", true[ring.index]))
            update = {"phase_turns": float(place), "body": body, **self._run(ring.rate)}
            rings.append(ring.model_copy(update=update))
        gears = []
        for gear in motion.gears:
            ring = motion.rings[gear.level]
            turned = (places[gear.level] - Fraction(ring.phase_turns)) * _exact(gear.rate) / _exact(ring.rate)
            phase = float((Fraction(gear.phase_turns) + turned) % 1)
            gears.append(gear.model_copy(update={"phase_turns": phase, **self._run(gear.rate)}))
        return motion.model_copy(update={"rings": rings, "gears": gears})

    def meetings(self, names: tuple[str, str], after: Moment, count: int, set_at: Moment) -> MeetingsDocument:
        """The next meetings of two bodies. Raises SkyError."""
        found = meeting_rows(self.design, self.solution, names, after, count, set_at)
        return MeetingsDocument(
            schema="ringwright.meetings/1",
            a=found.a,
            b=found.b,
            word=found.word,
            after_utc=civil(after),
            set_utc=civil(set_at),
            why=found.why,
            meetings=[_meeting(row) for row in found.rows],
        )

    def _run(self, rate: Rate) -> dict[str, object]:
        return _rates("rate", self.forward * _exact(rate))


def hanging(design: Design, solution: SolutionAnswer) -> Hanging:
    """A solution beside the sky. Raises SkyError where a body has no longitude, or the unit of time is not known."""
    sky = sky_of(design)
    forward = _way(design, sky[0])
    told = zip(solution.rings, model_rates(design, solution), strict=True)
    rates = tuple(forward * (-rate if ring.sense == "reverse" else rate) / 360 for ring, rate in told)
    riders = tuple(index for index, ring in enumerate(solution.rings) if not ring.blank)
    return Hanging(design, solution, sky, riders, forward, rates)


def _way(design: Design, body: SkyBody) -> int:
    """1 where a body runs counterclockwise on the drawing, else -1."""
    quarter = ring_angle(design, body, 90.0) - ring_angle(design, body, 0.0)
    return 1 if quarter % 360.0 < 180.0 else -1


def _meeting(row: MeetingRow) -> MeetingTold:
    true, mean, model = map(utc_or_none, (row.true, row.mean, row.model))
    return MeetingTold(
        number=row.number, true_utc=true, mean_utc=mean, model_utc=model, model_late_days=row.late_days
    )  # fmt: skip


def _rates(name: str, exact: Fraction) -> dict[str, object]:
    return {name: rate_text(exact), f"{name}_float": float(exact)}


def _exact(rate: Rate) -> Fraction:
    return Fraction(int(rate[0]), int(rate[1]))
