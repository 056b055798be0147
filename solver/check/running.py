"""How the meshes of a train run, gears made as the table [wire] says: saw teeth of bent wire, and pins.

The judge's own way to tell: the wire's centre line goes round a jig pin at each tip and each root, straight between; a
pin is a disc. The two gears are turned together in small steps; at each the pins leave the toothed gear a range of
turns beside even turning. What they leave in common is the play, and how far an end of it wanders is how far one gear
strays while the other turns evenly. Steps can only miss what is worst, so what is refused here does not run. Plane
geometry; lengths in mm, angles in radians.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import lru_cache
from math import acos, atan2, ceil, cos, hypot, inf, pi, sin

from solver.check.running_teeth import turned_together
from solver.design.design import Design
from solver.design.links import KIND_BY_NAME
from solver.design.train import Train

STEPS = 60  # to a pin's pitch
SLACK = 1e-6  # mm, of what is compared


@dataclass(frozen=True)
class MeshFigures:
    """A mesh: its gears; the least play at the pitch circle [mm], below 0 where it jams; how far one gear strays [share
    of a pitch]; None where it cannot be told. fault: why it does not run, "" where it does. short_mm: what is missing,
    where that is a length."""

    where: str
    play_mm: float | None
    uneven: float | None
    fault: str
    short_mm: float | None = None


@dataclass(frozen=True)
class _Made:
    """Lengths of gears as made [mm], hubs and wires as diameters."""

    module: float
    addendum: float
    rim: float
    loop: float
    tooth: float
    pin: float
    jig_pin: float
    hub: float


def _made(design: Design) -> _Made:
    rings, wire = design.rings, design.wire
    module = float(rings.pitch.value) if rings.pitch.is_module else float(rings.pitch.value) / pi
    arbor = 2 * float(design.fit.post_radius) + 2 if wire.arbor_diameter is None else float(wire.arbor_diameter)
    return _Made(
        module,
        float(rings.addendum) or pi * module / 3,
        float(rings.rim) or pi * module / 2,
        wire.loop.mm,
        wire.tooth.mm,
        wire.pin.mm,
        float(wire.jig_pin),
        arbor + 4 if wire.hub_diameter is None else float(wire.hub_diameter),
    )


class _Teeth:
    """A gear with saw teeth. bend: radius of the centre line round a jig pin; near: how near to the centre line the
    middle of a pin comes; step: half a pitch; tip, root: distances of the jig pins. unmade: why it cannot be made."""

    def __init__(self, made: _Made, teeth: int, ring: bool, with_teeth: bool = False) -> None:
        self.radius, self.step = made.module * teeth / 2, pi / teeth
        self.bend, self.near = (made.jig_pin + made.tooth) / 2, (made.pin + made.tooth) / 2
        if with_teeth:  # the middle of the other's jig pin comes as near as the wire about it allows
            self.near = self.bend + made.tooth
        deep = made.rim if ring else min(made.rim, self.radius - made.hub / 2 - made.pin)
        inside = self.radius - deep
        self.tip = self.radius + made.addendum - made.tooth - made.jig_pin / 2
        # At a root the tooth wire lies on the loop: flush with its outside, or middle on middle where it is thicker.
        flush = inside + made.loop - made.tooth / 2 if made.tooth <= made.loop else inside + made.loop / 2
        self.root = flush + self.bend
        x, y = self.root * cos(self.step) - self.tip, self.root * sin(self.step)
        apart = hypot(x, y)
        self.unmade = ""
        if deep <= 0:
            self.unmade = "leaves no room for teeth beside its hub"
        elif apart <= 2 * self.bend:
            self.unmade = "leaves no room between its bends"
        elif not ring and inside <= made.hub / 2:
            self.unmade = "leaves no room for spokes"
        else:
            # The straight wire touches both bends from opposite sides: its normal stands so to the line between them.
            self.normal = atan2(y, x) - acos(2 * self.bend / apart)
            if self.normal <= self.step:
                self.unmade = "has no room for teeth between rim and addendum"
        self.outermost = self.tip + self.bend + self.near

    def half_gap(self, far: float) -> float:
        """Half the arc about the middle of a gap that the middle of a pin has, so far from the centre, within
        `outermost`; below 0 where it has no room."""
        n, out, into = self.normal, self.bend + self.near, self.bend - self.near
        if far >= hypot(self.tip + out * cos(n), out * sin(n)):  # beside the bend at the tip
            return self.step - _angle(far, self.tip, out)
        beside = self.root * cos(n - self.step) - into, self.root * sin(n - self.step)
        if into > 0 and far < hypot(*beside):  # within the bend at the root
            bottom = self.root - into
            return (far - bottom) / far if far < bottom else _angle(far, self.root, into)
        edge = self.tip * cos(n) + out  # beside the straight wire, which is so far from the centre
        return self.step - n + (acos(edge / far) if far >= edge else (far - edge) / far)


def _angle(far: float, centre: float, radius: float) -> float:
    """At the gear's centre, between the middle of a circle and the point of it that is so far away (law of cosines)."""
    return acos(max(-1.0, min(1.0, (far * far + centre * centre - radius * radius) / (2 * far * centre))))


