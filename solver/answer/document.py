"""The answer as a document: what leaves the program, and how it is read again."""

from __future__ import annotations

import json
from collections.abc import Iterable
from enum import StrEnum
from fractions import Fraction
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, SerializerFunctionWrapHandler, model_serializer

from solver.design.design import Design
from solver.design.exact import fraction_text
from solver.design.links import KINDS
from solver.design.toothing import Toothing, is_open, with_toothing
from solver.design.train import DrivePlace, Link, LinkPlace, Placement, RollerPlace, Spot, Train
from solver.search.stop import Termination

SCHEMA: Literal["ringwright.solutions/1"] = "ringwright.solutions/1"


class Status(StrEnum):
    """What is known about the problem; why the search ended is the termination, what it cost the report."""

    OPTIMAL = "optimal"
    FEASIBLE = "feasible"
    INFEASIBLE = "infeasible"
    UNKNOWN = "unknown"


class AnswerPart(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class PlaceAnswer(AnswerPart):
    """Where an axis stands: its distance from the main axis [mm], and where places are computed its direction (seen
    from the front, from the right, counterclockwise) [degrees] and how far it is to the right of the main axis and
    above it, to the micrometre [mm]; else null."""

    direction_deg: float | None
    radius_mm: float
    x_mm: float | None
    y_mm: float | None


class RingAnswer(AnswerPart):
    """A ring. ratio: period over the reference body's, in lowest terms; errors in percent, null for a blank. rollers:
    where they stand, none where they are not asked for."""

    name: str
    blank: bool
    teeth: int
    ratio: tuple[int, int]
    target: str | None
    error_pct: float | None
    period_error_pct: float | None
    sense: Literal["same", "reverse"]
    rollers: list[PlaceAnswer]


class LinkAnswer(AnswerPart):
    """A link; thirds and third_at wheel's side first. arbor is null where ratios alone were asked for."""

    kind: Annotated[str, Field(json_schema_extra={"enum": [kind.name for kind in KINDS]})]
    wheel: int
    pinion: int
    thirds: list[int]
    ratio: tuple[int, int]
    arbor: PlaceAnswer | None
    third_at: list[PlaceAnswer]


class DriveAnswer(AnswerPart):
    """The drive: the ring that the motor works with, its speed [rev/min] as exact text, its pinion and third gear, and
    where its shaft and the third gear stand. ring_seconds: how long each ring takes for a revolution. body, seconds
    and error_pct: likewise the body whose time was wished, and how far it is from that; null where none was."""

    ring: int
    motor_rpm: str
    pinion: int
    thirds: list[int]
    motor: PlaceAnswer
    third_at: list[PlaceAnswer]
    ring_seconds: list[float]
    body: str | None
    seconds: float | None
    error_pct: float | None


class SolutionAnswer(AnswerPart):
    """One complete train. drive: null where none is asked for. third_toothing: what its third gears have, where the
    design leaves that open and it has third gears; else left out. arranged: whether it is proven that its places are
    as good as any by `fit.arrange`, or open, as so many steps did not settle it; left out where that is "first".
    new_gears: how many wheels, pinions and third gears are still to be made, where the design asks for it or says what
    is made; else left out.

    orders: in how many orders of the links between each two bodies it can be built, each as good by every rank key but
    the envelope and what third gears decide; 1 where each order is a solution of its own, null for 2**63 or more.
    orders_settled: whether each of these was looked at by all rules; false: they are those in which each link by itself
    can stand where it does, and some may have no place. No proof depends on them.
    """

    rank: int
    worst_error_pct: float
    parts: int
    jigs: int
    teeth: int
    largest: int
    envelope_mm: float | None
    orders: int | None = 1
    orders_settled: bool = True
    rings: list[RingAnswer]
    links: list[LinkAnswer]
    drive: DriveAnswer | None
    third_toothing: Toothing | None = None
    arranged: Literal["proven", "open"] | None = None
    new_gears: int | None = None

    @model_serializer(mode="wrap")
    def _plain(self, handler: SerializerFunctionWrapHandler) -> dict[str, Any]:
        plain: dict[str, Any] = handler(self)
        for name in ("third_toothing", "arranged", "new_gears"):
            if plain.get(name) is None:
                plain.pop(name, None)
        return plain


class ProofOutcome(StrEnum):
    """What a second proof came to: what was claimed holds, was not settled in time, or does not hold."""

    CONFIRMED = "confirmed"
    OPEN = "open"
    REFUTED = "refuted"


class ProofAnswer(AnswerPart):
    """A claim of the answer that was proven a second time. method: by what; tolerance_pct: errors nearer than this are
    not told apart; places: whether it was proven with places (else teeth alone exclude it, and sooner); structures: how
    many ring structures it is about."""

    method: str
    claim: str
    tolerance_pct: float
    places: bool
    structures: int
    outcome: ProofOutcome


def proven_twice(outcomes: Iterable[str]) -> bool:
    """Whether there are second proofs, and all of them confirmed what was claimed."""
    told = list(outcomes)
    return bool(told) and all(one == ProofOutcome.CONFIRMED for one in told)


# Left out of the document where they say nothing.
_WHERE_ASKED = ("least_first_key", "front", "front_open", "front_ties", "proofs", "third_toothing")


class Answer(AnswerPart):
    """The document of `solve --json`. report: what differs from run to run; all else is the same bytes each time.

    bound_worst_error_pct: no solution has a smaller worst error; bounds are rounded down, errors up. least_first_key:
    likewise for the first rank key, where that is not the error; for the envelope in mm, in whole micrometres as
    envelope_mm. solutions: the ranked ones, then those that stand on the front alone. front: ranks of the solutions on
    the Pareto front, null where none was asked for; of a search that was stopped those found so far, each of which is
    proven to be on it, and front_open says in how many parts of it there may be more; front_ties: how many different
    solutions have the values of each, null for more than were counted. proofs: what was proven a second time, null
    where that was not asked for. third_toothing: whether each third gear has pins, and the gear behind it teeth, or
    short teeth, and the gear behind it pins, or in each solution what is better; null where gears are not judged as
    made, or are cut from plate.
    status: what is known; termination: why the search ended.
    """

    model_config = ConfigDict(
        frozen=True, extra="forbid", title="Ringwright answer", validate_by_name=True, validate_by_alias=True
    )

    schema_name: Literal["ringwright.solutions/1"] = Field(alias="schema")
    title: str
    config_sha256: str
    status: Status
    termination: Termination
    proven: bool
    bound_worst_error_pct: float | None
    least_first_key: int | float | None = None
    solutions: list[SolutionAnswer]
    front: list[int] | None = None
    front_open: int | None = None
    front_ties: list[int | None] | None = None
    proofs: list[ProofAnswer] | None = None
    third_toothing: Literal["pins", "teeth", "better"] | None = None
    report: dict[str, Any]

    def to_json(self) -> str:
        """One JSON document with a line feed at the end."""
        data = self.model_dump(mode="json", by_alias=True)
        asked = {key: value for key, value in data.items() if value is not None or key not in _WHERE_ASKED}
        return json.dumps(asked, indent=1, ensure_ascii=False) + "\n"

    def trains(self, design: Design) -> list[Train]:
        """The solutions as trains, best first, of the design that was solved."""
        return [train_of(design, solution) for solution in self.solutions]


def made_as(design: Design, solution: SolutionAnswer) -> Design:
    """The design with third gears as they are in a solution of its answer."""
    return with_toothing(design, solution.third_toothing or "pins") if is_open(design) else design


def train_of(design: Design, solution: SolutionAnswer) -> Train:
    """The train that a solution of a design's answer describes."""
    return Train(
        tuple(ring.teeth for ring in solution.rings),
        tuple(index for index, ring in enumerate(solution.rings) if not ring.blank),
        tuple(Link(link.kind, link.wheel, link.pinion, tuple(link.thirds)) for link in solution.links),
        _placement_of(design, solution) if design.fit.directions is not None else None,
    )


def _placement_of(design: Design, solution: SolutionAnswer) -> Placement:
    assert design.fit.directions is not None
    directions = {float(direction): direction for direction in design.fit.directions}
    tooth = design.rings.pitch.radius_mm(1)

    def axis(place: PlaceAnswer, thirds: list[PlaceAnswer]) -> LinkPlace:
        assert place.direction_deg is not None
        return LinkPlace(
            directions[place.direction_deg], round(place.radius_mm / tooth), _spot(place), tuple(map(_spot, thirds))
        )

    drive = solution.drive
    links = [axis(link.arbor, link.third_at) for link in solution.links if link.arbor is not None]
    return Placement(
        tuple(links),
        tuple(
            tuple(RollerPlace(Fraction(roller.direction_deg or 0), _spot(roller)) for roller in ring.rollers)
            for ring in solution.rings
        )
        if design.fit.rollers is not None
        else (),
        None
        if drive is None
        else DrivePlace(
            drive.ring, Fraction(drive.motor_rpm), drive.pinion, tuple(drive.thirds), axis(drive.motor, drive.third_at)
        ),
    )


def _spot(place: PlaceAnswer) -> Spot:
    assert place.x_mm is not None and place.y_mm is not None
    return round(place.x_mm * 1000), round(place.y_mm * 1000)


def range_text(low: Fraction, high: Fraction) -> str:
    """ "low..high" as exact text, or the one number where both are the same."""
    return fraction_text(low) if low == high else f"{fraction_text(low)}..{fraction_text(high)}"
