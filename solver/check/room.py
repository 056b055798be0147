"""The judge of places: measures every distance that matters in a placed train, on its own.

Everything is taken from the spots as they stand: whole micrometres. Squares of distances are then exact Fractions,
pitch radii are fenced between two, and a distance counts as kept only where it surely is.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations
from math import atan2, cos, degrees, hypot, pi, radians, sin, sqrt

from solver.check.exact_pi import PI_HIGH, PI_LOW
from solver.check.lengths import length_told
from solver.check.made import reach_of, rim_of
from solver.check.thirds import Third, drive_thirds, thirds_of
from solver.design.design import Design
from solver.design.links import KIND_BY_NAME
from solver.design.train import LinkPlace, Placement, Spot, Train

ROUNDED_MM = 0.0015  # spots are rounded to the micrometre, two of them to 1.42 of it
ANGLES = 72  # directions in which a roller may stand


@dataclass(frozen=True)
class Check:
    """One distance that was measured: its rule, between what, whether it is kept, and the room that is left [mm],
    negative where it is missing (degrees for `roller` where `degrees` is true)."""

    rule: str
    where: str
    against: str
    kept: bool
    margin: float
    degrees: bool = False

    def text(self, design: Design) -> str:
        """What is wrong, for a maker, in the design's unit."""
        if not self.margin:
            return self.against
        short = f"{-self.margin:.3f} degrees" if self.degrees else length_told(design, -self.margin)
        return f"{self.against}: {short} too little"


@dataclass(frozen=True)
class _Span:
    """A length in mm that is known to lie between two Fractions."""

    low: Fraction
    high: Fraction

    def __add__(self, other: Fraction) -> _Span:
        return _Span(self.low + other, self.high + other)


@dataclass(frozen=True)
class _Round:
    """A round thing on one level: whose it is, what it is, where, and how large (tip circle). role: of a gear, as
    `made.reach_of` takes it."""

    owner: str
    name: str
    level: int
    spot: Spot
    radius: _Span
    role: str = ""


@dataclass(frozen=True)
class _Post:
    owner: str
    name: str
    passes: range
    spot: Spot


@dataclass(frozen=True)
class _Mesh:
    level: int
    direction: float
    owner: str