@lru_cache(maxsize=1 << 14)
def _turned(made: _Made, teeth: int, ring: bool, pins: int) -> tuple[float, float, bool, str]:
    """Least play [mm], straying [share of a pitch], whether it slips, and why one of them cannot be made, of a toothed
    gear and one with pins."""
    gear, circle = _Teeth(made, teeth, ring), made.module * pins / 2
    why = f"the gear of {teeth} teeth {gear.unmade}" if gear.unmade else ""
    if circle - made.pin / 2 - made.loop <= made.hub / 2:
        why = f"the gear of {pins} pins leaves no room for spokes"
    if why:
        return 0.0, 0.0, False, why
    centres, pitch = gear.radius + circle, 2 * pi / pins
    within = (centres**2 + circle**2 - gear.outermost**2) / (2 * centres * circle)
    end = acos(max(-1.0, min(1.0, within)))  # a pin is among the teeth up to here from the line of centres

    def beside(past: float) -> tuple[float, float]:
        """The turn of the toothed gear beside even turning that puts the middle of its gap to a pin so far past the
        line of centres, and half the gap there."""
        x, y = centres - circle * cos(past), circle * sin(past)
        return atan2(y, x) - past * pins / teeth, gear.half_gap(hypot(x, y))

    def left(past: float, first: float) -> tuple[float, float]:
        """The turns that all pins leave, `past` and whole pitches apart, from `first` on."""
        low, high = -inf, inf
        at = past + pitch * ceil((first - past) / pitch - 1e-12)
        while at < end:
            off, half = beside(at)
            low, high = max(low, off - half), min(high, off + half)
            at += pitch
        return low, high

    ranges = [left(pitch * index / STEPS, -end + 1e-12) for index in range(STEPS)]
    ranges += [left(turn, -end + 1e-12) for turn in (-end + 1e-9, end - 1e-9)]
    held = [(low, high) for low, high in ranges if low > -inf]
    # A pin that comes in must come into its own gap, whatever the others leave: else a tip comes past it.
    low, high = left(-end + pitch, -end + pitch / 2)
    own, spare = beside(-end + 1e-12)[0], gear.step + SLACK / gear.radius
    slips = len(held) < len(ranges) or low < own - spare or high > own + spare
    if not held:
        return 0.0, 0.0, True, ""
    lows, highs = zip(*held, strict=True)
    strays = max(max(lows) - min(lows), max(highs) - min(highs))
    play = min(high - low for low, high in held)
    return play * gear.radius, strays / (2 * gear.step), slips, ""


@lru_cache(maxsize=1 << 14)
def _turned_teeth(made: _Made, ring: int, third: int) -> tuple[float, float, bool, str]:
    """The same of a ring and a third gear with short teeth."""
    gears = _Teeth(made, ring, True, True), _Teeth(_short(made), third, False, True)
    for teeth, gear in zip((ring, third), gears, strict=True):
        if gear.unmade:
            return 0.0, 0.0, False, f"the gear of {teeth} teeth {gear.unmade}"
    return *turned_together(*gears, SLACK), ""


def _short(made: _Made) -> _Made:
    """Short teeth: half as high, on a rim twice as wide."""
    return replace(made, addendum=made.addendum / 2, rim=2 * made.rim)


def run_of(design: Design, where: str, teeth: int, ring: bool, pins: int, short: bool = False) -> MeshFigures:
    """How a gear with teeth, or with short ones, and one with pins run at the distance of their pitch radii."""
    made = _short(_made(design)) if short else _made(design)
    hub = made.hub / 2 + made.addendum - made.module * pins / 2
    return _figures(design, where, _turned(made, teeth, ring, pins), hub)


def third_run(design: Design, where: str, ring: int, third: int) -> MeshFigures:
    """How a ring and a third gear with short teeth run at the distance of their pitch radii."""
    return _figures(design, where, _turned_teeth(_made(design), ring, third))


def _figures(design: Design, where: str, turned: tuple[float, float, bool, str], hub: float = 0.0) -> MeshFigures:
    """What is told of a mesh; hub: how far [mm] tips reach into the hub of the pins."""
    (play, uneven, slips, why), most = turned, float(design.unevenness)
    if why:
        return MeshFigures(where, None, None, f"cannot be made: {why}")
    if hub > SLACK:
        return MeshFigures(where, play, uneven, f"jams: tips reach {hub:.2f} mm into the hub of the pins", hub)
    if play < -SLACK:
        return MeshFigures(where, play, uneven, f"jams: {-play:.2f} mm too little", -play)
    if slips:
        return MeshFigures(where, play, uneven, "slips: a tip can come past a pin")
    if uneven > most + SLACK:
        return MeshFigures(where, play, uneven, f"hunts {uneven:.3g} of a pitch; at most {most:g}")
    return MeshFigures(where, play, uneven, "")


def meshes(design: Design, train: Train) -> Iterator[MeshFigures]:
    """Every mesh of a train: link by link the wheel's side, then the pinion's; then the drive's. A ring has teeth; what
    works with it has pins; the gear behind a third gear has teeth again, or pins behind short teeth."""
    for index, link in enumerate(train.links):
        kind, thirds = KIND_BY_NAME[link.kind], list(link.thirds)
        for name, level, gear, between in (
            ("wheel", index, link.wheel, kind.wheel_thirds),
            ("pinion", index + 1, link.pinion, kind.pinion_thirds),
        ):
            some = [thirds.pop(0) for _ in range(between)]
            yield from _side(design, train, level, gear, some, f"{name} of link {index}")
    drive = train.placement.drive if train.placement is not None else None
    if drive is not None:
        yield from _side(design, train, drive.ring, drive.pinion, list(drive.thirds), "motor pinion")


def _side(design: Design, train: Train, level: int, gear: int, thirds: list[int], name: str) -> Iterator[MeshFigures]:
    ring = train.rings[level]
    if not thirds:
        yield run_of(design, f"ring {level} with {name}", ring, True, gear)
        return
    at_ring, behind = f"ring {level} with third gear at {name}", f"{name} with its third gear"
    if design.wire.third == "teeth":
        yield third_run(design, at_ring, ring, thirds[0])
        yield run_of(design, behind, thirds[0], False, gear, short=True)
        return
    yield run_of(design, at_ring, ring, True, thirds[0])
    yield run_of(design, behind, gear, False, thirds[0])
