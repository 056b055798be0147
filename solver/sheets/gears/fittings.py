"""Where bought parts sit: bearings of arbors, third gears and rollers, screws of posts, and grooves of rollers [mm].

An arbor's bearings sit in the ends of its sleeve where that is thick enough, else in the hubs of wheel and pinion,
bored from outside, with the sleeve as much shorter. A third gear's hub and a roller are bored through for the bearing's
outside. Where no bearing goes with the post, the post runs in the bore itself, reamed H7 for a post turned to f7.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from math import ceil

from solver.design.design import Design
from solver.design.errors import single
from solver.design.hardware import PLAIN, Hardware, OwnBearing
from solver.forms.form import WALL, Remark, Sizes
from solver.search.levels import ROLLER_WIDTH
from solver.sheets.hardware.registry import BallBearing, ScrewHead, ScrewSize, bearings, screws

SAME = 0.02  # mm between a bearing's bore and a post that it goes on (common practice, no source)
GRIP = 0.5  # mm that a hub is longer beside its bearing than the set screw is thick (common practice, no source)
SHOULDER = 0.5  # mm that a post is thicker than the hole of the screw in its end (common practice, no source)
THREAD = 2 / 3  # of a post's diameter, the thickest screw in its end (common practice, no source)
MOST_THREAD = 3 / 4  # of it, beyond which no thread is cut in its end at all (common practice, no source)
GROOVE_PLAY = 0.3  # mm that a groove is wider than its ring unless told (common practice, no source)
GROOVE_DEEP = 0.6  # of the loop or plate: how high flanges stand unless told (common practice, no source)
# Up to which diameter [mm] how much play H7 with f7 has, least and most [mm] (ISO 286-2, from memory).
_H7_F7 = ((3.0, 0.006, 0.026), (6.0, 0.010, 0.034), (10.0, 0.013, 0.043), (18.0, 0.016, 0.052), (30.0, 0.020, 0.062))


@dataclass(frozen=True)
class Seat:
    """Where a bearing sits: in a "sleeve", "hub" or "roller", bored so wide and so deep from each outer face (0: bored
    through); or "" where the post runs in the bore itself."""

    where: str
    bore_mm: float
    deep_mm: float = 0.0


@dataclass(frozen=True)
class RollerGroove:
    """A roller as it is bought or turned [mm]: groove, thickness and diameter of its flanges, width over all."""

    groove_mm: float
    deep_mm: float
    flange_mm: float
    over_mm: float
    width_mm: float


@dataclass(frozen=True)
class Fittings:
    """bearing: in all seats that have one; None: no ball bearings. arbor, third, roller: their seats; None where there
    are none. screw and its head: of posts and rollers, and the set screws' size. washer: whether one goes below the
    head of a roller's screw. groove: of the rollers. play_mm: least and most of a post that runs in
    its bore. shouldered: whether posts are thick enough to stand beside the hole of the screw that holds them, else
    they are soldered in; threaded: whether they are to have a thread in their end, else collars hold what turns on
    them."""

    bearing: BallBearing | None
    arbor: Seat | None
    third: Seat | None
    roller: Seat | None
    screw: ScrewSize
    head: ScrewHead
    washer: bool
    groove: RollerGroove | None
    play_mm: tuple[float, float]
    shouldered: bool
    threaded: bool
    remarks: tuple[Remark, ...]

    def play_told(self, unit: str) -> str:
        """Least and most play of a post in its bore, in words."""
        low, high = self.play_mm
        return f"{low:g} to {high:g} mm" if unit == "mm" else f"{low / 25.4:.4f} to {high / 25.4:.4f} in"

    def bearing_told(self, told: Callable[[float], str]) -> str:
        """Its sizes in words; told: how a length [mm] is told. "" without one."""
        one = self.bearing
        if one is None:
            return ""
        flange = f", flange {told(one.flange)}" if one.flange else ""
        return f"bore {told(one.bore)}, outside {told(one.outside)}, width {told(one.width)}{flange}"


@dataclass(frozen=True)
class _Room:
    """What there is for bearings [mm]: the shortest hub of a wheel or pinion, and of a third gear; a roller's diameter
    in its groove and its width; 0 where there are none."""

    hub: float
    third: float
    roller: float
    roller_width: float


def fittings_of(
    design: Design,
    sizes: Sizes,
    hubs: Sequence[float],
    thirds: Sequence[float],
    roller_width: float,
    rings: Sequence[tuple[float, float]],
) -> Fittings:
    """What is bought for a train and where it sits. hubs, thirds: lengths [mm] of the hubs of wheels and pinions,
    and of third gears. roller_width: as the levels were judged, 0 without rollers. rings: how thick
    each ring is, and how far its tooth wires stay from its inner edge [mm]. Raises DesignError for a bearing
    of the file's own choice that has no room."""
    hardware, rollers = design.hardware or Hardware(), design.fit.rollers
    screw = _screw(hardware, sizes)
    thick = max((thick for thick, _ in rings), default=0.0)
    groove = _groove(hardware, float(rollers.radius), roller_width, thick) if rollers is not None else None
    room = _Room(
        min(hubs) if hubs and design.wire.bearings else 0.0,
        min(thirds, default=0.0),
        2 * float(rollers.radius) if rollers is not None else 0.0,
        groove.width_mm if groove is not None else 0.0,
    )
    fit = _Fit(design, sizes, screw, room)
    bearing = fit.chosen(hardware)
    remarks = [*fit.remarks(hardware, bearing)]
    head = screw.head(hardware.head if any(one.kind == hardware.head for one in screw.heads) else "pan")
    washer, told = _cap(sizes, screw, head, bearing if fit.in_roller(bearing) else None, groove)
    remarks += told
    threaded = screw.major <= MOST_THREAD * sizes.post_mm + 1e-9
    shouldered = threaded and screw.clearance + SHOULDER <= sizes.post_mm + 1e-9
    remarks += _unscrewed(design, sizes, screw, shouldered, threaded)
    if groove is not None:
        remarks += _groove_remarks(sizes, groove, roller_width, rings)
    deep = ceil(design.wire.bearings / 2) * bearing.width if bearing is not None else 0.0
    plain = Seat("", sizes.post_mm)
    arbor, third, roller = plain, plain, plain
    if bearing is not None:
        if fit.in_sleeve(bearing):
            arbor = Seat("sleeve", bearing.outside, deep)
        elif fit.in_hub(bearing):
            arbor = Seat("hub", bearing.outside, deep)
        third = Seat("hub", bearing.outside) if fit.in_third(bearing) else plain
        roller = Seat("roller", bearing.outside) if fit.in_roller(bearing) else plain
    used = any(seat.where for seat in (arbor, third, roller))
    return Fittings(
        bearing if used else None,
        arbor if hubs else None,
        third if thirds else None,
        roller if rollers is not None else None,
        screw,
        head,
        washer,
        groove,
        next(((low, high) for most, low, high in _H7_F7 if sizes.post_mm <= most), _H7_F7[-1][1:]),
        shouldered,
        threaded,
        tuple(remarks),
    )


