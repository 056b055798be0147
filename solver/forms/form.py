"""What a tooth form is: what it is told of a gear, and what it says of its shape, its wire and its running."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise
from math import ceil, cos, hypot, inf, pi, sin
from typing import Protocol

from solver.design.design import Design, Wire
from solver.design.errors import DesignError, single
from solver.forms.plans import Hole
from solver.forms.runs import MeshRun, Outline, PairTable, Span

Line = tuple[tuple[float, float], ...]
PLAY = 1.0  # mm, the least beside a ring between the loops of a pin gear
WALL = 2.0  # mm, of an arbor's sleeve (one on each side of the post, 1 mm each), and of a hub about it


@dataclass(frozen=True)
class Sizes:
    """Lengths [mm] that all gears of a design share; see `Wire` and `Rings` for the fields of these names.

    addendum_mm and rim_mm: as designed; where they are 0 (left out of the geometry) a third and a half of the pitch,
    as a design without them has. judged_mm: the addendum by which the fit was judged, 0 too; infinite
    where gears were judged as they are made. arbor_mm: outside diameter
    of an arbor's sleeve, which turns on a post. uneven: what a mesh may stray from even turning, as a share of a pitch.
    """

    module_mm: float
    addendum_mm: float
    judged_mm: float
    rim_mm: float
    level_spacing_mm: float
    clearance_mm: float
    loop_mm: float
    tooth_mm: float
    pin_mm: float
    neutral: float
    jig_pin_mm: float
    pin_length_mm: float
    spokes: int
    sheet_mm: float
    post_mm: float
    arbor_mm: float
    hub_mm: float
    density: float
    uneven: float
    units: str

    @property
    def pitch_mm(self) -> float:
        """Tooth pitch along the pitch circle."""
        return pi * self.module_mm

    def radius_mm(self, teeth: int) -> float:
        """Pitch radius of so many teeth: module * teeth / 2."""
        return self.module_mm * teeth / 2

    def refuse(self, field: str, mm: float, allowed: str) -> DesignError:
        """A DesignError about a length of the file, told in the file's unit."""
        return single(field, Decimal(f"{mm / 25.4 if self.units == 'in' else mm:.4g}"), allowed)

    def told(self, mm: float) -> str:
        """A length in the file's unit, with its name."""
        return f"{mm / 25.4:.4g} in" if self.units == "in" else f"{mm:.4g} mm"

    def at_least(self, mm: float) -> str:
        """A length that will do, in the file's unit: rounded up to a hundredth of a mm, a thousandth of an inch."""
        if self.units == "in":
            return f"{ceil(mm / 25.4 * 1000 - 1e-6) / 1000:g} in"
        return f"{ceil(mm * 100 - 1e-6) / 100:g} mm"


def sizes_of(design: Design) -> Sizes:
    """The lengths that the gears of a design share. Raises DesignError where post, arbor and hub do not go over each
    other."""
    rings, wire, fit = design.rings, design.wire, design.fit
    module = 2 * rings.pitch.radius_mm(1)
    pitch = pi * module
    post = 2 * float(fit.post_radius)
    arbor = _or(wire.arbor_diameter, post + WALL)
    free = wire.loop.mm + wire.tooth.mm + 2 * max(float(fit.clearance), PLAY)
    sizes = Sizes(
        module_mm=module,
        addendum_mm=float(rings.addendum) or pitch / 3,
        judged_mm=inf if design.as_made else float(rings.addendum),
        rim_mm=float(rings.rim) or pitch / 2,
        level_spacing_mm=float(rings.level_spacing),
        clearance_mm=float(fit.clearance),
        loop_mm=wire.loop.mm,
        tooth_mm=wire.tooth.mm,
        pin_mm=wire.pin.mm,
        neutral=float(wire.neutral),
        jig_pin_mm=float(wire.jig_pin),
        pin_length_mm=_or(wire.pin_length, free + 2 * wire.loop.mm),
        spokes=wire.spokes,
        sheet_mm=float(wire.sheet),
        post_mm=post,
        arbor_mm=arbor,
        hub_mm=_or(wire.hub_diameter, arbor + 2 * WALL),
        density=float(wire.density),
        uneven=float(design.unevenness),
        units=design.units,
    )
    if sizes.arbor_mm <= sizes.post_mm:
        told = f"must be greater than the posts that arbors turn on, {sizes.told(sizes.post_mm)}"
        raise sizes.refuse("wire.arbor_diameter", sizes.arbor_mm, told)
    if sizes.hub_mm <= sizes.arbor_mm:
        told = f"must be greater than the arbors, {sizes.told(sizes.arbor_mm)}"
        raise sizes.refuse("wire.hub_diameter", sizes.hub_mm, told)
    return sizes


