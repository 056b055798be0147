"""A solution in motion: how fast and from where every ring and gear turns, so that all teeth mesh at every moment.

Everything turns as a multiple of ring 0: after `t` turns of ring 0 a ring or gear stands at `phase_turns + rate * t`
turns, counterclockwise from the right as seen from the front. At the start every body stands straight up, in one line
with its true position. Wheel and pinion are fixed on their arbor at any angle to each other, so that no train of
meshes closes on itself and every phase follows from the ring that it works with.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import atan2, cos, pi, sin, sqrt

from pydantic import ConfigDict, Field

from solver.answer.common_time import common_time, unit_of
from solver.answer.document import DriveAnswer, LinkAnswer, PlaceAnswer, RingAnswer, SolutionAnswer, made_as, train_of
from solver.design.design import Body, Design
from solver.design.exact import fraction_text
from solver.design.geometry import Pitch
from solver.design.links import KIND_BY_NAME
from solver.service.page.still import EdgeMotion, FrameMotion, Part, Point, RollerMotion, edge_of, held_in, rollers_of
from solver.sheets.gears.gears import form_of
from solver.sheets.gears.looks import Look, looks_of

START_TURNS = 0.25  # straight up
_APART = 137.5  # degrees from one made-up direction to the next: neighbours on a level stay clear of each other

Rate = tuple[str, str]


class LookMotion(Part):
    """What a gear looks like as it is made [mm], at its own middle, with tooth or pin 0 on the right. tooth: corners
    from the gap before tooth 0 to the gap after it; none for pins, which stand on the pitch circle. inside: radius of
    the hole in a ring, and of the loops of a small gear. pin: diameter of the pins, 0 where it has none."""

    toothing: str
    tooth: list[Point]
    inside: float
    pin: float


class BodyMotion(Part):
    """Where the body of a ring should stand. period: of one true turn, exact, or "low..high", in `unit` of the
    reference. true_rate: true turns for one turn of ring 0, in lowest terms (decimal text, since the numbers may be
    large), and the same as a float; with a range of periods the nearest one that the range allows. Errors [percent] as
    in the answer."""

    name: str
    period: str
    true_rate: Rate
    true_rate_float: float
    error_pct: float
    period_error_pct: float


class RingMotion(Part):
    """A ring: radii [mm], rate (turns for one turn of ring 0, in lowest terms, negative against it) and the same as a
    float, phase_turns at the start. body: null for a blank. look: null where gears are not judged as made."""

    id: str
    index: int
    name: str
    blank: bool
    teeth: int
    level: int
    pitch_radius: float
    tip_radius: float
    inner_radius: float
    rate: Rate
    rate_float: float
    phase_turns: float
    body: BodyMotion | None
    look: LookMotion | None = None


class GearMotion(Part):
    """A gear beside the rings: its middle [mm; x to the right, y upwards], radii, rate and phase as for a ring. part:
    wheel, pinion, third or motor. link: null for the drive."""

    id: str
    part: str
    link: int | None
    teeth: int
    level: int
    x: float
    y: float
    pitch_radius: float
    tip_radius: float
    rate: Rate
    rate_float: float
    phase_turns: float
    look: LookMotion | None = None


class Reference(Part):
    """Whose turns are counted. time: how long one turn of this ring stands for, exact, or to 15 digits where the common
    rate is free; unit: "days" where that is known, else null. seconds: how long it takes with the motor, or null."""

    ring: int
    name: str
    time: str
    unit: str | None
    seconds: float | None


class Motion(Part):
    """The motion document. meshes: pairs of ids. placed: false where the design chooses no places and those here are
    made up for the drawing. one_arbor: false where ratios alone were asked for, so that wheel and pinion of a link are
    drawn on two middles although they turn as one. teeth_made_up: the design has no addendum, and teeth are drawn a
    third of the pitch high. front: which end of the axis faces the viewer, "outer" (the largest ring is nearest) or
    "inner". supports: frame and arms, null where the design has none; edge: a frame that is
    only a size, or null. post: the radius of posts [mm]."""

    model_config = ConfigDict(frozen=True, extra="forbid", serialize_by_alias=True)

    schema_name: str = Field("ringwright.motion/1", alias="schema")
    title: str
    unit: str
    placed: bool
    one_arbor: bool
    teeth_made_up: bool
    front: str
    envelope: float
    reference: Reference
    rings: list[RingMotion]
    gears: list[GearMotion]
    meshes: list[tuple[str, str]]
    supports: FrameMotion | None = None
    edge: EdgeMotion | None = None
    rollers: list[RollerMotion] = Field(default_factory=list)
    post: float = 0.0


@dataclass(frozen=True)
class _Turning:
    """A toothed thing at a spot [mm]: where its tooth 0 stands at the start [turns], and its rate."""

    id: str
    teeth: int
    at: Point
    phase: float
    rate: Fraction

    def meshed(self, name: str, teeth: int, at: Point) -> _Turning:
        """A gear in mesh with this one: on the line of centres a tooth of one meets a gap of the other.

        With u teeth from tooth 0 to the line of centres, u + u' is half a tooth in every mesh, at every moment.
        """
        line = atan2(at[1] - self.at[1], at[0] - self.at[0]) / (2 * pi)
        mine = self.teeth * (line - self.phase)
        phase = line + 0.5 - (0.5 - mine) / teeth
        return _Turning(name, teeth, at, phase % 1.0, -self.rate * self.teeth / teeth)


def motion(design: Design, solution: SolutionAnswer) -> Motion:
    """How a solution of a design turns. Lengths are millimetres, whatever the design's unit."""
    drawn = _Drawn(design, solution)
    rings = drawn.rings()
    for index, link in enumerate(solution.links):
        drawn.link(index, link)
    if solution.drive is not None:
        drawn.drive(solution.drive)
    return Motion(
        schema="ringwright.motion/1",
        title=design.title,
        unit="mm",
        placed=design.fit.directions is not None,
        one_arbor=design.arbors.reverted,
        teeth_made_up=not design.rings.addendum,
        front="inner" if design.fit.plate == "outer" else "outer",
        envelope=max(
            max(ring.tip_radius for ring in rings),
            *(sqrt(gear.x**2 + gear.y**2) + gear.tip_radius for gear in drawn.gears),
        ),
        reference=_reference(design, solution, rings[0].name),
        rings=rings,
        gears=drawn.gears,
        meshes=drawn.meshes,
        supports=held_in(drawn.design, solution),
        edge=edge_of(drawn.design),
        rollers=rollers_of(drawn.design, solution),
        post=float(drawn.design.fit.post_radius),
    )