class _Fit:
    """Which bearings have room."""

    def __init__(self, design: Design, sizes: Sizes, screw: ScrewSize, room: _Room) -> None:
        self.design, self.sizes, self.room = design, sizes, room
        self.deep = ceil(design.wire.bearings / 2)
        self.grip = (screw.major if design.wire.set_screws else 0.0) + GRIP

    def in_sleeve(self, one: BallBearing | None) -> bool:
        return one is not None and bool(self.room.hub) and one.outside + WALL <= self.sizes.arbor_mm + 1e-9

    def in_hub(self, one: BallBearing | None) -> bool:
        if one is None or not self.room.hub:
            return False
        long = self.deep * one.width + self.grip <= self.room.hub + 1e-9
        return long and one.outside + WALL <= self.sizes.hub_mm + 1e-9

    def on_arbor(self, one: BallBearing | None) -> bool:
        return self.in_sleeve(one) or self.in_hub(one)

    def in_third(self, one: BallBearing | None) -> bool:
        wide = one is not None and one.outside + WALL <= self.sizes.hub_mm + 1e-9
        return one is not None and wide and one.width <= self.room.third + 1e-9

    def in_roller(self, one: BallBearing | None) -> bool:
        wide = one is not None and one.outside + WALL <= self.room.roller + 1e-9
        return one is not None and wide and one.width <= self.room.roller_width + 1e-9

    def _wanted(self) -> tuple[bool, bool, bool]:
        return bool(self.room.hub), bool(self.room.third), bool(self.room.roller)

    def _fits(self, one: BallBearing) -> tuple[bool, bool, bool]:
        return self.on_arbor(one), self.in_third(one), self.in_roller(one)

    def chosen(self, hardware: Hardware) -> BallBearing | None:
        """The file's own, or the smallest that has room in most seats, shielded before open. Raises DesignError for the
        file's own where arbors or third gears have no room for it; rollers then do without."""
        if hardware.bearing == PLAIN:
            return None
        if hardware.bearing is not None:
            own = _own(hardware.bearing)
            for wanted, fits, where in zip(self._wanted(), self._fits(own), _SEATS, strict=True):
                if wanted and not fits and where != _SEATS[2]:
                    raise single("hardware.bearing", own.name, f"has no room in {where}: {self._need(own, where)}")
            return own
        some = [one for one in bearings().values() if not one.flange and abs(one.bore - self.sizes.post_mm) <= SAME]
        some.sort(key=lambda one: (tuple(not fits for fits in self._fits(one)), one.outside, not one.shielded))
        return some[0] if some and any(self._fits(some[0])) else None

    def _need(self, one: BallBearing, where: str) -> str:
        told = self.sizes.told
        if where == _SEATS[2]:
            return f"rollers need {told(one.outside + WALL)} across the groove and {told(one.width)} of width"
        if one.outside + WALL > self.sizes.hub_mm + 1e-9:
            return f"hubs need {told(one.outside + WALL)}; set wire.hub_diameter"
        deep = self.deep * one.width + self.grip if where == _SEATS[0] else one.width
        return f"hubs need to be {told(deep)} long; set wire.arbor_diameter to that"

    def remarks(self, hardware: Hardware, bearing: BallBearing | None) -> Iterator[Remark]:
        """What goes without a ball bearing though it could have one, and what would do."""
        if hardware.bearing == PLAIN:
            return
        fits = (False, False, False) if bearing is None else self._fits(bearing)
        without = [where for where, want, has in zip(_SEATS, self._wanted(), fits, strict=True) if want and not has]
        if not without:
            return
        post = self.sizes.told(self.sizes.post_mm)
        near = [one for one in bearings().values() if not one.flange and abs(one.bore - self.sizes.post_mm) <= SAME]
        if bearing is not None and hardware.bearing is not None:
            why = f"{bearing.name} has no room: {self._need(bearing, without[0])}"
        elif near:
            one = min(near, key=lambda one: (one.outside, one.width))
            why = f"{one.name}, the smallest bearing for posts of {post}, has no room: {self._need(one, without[0])}"
        else:
            some = self._would_do(without == [_SEATS[2]])
            would = ", ".join(f"{self.sizes.told(bore)} ({name})" for bore, name in some)
            why = f"no ball bearing of the list has a bore of {post}"
            why += f"; posts of {would} would do: fit.post_radius is half of that" if would else ""
        yield Remark(" and ".join(without), f"{why}. Here the post runs in the bore itself")

    def _would_do(self, rollers: bool) -> Iterator[tuple[float, str]]:
        """Posts [mm] with which a bearing has room, with hubs as thick as these would then be, and the bearing; in
        rollers, or in hubs."""
        wire, seen = self.design.wire, set[float]()
        for one in sorted(bearings().values(), key=lambda one: (one.bore, one.outside, one.width)):
            arbor = one.bore + WALL if wire.arbor_diameter is None else float(wire.arbor_diameter)
            hub = arbor + 2 * WALL if wire.hub_diameter is None else float(wire.hub_diameter)
            wide = not one.flange and one.outside + WALL <= hub + 1e-9 and one.bore < arbor
            if rollers:
                wide, deep = not one.flange and one.outside + WALL <= self.room.roller, 0.0
            else:
                deep = self.deep * one.width + self.grip
            if wide and deep <= arbor + 1e-9 and one.bore not in seen:
                seen.add(one.bore)
                yield one.bore, one.name