def _or(given: Fraction | None, usual: float) -> float:
    return usual if given is None else float(given)


@dataclass(frozen=True)
class Spec:
    """A kind of gear to be made: "ring" or "gear", its teeth, its toothing (a name that the form chose), and the
    tooth counts of the gears that it works with, ascending."""

    kind: str
    teeth: int
    toothing: str
    mates: tuple[int, ...]

    @property
    def name(self) -> str:
        """ "R30" or "G18", as on its jig."""
        return f"{'R' if self.kind == 'ring' else 'G'}{self.teeth}"


@dataclass(frozen=True)
class Piece:
    """Pieces of wire of one gear, alike: so many, of the wire "loop", "tooth" or "pin", each so long [mm] when laid out
    straight, without what saw and file take.

    parts: into how many equal parts it may be divided where no bar is long enough: 1 not at all, 0 anywhere. joints:
    solder joints that each part needs with the next, or a closed piece with itself.
    """

    what: str
    wire: str
    count: int
    length_mm: float
    parts: int = 1
    joints: int = 0


@dataclass(frozen=True)
class Quantity:
    """A figure of a gear or a pair: what it is, its value, and its unit: "mm", "°" or "" for a plain number."""

    what: str
    value: float
    unit: str = "mm"


@dataclass(frozen=True)
class Remark:
    """What a maker must know about a gear or a pair; runs: False where it does not run as designed."""

    where: str
    text: str
    runs: bool = True


@dataclass(frozen=True)
class ToothedGear:
    """One gear as a form makes it; lengths in mm. joints: solder joints apart from those within its pieces. solid_mm3:
    metal that is not wire, without hub. thick_mm: along its axis. bore_mm: diameter of the hole that is cut into a gear
    of plate; 0 for one of wire."""

    spec: Spec
    pitch_radius_mm: float
    tip_radius_mm: float
    root_radius_mm: float
    thick_mm: float
    holes: tuple[Hole, ...]
    outline: tuple[Line, ...]
    pieces: tuple[Piece, ...]
    joints: int
    solid_mm3: float
    figures: tuple[Quantity, ...]
    remarks: tuple[Remark, ...] = ()
    bore_mm: float = 0.0


@dataclass(frozen=True)
class Pairing:
    """How two gears work together."""

    figures: tuple[Quantity, ...]
    remarks: tuple[Remark, ...]


@dataclass(frozen=True)
class Roles:
    """The toothing of each gear by what it does. ring; gear: a small gear that works with a ring alone; third: a third
    gear, which works with a ring and with a gear; behind: the gear that works with a third gear."""

    ring: str
    gear: str
    third: str
    behind: str

    @property
    def at_ring(self) -> MeshSort:
        """The meshes of rings with small gears that are not third gears."""
        return MeshSort("ring", self.ring, self.gear)

    @property
    def third_at_ring(self) -> MeshSort:
        """The meshes of rings with third gears."""
        return MeshSort("ring", self.ring, self.third)

    @property
    def behind_third(self) -> MeshSort:
        """The meshes of gears behind third gears with these."""
        return MeshSort("gear", self.behind, self.third)

    def behind_thirds(self, thirds: int) -> str:
        """The toothing of a gear on a shaft with so many third gears between it and its ring."""
        return self.behind if thirds else self.gear


@dataclass(frozen=True)
class MeshSort:
    """Meshes alike: of a "ring" or "gear" (kind) with its toothing, and of its mate, a small gear, with its own."""

    kind: str
    toothing: str
    mate: str

    def specs(self, teeth: int, mate: int) -> tuple[Spec, Spec]:
        """The two gears of such a mesh, each with the other as its only mate."""
        return Spec(self.kind, teeth, self.toothing, (mate,)), Spec("gear", mate, self.mate, (teeth,))