def rate_text(rate: Fraction) -> Rate:
    """A rate as it stands in the document."""
    return str(rate.numerator), str(rate.denominator)


def _reference(design: Design, solution: SolutionAnswer, name: str) -> Reference:
    time = common_time(design, solution)
    return Reference(
        ring=0,
        name=name,
        time=fraction_text(time) if design.reference == "first" else f"{float(time):.15g}",
        unit=unit_of(design.bodies),
        seconds=None if solution.drive is None else solution.drive.ring_seconds[0],
    )


def _look(look: Look | None) -> LookMotion | None:
    if look is None:
        return None
    tooth = [(round(x, 3), round(y, 3)) for x, y in look.tooth]
    return LookMotion(toothing=look.toothing, tooth=tooth, inside=look.inside, pin=look.pin)


class _Drawn:
    """Everything that turns, gathered ring by ring and link by link."""

    def __init__(self, design: Design, solution: SolutionAnswer) -> None:
        self.design, self.solution = made_as(design, solution), solution
        design = self.design
        self.pitch: Pitch = design.rings.pitch
        tooth = self.pitch.radius_mm(1) * 2 * pi
        self.addendum = float(design.rings.addendum) or tooth / 3
        self.rim = float(design.rings.rim) or tooth / 2
        self.looks = looks_of(design, train_of(design, solution)) if design.as_made else {}
        self.roles = form_of(design).roles(design.wire.third)
        first = solution.rings[0]
        self.turning = [
            _Turning(
                f"ring-{index}",
                ring.teeth,
                (0.0, 0.0),
                START_TURNS,
                Fraction(*first.ratio) / Fraction(*ring.ratio) * (-1 if ring.sense == "reverse" else 1),
            )
            for index, ring in enumerate(solution.rings)
        ]
        self.gears: list[GearMotion] = []
        self.meshes: list[tuple[str, str]] = []

    def rings(self) -> list[RingMotion]:
        """The rings, innermost first."""
        bodies = iter(self.design.bodies)
        time = common_time(self.design, self.solution)
        found = []
        for index, (ring, turning) in enumerate(zip(self.solution.rings, self.turning, strict=True)):
            radius = self.pitch.radius_mm(ring.teeth)
            look = self.looks.get(("ring", ring.teeth, self.roles.ring))
            found.append(
                RingMotion(
                    id=turning.id,
                    index=index,
                    name=ring.name,
                    blank=ring.blank,
                    teeth=ring.teeth,
                    level=index,
                    pitch_radius=radius,
                    tip_radius=radius + self.addendum if look is None else look.tip,
                    inner_radius=max(radius - self.rim, 0.0),
                    rate=rate_text(turning.rate),
                    rate_float=float(turning.rate),
                    phase_turns=turning.phase,
                    body=None if ring.blank else _body(next(bodies), ring, turning.rate, time),
                    look=_look(look),
                )
            )
        return found

    def link(self, index: int, link: LinkAnswer) -> None:
        """Wheel, pinion and third gears of a link."""
        kind = KIND_BY_NAME[link.kind]
        for side, teeth, thirds in (
            (0, link.wheel, link.thirds[: kind.wheel_thirds]),
            (1, link.pinion, link.thirds[kind.wheel_thirds :]),
        ):
            at, third_at = self._spots(index, link, side, bool(thirds))
            ring = self.turning[index + side]
            self._chain(ring, ("wheel", "pinion")[side], index, index + side, (*thirds, teeth), (*third_at, at))

    def drive(self, drive: DriveAnswer) -> None:
        """The motor's pinion and its third gear."""
        spots = [_spot(place) for place in (*drive.third_at, drive.motor)]
        self._chain(self.turning[drive.ring], "motor", None, drive.ring, (*drive.thirds, drive.pinion), tuple(spots))

    def _chain(
        self,
        ring: _Turning,
        last: str,
        link: int | None,
        level: int,
        teeth: tuple[int, ...],
        spots: tuple[Point, ...],
    ) -> None:
        """Gears from a ring on, each in mesh with the one before; all but the last are third gears."""
        before = ring
        name = last if link is None else f"{last}-{link}"
        for place, (many, at) in enumerate(zip(teeth, spots, strict=True)):
            third = place < len(teeth) - 1
            gear = before.meshed(f"third-{name}" if third else name, many, at)
            radius = self.pitch.radius_mm(many)
            self.meshes.append((before.id, gear.id))
            toothing = self.roles.third if third else self.roles.behind_thirds(len(teeth) - 1)
            look = self.looks.get(("gear", many, toothing))
            self.gears.append(
                GearMotion(
                    id=gear.id,
                    part="third" if third else last,
                    link=link,
                    teeth=many,
                    level=level,
                    x=at[0],
                    y=at[1],
                    pitch_radius=radius,
                    tip_radius=radius + self.addendum if look is None else look.tip,
                    rate=rate_text(gear.rate),
                    rate_float=float(gear.rate),
                    phase_turns=gear.phase,
                    look=_look(look),
                )
            )
            before = gear

    def _spots(self, index: int, link: LinkAnswer, side: int, third: bool) -> tuple[Point, list[Point]]:
        """Where a side's gear and its third gear stand: as the answer says, or made up in one direction for each link.

        Where radii were computed they hold; where ratios alone were asked for, each gear just meets its ring.
        """
        if self.design.fit.directions is not None:
            assert link.arbor is not None
            thirds = [_spot(place) for place in link.third_at]
            return _spot(link.arbor), ([thirds[0 if side == 0 else -1]] if third else [])
        turn = (90 + 45 + _APART * index) % 360 / 180 * pi
        ring, teeth = self.solution.rings[index + side].teeth, (link.wheel, link.pinion)[side]
        if not third:
            radius = self.pitch.radius_mm(ring + teeth)
            return _polar(radius, turn), []
        count = link.thirds[0 if side == 0 else -1]
        beside, far = self.pitch.radius_mm(ring + count), self.pitch.radius_mm(count + teeth)
        radius = beside + far if link.arbor is None else link.arbor.radius_mm
        cosine = (beside**2 + radius**2 - far**2) / (2 * beside * radius)
        lean = atan2(sqrt(max(1 - cosine**2, 0.0)), cosine) * (1 if side == 0 else -1)
        return _polar(radius, turn), [_polar(beside, turn + lean)]


def _body(body: Body, ring: RingAnswer, rate: Fraction, time: Fraction) -> BodyMotion:
    """The true motion of a body on a ring that turns at `rate`; a turn of ring 0 stands for `time`."""
    taken = time / abs(rate)
    true = time / min(max(taken, body.low), body.high) * (1 if rate > 0 else -1)
    low, high = fraction_text(body.low), fraction_text(body.high)
    return BodyMotion(
        name=body.name,
        period=low if low == high else f"{low}..{high}",
        true_rate=rate_text(true),
        true_rate_float=float(true),
        error_pct=ring.error_pct or 0.0,
        period_error_pct=ring.period_error_pct or 0.0,
    )


def _spot(place: PlaceAnswer) -> Point:
    assert place.x_mm is not None and place.y_mm is not None
    return place.x_mm, place.y_mm


def _polar(radius: float, turn: float) -> Point:
    return radius * cos(turn), radius * sin(turn)