_SEATS = ("arbors", "third gears", "rollers")


def _own(told: str | OwnBearing) -> BallBearing:
    if isinstance(told, str):
        return bearings()[told]
    flange = 0.0 if told.flange is None else float(told.flange)
    return BallBearing(
        "own", float(told.bore), float(told.outside), float(told.width), flange, source="the design file"
    )


def _unscrewed(design: Design, sizes: Sizes, screw: ScrewSize, shouldered: bool, threaded: bool) -> Iterator[Remark]:
    """What is said where posts cannot have the screws that they should."""
    post = sizes.told(sizes.post_mm)
    if not threaded and (design.fit.rollers is not None or not design.armed):
        why = f"is too thick for a thread in the end of a post of {post}"
        held = "they are soldered in, and " if not design.armed else ""
        yield Remark(f"screw {screw.name}", f"{why}: {held}rollers are held by collars; or thicken posts")
    elif not shouldered and not design.armed:
        why = f"its clearance hole, {sizes.told(screw.clearance)}, leaves a post of {post} no shoulder to stand on"
        yield Remark(f"screw {screw.name}", f"{why}: posts are soldered in; or thicken them")


def _screw(hardware: Hardware, sizes: Sizes) -> ScrewSize:
    """The file's own, or the thickest for a post of that diameter in the file's unit; the thinnest where none is."""
    if hardware.screw is not None:
        return screws()[hardware.screw]
    some = [one for name, one in screws().items() if name.startswith("M") is (sizes.units == "mm")]
    fit = [
        one
        for one in some
        if one.major <= THREAD * sizes.post_mm + 1e-9 and one.clearance + SHOULDER <= sizes.post_mm + 1e-9
    ]
    return (fit or some[:1])[-1]