class Form(Protocol):
    """A tooth form. plate: cut from plate, not bent from wire. source: where it is laid down. thirds: the toothings
    that third gears may have, as `wire.third` calls them, the usual one first."""

    name: str
    title: str
    source: str
    plate: bool
    thirds: tuple[str, ...]

    def roles(self, third: str) -> Roles:
        """The toothing of each gear. third: one of `thirds`. Raises ValueError for another."""
        ...

    def shape(self, sizes: Sizes, spec: Spec) -> ToothedGear:
        """The gear. Raises DesignError where it cannot be made of this wire."""
        ...

    def outline(self, sizes: Sizes, spec: Spec) -> Outline:
        """The room that the gear takes, without drawing it."""
        ...

    def beyond_mm(self, sizes: Sizes, spec: Spec) -> float:
        """The farthest that a gear stands beyond its pitch circle, whichever of its mates it is made for."""
        ...

    def pair(self, sizes: Sizes, one: Spec, other: Spec) -> Pairing:
        """How two gears work together at the distance of their pitch radii, as it is told."""
        ...

    def run(self, sizes: Sizes, one: Spec, other: Spec, apart_mm: float = 0.0) -> MeshRun:
        """How two gears run, their centres so much farther apart than their pitch radii. Raises DesignError where one
        cannot be made."""
        ...

    def span(self, sizes: Sizes, one: Spec, other: Spec, uneven: float) -> Span | None:
        """Where they run about the distance of their pitch radii, straying at most `uneven` of a pitch; None where they
        do not run there. Raises DesignError where one cannot be made."""
        ...

    def table(
        self, sizes: Sizes, sort: MeshSort, teeth: tuple[int, ...], mates: tuple[int, ...], uneven: float
    ) -> PairTable:
        """`run` and `span` of all meshes of a sort, of gears of these teeth with small gears as mates: worked out once
        in a process for the same sizes."""
        ...

    def tooth_wire_mm(self, sizes: Sizes, deep_mm: float) -> float:
        """The most wire that a tooth takes that is so deep, to the inside of its loop; 0 for gears of plate."""
        ...

    def running(
        self, sizes: Sizes, sort: MeshSort, teeth: tuple[int, ...], mates: tuple[int, ...], uneven: float
    ) -> frozenset[tuple[int, int]]:
        """The pairs (teeth, mate) of which both can be made and that have a span in `table`, for less work; and still
        have one where the larger gear is made to serve any smaller one of the mates too with which it neither jams nor
        slips."""
        ...


def roles(form: Form, wire: Wire) -> Roles:
    """The toothing of each gear of a design whose gears have this form, by what the gear does. Raises ValueError where
    the form knows no such third gears."""
    return form.roles(wire.third)


def only(third: str, known: tuple[str, ...], found: Roles) -> Roles:
    """The roles of a form in which third gears are of one toothing. Raises ValueError where another is asked for."""
    if third not in known:
        raise ValueError(f"no third gears with {third}: {', '.join(known)}")
    return found


def circle(radius: float, centre: tuple[float, float] = (0.0, 0.0), sides: int = 180) -> Line:
    """A circle as a closed polyline [mm]."""
    turns = [2 * pi * index / sides for index in range(sides)]
    points = [(centre[0] + radius * cos(turn), centre[1] + radius * sin(turn)) for turn in turns]
    return (*points, points[0])


def turned(line: Line, turn: float) -> Line:
    """A polyline turned about the centre by so many radians."""
    c, s = cos(turn), sin(turn)
    return tuple((c * x - s * y, s * x + c * y) for x, y in line)


def all_round(tooth: Line, teeth: int) -> Line:
    """The closed polyline of a whole gear from that of one tooth on the right, gap to gap."""
    points = [point for index in range(teeth) for point in turned(tooth, 2 * pi * index / teeth)[1:]]
    return (*points, points[0])


def area_mm2(line: Line) -> float:
    """Area that a closed polyline encloses [mm2] (shoelace formula)."""
    return abs(sum(x * y2 - x2 * y for (x, y), (x2, y2) in pairwise(line))) / 2


def mirrored(half: Line) -> Line:
    """A symmetric tooth from the half above its middle line, which runs from the middle of the tip to the root."""
    below = tuple((x, -y) for x, y in reversed(half))
    return below + (half[1:] if hypot(half[0][0] - below[-1][0], half[0][1] - below[-1][1]) < 1e-9 else half)


def too_far_out(sizes: Sizes, spec: Spec, tip_mm: float) -> tuple[Remark, ...]:
    """A remark where a form's tips reach beyond the circle that the fit was judged with, so that what was found to be
    free may be hit."""
    over = tip_mm - sizes.radius_mm(spec.teeth) - sizes.judged_mm
    if over <= 1e-6:
        return ()
    told = f"tips reach {sizes.told(over)} farther than rings.addendum, by which the fit was judged"
    return (Remark(spec.name, told, False),)