class Room:
    """Everything that stands in a placed train of a design."""

    def __init__(self, design: Design, train: Train) -> None:
        assert train.placement is not None
        self.design, self.train, self.placement = design, train, train.placement
        self.fit, self.rings = design.fit, design.rings
        self.count = len(train.rings)
        self.rim = rim_of(design)
        self.gears: list[_Round] = []
        self.posts: list[_Post] = []
        self.meshes: list[_Mesh] = []
        for index, (link, place) in enumerate(zip(train.links, self.placement.links, strict=True)):
            kind = KIND_BY_NAME[link.kind]
            thirds = list(zip(link.thirds, place.thirds, strict=True))
            self._stand_up(
                f"link {index}",
                place,
                [
                    (index, "wheel", link.wheel, thirds[: kind.wheel_thirds]),
                    (index + 1, "pinion", link.pinion, thirds[kind.wheel_thirds :]),
                ],
            )
        drive = self.placement.drive
        if drive is not None:
            thirds = list(zip(drive.thirds, drive.at.thirds, strict=True))
            self._stand_up("drive", drive.at, [(drive.ring, "motor pinion", drive.pinion, thirds)])
        self.rollers: list[_Round] = []
        for level, rollers in enumerate(self.placement.rollers):
            assert self.fit.rollers is not None
            radius = _Span(self.fit.rollers.radius, self.fit.rollers.radius)
            for number, roller in enumerate(rollers):
                self.rollers.append(_Round(f"ring {level}", f"roller {number + 1}", level, roller.spot, radius))
                self._post(f"ring {level}", f"roller {number + 1}", level, level, roller.spot)

    def _stand_up(
        self, owner: str, place: LinkPlace, sides: list[tuple[int, str, int, list[tuple[int, Spot]]]]
    ) -> None:
        levels = [level for level, _, _, _ in sides]
        self._post(owner, "arbor", min(levels), max(levels), place.arbor)
        for level, name, teeth, thirds in sides:
            role = "behind" if thirds else "gear"
            self.gears.append(_Round(owner, name, level, place.arbor, self.tip(role, teeth), role))
            for third, spot in thirds:
                tip = self.tip("third gear", third)
                self.gears.append(_Round(owner, "third gear", level, spot, tip, "third gear"))
                self._post(owner, "third gear", level, level, spot)
                self.meshes.append(_Mesh(level, degrees(atan2(spot[1], spot[0])), owner))
            if not thirds:
                self.meshes.append(_Mesh(level, float(place.direction), owner))

    def _post(self, owner: str, name: str, bottom: int, top: int, spot: Spot) -> None:
        passes = {"inner": range(bottom), "outer": range(top + 1, self.count)}.get(self.fit.plate, range(0))
        if passes:
            self.posts.append(_Post(owner, name, passes, spot))

    # -- lengths -----------------------------------------------------------------------------------------------------

    def pitch_radius(self, teeth: int) -> _Span:
        """Pitch radius [mm] of that many teeth."""
        pitch = self.rings.pitch
        if pitch.is_module:
            return _Span(teeth * pitch.value / 2, teeth * pitch.value / 2)
        return _Span(teeth * pitch.value / (2 * PI_HIGH), teeth * pitch.value / (2 * PI_LOW))

    def tip(self, role: str, teeth: int) -> _Span:
        """How far a gear reaches from its middle [mm]; its role as `made.reach_of` takes it."""
        return self.pitch_radius(teeth) + reach_of(self.design, role, teeth)

    def ring_tip(self, ring: int) -> _Span:
        """How far a ring reaches from the main axis [mm]."""
        return self.tip("ring", self.train.rings[ring])

    def hole(self, ring: int) -> _Span:
        """How far a ring reaches inwards [mm]."""
        return self.pitch_radius(self.train.rings[ring]) + -self.rim

    def stand(self, ring: int) -> _Span:
        """Radius [mm] of the circle that the stand on a ring sweeps: the middle of the rim."""
        return self.pitch_radius(self.train.rings[ring]) + -self.rim / 2

    def stand_passes(self, ring: int) -> range:
        """The levels that the stand on a ring passes."""
        return {"inner": range(ring), "outer": range(ring + 1, self.count)}.get(self.fit.stands, range(0))

    def nominal(self, teeth: int) -> float:
        """Pitch radius [mm], for what is only near."""
        return tooth_mm(self.design) * teeth

    # -- checks ------------------------------------------------------------------------------------------------------

    def checks(self) -> Iterator[Check]:
        """Every distance that matters, kept or not."""
        yield from self._frame()
        yield from self._neighbours()
        yield from self._posts()
        yield from self._stands()
        if self.fit.rollers is not None:
            yield from self._rollers()

    def _frame(self) -> Iterator[Check]:
        frame = self.fit.frame
        if frame is None:
            return
        if frame.depth is not None:
            over = frame.depth - self.count * self.rings.level_spacing
            yield Check("frame", "train", f"depth for {self.count} levels", over >= 0, float(over))
        rounds = [
            _Round(f"ring {level}", "tip circle", level, (0, 0), self.ring_tip(level)) for level in range(self.count)
        ]
        for one in [*rounds, *self.gears]:
            x, y = (Fraction(abs(value), 1000) for value in one.spot)
            if frame.round:
                most = frame.width / 2 - self.fit.clearance - one.radius.high
                kept = most >= 0 and x * x + y * y <= most * most
                margin = float(most) - hypot(x, y)
            else:
                left = min(frame.width / 2 - x, frame.height / 2 - y) - self.fit.clearance - one.radius.high
                kept, margin = left >= 0, float(left)
            yield Check("frame", one.owner, f"{one.name} to the frame", kept, margin)

    def _neighbours(self) -> Iterator[Check]:
        for one, other in combinations(self.gears, 2):
            if one.level == other.level and one.owner != other.owner:
                yield self._apart("neighbour", one, other)

    def _posts(self) -> Iterator[Check]:
        rod = _Span(self.fit.post_radius, self.fit.post_radius)
        for index, post in enumerate(self.posts):
            for level in post.passes:
                here = _Round(post.owner, f"post of {post.name}", level, post.spot, rod)
                yield self._beside_ring("post", here, level)
                for one in (*self.gears, *self.rollers):
                    if one.level == level:
                        yield self._apart("post", here, one)
            for other in self.posts[:index]:
                shared = set(post.passes) & set(other.passes)
                if shared:
                    pair = [
                        _Round(some.owner, f"post of {some.name}", min(shared), some.spot, rod)
                        for some in (other, post)
                    ]
                    yield self._apart("post", *pair)

    def _stands(self) -> Iterator[Check]:
        rod, clearance = self.fit.post_radius, self.fit.clearance
        for index, ring in enumerate(self.train.seats):
            passed = self.stand_passes(ring)
            circle, owner = self.stand(ring), f"stand on ring {ring}"
            for level in passed:
                inside = self.hole(level).low - circle.high - rod - clearance
                outside = circle.low - self.ring_tip(level).high - rod - clearance
                # Both radii are whole teeth of one pitch: their difference is exact but for pi.
                yield Check("stand", owner, f"ring {level}", max(inside, outside) >= 0, float(max(inside, outside)))
                for one in (*self.gears, *self.rollers):
                    if one.level == level:
                        yield self._beside_circle(owner, circle, one, one.radius)
            for post in self.posts:
                shared = set(post.passes) & set(passed)
                if shared:
                    here = _Round(post.owner, f"post of {post.name}", min(shared), post.spot, _Span(rod, rod))
                    yield self._beside_circle(owner, circle, here, here.radius)
            for other in self.train.seats[:index]:
                if set(passed) & set(self.stand_passes(other)):
                    apart = circle.low - self.stand(other).high - 2 * rod - clearance
                    yield Check("stand", owner, f"stand on ring {other}", apart >= 0, float(apart))

    def _rollers(self) -> Iterator[Check]:
        rollers = self.fit.rollers
        assert rollers is not None
        for level in range(self.count):
            here = [one for one in self.rollers if one.level == level]
            places = self.placement.rollers[level]
            owner = f"ring {level}"
            allowed = len(here) in rollers.count
            yield Check("roller", owner, f"{len(here)} rollers, {_numbers(rollers.count)} allowed", allowed, 0.0)
            for one, other in combinations(here, 2):
                yield self._apart("roller", one, other)
            for one in here:
                for gear in self.gears:
                    if gear.level == level:
                        yield self._apart("roller", one, gear)
            turns = sorted(place.direction for place in places)
            if not turns:
                continue
            gaps = [after - before for before, after in zip(turns, [*turns[1:], turns[0] + 360], strict=True)]
            widest = max(gaps)
            yield Check("roller", owner, "gap between rollers", widest < 180, float(180 - widest), True)
            for mesh in self.meshes:
                if mesh.level == level:
                    nearest = min(abs((float(turn) - mesh.direction + 180) % 360 - 180) for turn in turns)
                    margin = float(rollers.reach) - nearest
                    yield Check(
                        "roller", owner, f"nearest roller to the mesh of {mesh.owner}", margin >= 0, margin, True
                    )

    # -- measuring ---------------------------------------------------------------------------------------------------

    def _apart(self, rule: str, one: _Round, other: _Round) -> Check:
        need = one.radius.high + other.radius.high + self.fit.clearance
        square = _square(one.spot, other.spot)
        against = f"{one.name} to {other.name} of {other.owner}"
        return Check(rule, one.owner, against, square >= need * need, sqrt(square) - float(need))

    def _beside_ring(self, rule: str, one: _Round, level: int) -> Check:
        square = _square(one.spot, (0, 0))
        outside = self.ring_tip(level).high + one.radius.high + self.fit.clearance
        inside = self.hole(level).low - one.radius.high - self.fit.clearance
        kept = square >= outside * outside or (inside >= 0 and square <= inside * inside)
        margin = max(sqrt(square) - float(outside), float(inside) - sqrt(square))
        return Check(rule, one.owner, f"{one.name} to ring {level}", kept, margin)

    def _beside_circle(self, owner: str, circle: _Span, one: _Round, radius: _Span) -> Check:
        square = _square(one.spot, (0, 0))
        room = radius.high + self.fit.post_radius + self.fit.clearance
        outside, inside = circle.high + room, circle.low - room
        kept = square >= outside * outside or (inside >= 0 and square <= inside * inside)
        margin = max(sqrt(square) - float(outside), float(inside) - sqrt(square))
        return Check("stand", owner, f"{one.name} of {one.owner}", kept, margin)

    # -- whether the spots are what they are said to be ----------------------------------------------------------------

    def places(self) -> Iterator[tuple[str, str, str]]:
        """(rule, where, what is wrong) for spots that are not where the gears' teeth put them."""
        directions = self.fit.directions or ()
        for index, place in enumerate(self.placement.links):
            yield from self._place(f"link {index}", place, thirds_of(self.train, index))
            if place.direction not in directions:
                yield "direction", f"link {index}", f"{float(place.direction):g} degrees is not among fit.directions"
        drive = self.placement.drive
        if drive is not None:
            between = drive_thirds(self.train, drive.ring, drive.pinion, drive.thirds)
            yield from self._place("drive", drive.at, between)
            if drive.at.direction not in directions:
                yield "direction", "drive", f"{float(drive.at.direction):g} degrees is not among fit.directions"
        yield from off_grid(self.placement)
        rollers = self.fit.rollers
        for level, some in enumerate(self.placement.rollers):
            assert rollers is not None
            far = self.nominal(self.train.rings[level]) - float(self.rim + rollers.radius)
            for roller in some:
                if far <= 0:
                    yield (
                        "roller",
                        f"ring {level}",
                        f"its hole is {length_told(self.design, -far)} too small for a roller",
                    )
                elif _off(roller.spot, far, roller.direction) > ROUNDED_MM:
                    yield "roller", f"ring {level}", "a roller does not stand on its ring's rim"

    def _place(self, owner: str, place: LinkPlace, thirds: Iterable[Third]) -> Iterator[tuple[str, str, str]]:
        off = _off(place.arbor, self.nominal(place.radius), place.direction)
        if off > ROUNDED_MM:
            yield (
                "direction",
                owner,
                f"its arbor stands {length_told(self.design, off)} from where direction and radius put it",
            )
        for third, spot in zip(thirds, place.thirds, strict=True):
            for far, due, name in (
                (sqrt(_square(spot, (0, 0))), self.nominal(third.ring + third.teeth), "the main axis"),
                (sqrt(_square(spot, place.arbor)), self.nominal(third.teeth + third.gear), "its arbor"),
            ):
                if abs(far - due) > ROUNDED_MM:
                    stands, should = length_told(self.design, far), length_told(self.design, due)
                    yield "third", owner, f"a third gear stands {stands} from {name}, {should} are due"


def off_grid(placement: Placement) -> Iterator[tuple[str, str, str]]:
    """(rule, where, what is wrong) for rollers that stand between the directions in which the search has them."""
    for level, rollers in enumerate(placement.rollers):
        for roller in rollers:
            if (roller.direction * ANGLES / 360).denominator != 1:
                yield "roller", f"ring {level}", f"{float(roller.direction):g} degrees is not on the grid"


def tooth_mm(design: Design) -> float:
    """Pitch radius [mm] for each tooth, for what is only near or shown."""
    pitch = design.rings.pitch
    return float(pitch.value) / (2 if pitch.is_module else 2 * pi)


def _square(one: Spot, other: Spot) -> Fraction:
    return Fraction((one[0] - other[0]) ** 2 + (one[1] - other[1]) ** 2, 1_000_000)


def _off(spot: Spot, far: float, direction: Fraction) -> float:
    turn = radians(float(direction))
    return hypot(spot[0] / 1000 - far * cos(turn), spot[1] / 1000 - far * sin(turn))


def _numbers(values: tuple[int, ...]) -> str:
    return " or ".join(map(str, values))