def _cap(
    sizes: Sizes, screw: ScrewSize, head: ScrewHead, bearing: BallBearing | None, groove: RollerGroove | None
) -> tuple[bool, list[Remark]]:
    """Whether a washer goes below a roller's screw: what holds the roller is larger than the post, and no larger than
    the middle of the bearing, so that it does not rub on what turns (common practice, no source)."""
    if groove is None:
        return True, []
    most = groove.over_mm if bearing is None else (bearing.bore + bearing.outside) / 2
    for washer, wide in ((True, screw.washer.outside), (False, head.diameter)):
        if sizes.post_mm < wide <= most + 1e-9:
            return washer, []
    told = f"neither its head, {sizes.told(head.diameter)}, nor its washer, {sizes.told(screw.washer.outside)}"
    why = f"{told}, is larger than the post and no larger than {sizes.told(most)}: put a narrow collar below it"
    return False, [Remark(f"screw {screw.name} of a roller", why)]


def _groove(hardware: Hardware, radius: float, width: float, thick: float) -> RollerGroove:
    """The groove of a roller of that radius in it [mm], and its flanges, which take the rest of its width. A ring of
    wire is as thick as its loop and the tooth wire beside it, and both run in the groove."""
    own, held = hardware.roller, width / ROLLER_WIDTH
    groove = thick + GROOVE_PLAY if own.groove_width is None else float(own.groove_width)
    deep = GROOVE_DEEP * held if own.groove_depth is None else float(own.groove_depth)
    flange = max((width - groove) / 2, held / 4) if own.flange is None else float(own.flange)
    return RollerGroove(groove, deep, flange, 2 * (radius + deep), groove + 2 * flange)


def _groove_remarks(
    sizes: Sizes, groove: RollerGroove, judged: float, rings: Sequence[tuple[float, float]]
) -> Iterator[Remark]:
    most = sizes.level_spacing_mm - sizes.clearance_mm
    if groove.width_mm > most + 1e-9:
        told = f"{sizes.told(groove.width_mm)} wide meet the next level; levels leave {sizes.told(most)}"
        yield Remark("rollers", f"{told}: take a narrower hardware.roller.groove_width or flange", False)
    elif groove.width_mm > judged + 1e-9:
        told = f"are {sizes.told(groove.width_mm)} wide, more than the {sizes.told(judged)} that levels were judged by"
        yield Remark("rollers", f"{told}, and still stay within their level")
    meets = [(thick, free) for thick, free in rings if groove.groove_mm <= thick and groove.deep_mm > free]
    if meets:
        thick, free = max(meets)
        told = (
            f"a groove of {sizes.told(groove.groove_mm)} takes the loop alone, and flanges meet the tooth wires beside"
        )
        told += f" it, which are {sizes.told(free)} from the ring's inner edge"
        yield Remark("rollers", f"{told}: take a hardware.roller.groove_width over {sizes.at_least(thick)}", False)
    if groove.deep_mm > sizes.rim_mm + 1e-9:
        told = (
            f"flanges {sizes.told(groove.deep_mm)} high reach across the rim of {sizes.told(sizes.rim_mm)} to the teeth"
        )
        yield Remark("rollers", f"{told}: take a smaller hardware.roller.groove_depth", False)
