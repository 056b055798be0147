"""Whether a model can be set to a date, and its drawing set to one."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from solver.answer.document import SolutionAnswer
from solver.design.design import Design
from solver.service.page.motion import Motion
from solver.service.page.sky_told import PlaceInSky, SkyOfModel
from solver.service.page.turning import Turning, turning
from solver.sky.errors import SkyError
from solver.sky.extra import need_sky

if TYPE_CHECKING:
    from solver.service.page.sky import Hanging

_PAIR = ("Jupiter", "Saturn")


@dataclass(frozen=True)
class Dated:
    """A drawing as the page shows it first. sky: where the bodies are at its date; None where it has no date, and why
    then says so."""

    drawing: Turning
    sky: SkyOfModel | None
    why: str = ""

    @property
    def told(self) -> str:
        """The sky as the page's script reads it, in plain letters."""
        return "" if self.sky is None else json.dumps(self.sky.model_dump(mode="json"))

    @property
    def truly(self) -> bool:
        """Whether any body has a true place."""
        return any(place.true_turns is not None for place in self.places.values())

    @property
    def meeting(self) -> tuple[str, ...]:
        """The two bodies whose meetings are asked for first: the slow pair that is best known, or the first two."""
        names = tuple(place.name for place in self.places.values())
        return _PAIR if set(_PAIR) <= set(names) else names[:2]

    @property
    def places(self) -> dict[int, PlaceInSky]:
        """Each body's place, by its ring."""
        return {} if self.sky is None else {place.ring: place for place in self.sky.bodies}


def today() -> str:
    """This day in UTC, as its date is written: a page that is kept is made anew for each."""
    return datetime.now(UTC).date().isoformat()


def dated(design: Design, solution: SolutionAnswer, motion: Motion, date: str) -> Dated:
    """The drawing of a solution set to a date; with all bodies straight up where it cannot be set to one."""
    found, why = hanging_or_why(design, solution)
    if found is None:
        return Dated(turning(motion), None, why)
    from solver.sky.moments import parse_moment

    try:
        moment = parse_moment(date)
        return Dated(turning(found.stood(motion, moment)), found.at(moment))
    except SkyError as fault:  # a source that ends before today
        return Dated(turning(motion), None, str(fault))


def hanging_or_why(design: Design, solution: SolutionAnswer) -> tuple[Hanging | None, str]:
    """A solution beside the sky; or None, and in one line why not."""
    try:
        need_sky()
        from solver.service.page.sky import hanging  # which loads what the extra `sky` brings

        return hanging(design, solution), ""
    except SkyError as fault:
        return None, str(fault)
