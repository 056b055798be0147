"""What a train is made of: gears with their shapes, jigs, arbors, posts, rollers, screws; lengths [mm], weights [g].

An arbor is a sleeve that turns on a post and carries wheel and pinion; third gears and rollers turn on posts of their
own. Level i lies i level spacings from ring 0 along the main axis, and a plate half a spacing beyond the last level on
its side, so that each level has one spacing of depth.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import hypot

from solver.design.design import Design
from solver.design.errors import single
from solver.design.train import Placement, Train
from solver.forms.form import Form, Pairing, Remark, Sizes, Spec, ToothedGear, sizes_of
from solver.forms.plans import JigPlan
from solver.forms.thick import past_level
from solver.forms.wire import tube_grams, wire_grams
from solver.search.levels import ROLLER_WIDTH
from solver.sheets.gears.gears import GearInTrain, form_of, gears_of, pairs_of, specs_of
from solver.sheets.gears.jigs import jigs_of

END = 2.0  # mm of a post beyond what turns on it, for a collar or a screw (common practice, no source)


@dataclass(frozen=True)
class Hub:
    """The hub of a small gear: whose it is, its length, and its bore, 0 where it is solid: that of a motor pinion, to
    be bored for the motor's shaft."""

    use: str
    length_mm: float
    bore_mm: float
    grams: float


@dataclass(frozen=True)
class Arbor:
    """The sleeve of a link, from the outer face of its wheel to that of its pinion, and its bearings."""

    link: int
    bottom: int
    top: int
    length_mm: float
    bearings: int
    grams: float


@dataclass(frozen=True)
class PostRod:
    """A post: what turns on it, its first and last level, its length from the plate (without what goes through the
    plate), or without a plate of the stub that the frame holds."""

    carries: str
    bottom: int
    top: int
    length_mm: float
    grams: float


@dataclass(frozen=True)
class RingRoller:
    """A roller of a ring, with one bearing; how far its middle is from the main axis."""

    ring: int
    number: int
    at_mm: float
    grams: float


@dataclass(frozen=True)
class BodyStand:
    """The rod on which a body stands, from its ring's level to the outer face of the last level on its side."""

    body: str
    ring: int
    length_mm: float
    grams: float


@dataclass(frozen=True)
class Screws:
    """The screws of a level: of posts that begin there, of its rollers, and of gears that are fixed to a shaft."""

    level: int
    posts: int
    rollers: int
    sets: int

    @property
    def total(self) -> int:
        return self.posts + self.rollers + self.sets


@dataclass(frozen=True)
class Inventory:
    """Everything a placed train is made of. shapes and gear_grams (without hub): for each gear in order. pairs: each
    different pair of gears that work together. motor_shaft_mm: how far the motor's shaft reaches, counted as a post is;
    None without a motor; it belongs to the motor and is not weighed. remarks: what the maker must know, gears first."""

    design: Design
    train: Train
    form: Form
    sizes: Sizes
    gears: tuple[GearInTrain, ...]
    shapes: tuple[ToothedGear, ...]
    gear_grams: tuple[float, ...]
    hubs: tuple[Hub, ...]
    pairs: tuple[tuple[Spec, Spec, Pairing], ...]
    jigs: tuple[JigPlan, ...]
    arbors: tuple[Arbor, ...]
    posts: tuple[PostRod, ...]
    rollers: tuple[RingRoller, ...]
    stands: tuple[BodyStand, ...]
    screws: tuple[Screws, ...]
    motor_shaft_mm: float | None
    remarks: tuple[Remark, ...]

    @property
    def bearings(self) -> int:
        """Bearings in all: of arbors, and one in each third gear and roller."""
        thirds = sum(made.part == "third gear" for made in self.gears)
        return sum(arbor.bearings for arbor in self.arbors) + thirds + len(self.rollers)

    @property
    def grams(self) -> float:
        """Weight of all metal: gears, hubs, arbors, posts, rollers, stands; no plate, frame, screws, motor, bodies."""
        parts: list[Hub | Arbor | PostRod | RingRoller | BodyStand] = [
            *self.hubs,
            *self.arbors,
            *self.posts,
            *self.rollers,
            *self.stands,
        ]
        return sum(self.gear_grams) + sum(part.grams for part in parts)


def refuse_without_places(design: Design) -> None:
    """Refuse a design for which no places are computed: what sheets show stands somewhere. Raises DesignError."""
    if not design.arbors.reverted:
        raise single("arbors.reverted", False, "sheets need places: set it to true and solve again")
    if design.fit.directions is None:
        raise single("fit.directions", "none", "sheets need places: give directions for the arbors and solve again")


def _places(design: Design, train: Train) -> Placement:
    refuse_without_places(design)
    if train.placement is None:
        raise single("fit.directions", None, "this train was made without places; solve the design again")
    return train.placement


def inventory(design: Design, train: Train) -> Inventory:
    """What a placed train of a design is made of. Raises DesignError for a train without places, and for lengths and
    wires of which a gear cannot be made."""
    placement = _places(design, train)
    sizes, form, gears = sizes_of(design), form_of(design), gears_of(design, train)
    specs = specs_of(gears)
    shape_of = {spec: form.shape(sizes, spec) for spec in specs}
    spec_of = {id(made): spec for spec, some in specs.items() for made in some}
    shapes = tuple(shape_of[spec_of[id(made)]] for made in gears)
    pairs = tuple((one, other, form.pair(sizes, one, other)) for one, other in pairs_of(gears, specs))
    builder = _Builder(design, train, placement, sizes, gears, shapes)
    posts = tuple(builder.posts())
    hubs = tuple(_hubs(sizes, gears, shapes))
    remarks = [*_not_judged(design, sizes, list(shape_of.values())), *_too_long(sizes, hubs)]
    remarks += [remark for shape in shape_of.values() for remark in shape.remarks]
    remarks += [remark for _, _, pairing in pairs for remark in pairing.remarks]
    return Inventory(
        design=design,
        train=train,
        form=form,
        sizes=sizes,
        gears=gears,
        shapes=shapes,
        gear_grams=tuple(gear_grams(sizes, shape) for shape in shapes),
        hubs=hubs,
        pairs=pairs,
        jigs=jigs_of(specs, shape_of, sizes.hub_mm),
        arbors=tuple(builder.arbors()),
        posts=posts,
        rollers=tuple(builder.rollers()),
        stands=tuple(builder.stands()),
        screws=tuple(builder.screws(posts)),
        motor_shaft_mm=builder.motor_shaft_mm(),
        remarks=tuple(remarks),
    )


def gear_grams(sizes: Sizes, shape: ToothedGear) -> float:
    """Weight [g] of a gear's wire or plate, without a small gear's hub."""
    diameters = {"loop": sizes.loop_mm, "tooth": sizes.tooth_mm, "pin": sizes.pin_mm}
    wire = sum(
        piece.count * wire_grams(piece.length_mm, diameters[piece.wire], sizes.density) for piece in shape.pieces
    )
    return wire + shape.solid_mm3 / 1000 * sizes.density


def _hubs(sizes: Sizes, gears: tuple[GearInTrain, ...], shapes: tuple[ToothedGear, ...]) -> Iterator[Hub]:
    """A hub for every small gear, as long as the gear is thick, at least as its arbor; the motor pinion's is solid."""
    for made, shape in zip(gears, shapes, strict=True):
        if shape.spec.kind == "gear":
            long = max(shape.thick_mm, sizes.arbor_mm)
            bore = 0.0 if made.part == "motor pinion" else sizes.arbor_mm
            yield Hub(made.gear.use, long, bore, tube_grams(long, sizes.hub_mm, bore, sizes.density))


def _not_judged(design: Design, sizes: Sizes, shapes: Sequence[ToothedGear]) -> Iterator[Remark]:
    """The addendum and the rim that the gears need, where those that the fit was judged by are less: left out of the
    geometry, or too small for the form."""
    addendum, rim = float(design.rings.addendum), float(design.rings.rim)
    tips = max(shape.tip_radius_mm - shape.pitch_radius_mm for shape in shapes)
    if not design.as_made and tips > addendum + 1e-6:
        told = f"is {sizes.told(addendum)}, by which the fit was judged; tips reach up to {sizes.told(tips)}"
        yield Remark("rings.addendum", f"{told}: set it to {sizes.at_least(tips)} and solve again", False)
    rings = [shape for shape in shapes if shape.spec.kind == "ring"]
    deep = max(shape.pitch_radius_mm - shape.root_radius_mm for shape in rings)
    if any(shape.bore_mm for shape in rings) and sizes.rim_mm < deep + sizes.sheet_mm - 1e-9:
        told = f"is {sizes.told(rim)}; rings whose roots lie {sizes.told(deep)} deep need"
        need = f"{sizes.at_least(deep + sizes.sheet_mm)}, to keep as much metal as the plate is thick"
        yield Remark("rings.rim", f"{told} {need}: set it and solve again", sizes.rim_mm >= deep + sizes.sheet_mm / 2)
    elif not rim and not design.as_made:
        told = f"is 0, by which the fit was judged; rings are drawn with {sizes.told(sizes.rim_mm)}"
        yield Remark("rings.rim", f"{told}: set it and solve again", False)


def _too_long(sizes: Sizes, hubs: Sequence[Hub]) -> Iterator[Remark]:
    """Hubs, which are at least as long as their arbors are thick, that reach into the next level."""
    long = max(hub.length_mm for hub in hubs)
    hint = "; take a smaller wire.arbor_diameter"
    yield from past_level(sizes, "hubs", f"{sizes.told(long)} long", long, True, hint)


class _Builder:
    """Works out what stands where in a placed train."""

    def __init__(
        self,
        design: Design,
        train: Train,
        placement: Placement,
        sizes: Sizes,
        gears: tuple[GearInTrain, ...],
        shapes: tuple[ToothedGear, ...],
    ) -> None:
        self.design, self.train, self.placement, self.sizes = design, train, placement, sizes
        self.gears, self.shapes = gears, shapes
        self.wire, self.fit, self.count = design.wire, design.fit, len(train.rings)

    def _thick(self, part: str, link: int) -> float:
        return next(
            shape.thick_mm
            for made, shape in zip(self.gears, self.shapes, strict=True)
            if made.part == part and made.link == link
        )

    def _roller_width(self) -> float:
        return ROLLER_WIDTH * (self.sizes.sheet_mm if form_of(self.design).plate else self.sizes.loop_mm)

    def arbors(self) -> Iterator[Arbor]:
        sizes = self.sizes
        for link in range(len(self.train.links)):
            ends = (self._thick("wheel", link) + self._thick("pinion", link)) / 2
            length = sizes.level_spacing_mm + ends
            grams = tube_grams(length, sizes.arbor_mm, sizes.post_mm, sizes.density)
            yield Arbor(link, link, link + 1, length, self.wire.bearings, grams)

    def posts(self) -> Iterator[PostRod]:
        for link in range(len(self.train.links)):
            ends = self._thick("wheel", link) / 2, self._thick("pinion", link) / 2
            yield self._post(f"arbor of link {link}", link, link + 1, ends)
        for made, shape in zip(self.gears, self.shapes, strict=True):
            if made.part == "third gear":
                half = shape.thick_mm / 2
                yield self._post(made.gear.use, made.gear.level, made.gear.level, (half, half))
        half = self._roller_width() / 2
        for ring, some in enumerate(self.placement.rollers):
            for number in range(1, len(some) + 1):
                yield self._post(f"roller {number} of ring {ring}", ring, ring, (half, half))

    def _post(self, carries: str, bottom: int, top: int, ends: tuple[float, float]) -> PostRod:
        """ends: how far what it carries reaches beyond the middle of its first and of its last level."""
        spacing = self.sizes.level_spacing_mm
        if self.fit.plate == "inner":
            length = (top + 0.5) * spacing + ends[1] + END
        elif self.fit.plate == "outer":
            length = (self.count - 0.5 - bottom) * spacing + ends[0] + END
        else:
            length = (top - bottom) * spacing + sum(ends) + 2 * END
        return PostRod(carries, bottom, top, length, wire_grams(length, self.sizes.post_mm, self.sizes.density))

    def motor_shaft_mm(self) -> float | None:
        drive = self.placement.drive
        if drive is None:
            return None
        half = self._thick("motor pinion", -1) / 2
        return self._post("motor pinion", drive.ring, drive.ring, (half, half)).length_mm

    def rollers(self) -> Iterator[RingRoller]:
        for ring, some in enumerate(self.placement.rollers):
            assert self.fit.rollers is not None
            outside = 2 * float(self.fit.rollers.radius)
            grams = tube_grams(self._roller_width(), outside, self.sizes.post_mm, self.sizes.density)
            for number, roller in enumerate(some, start=1):
                yield RingRoller(ring, number, hypot(*roller.spot) / 1000, grams)

    def stands(self) -> Iterator[BodyStand]:
        if self.fit.stands == "none":
            return
        for body, ring in enumerate(self.train.seats):
            beyond = ring if self.fit.stands == "inner" else self.count - 1 - ring
            length = (beyond + 0.5) * self.sizes.level_spacing_mm
            grams = wire_grams(length, self.sizes.post_mm, self.sizes.density)
            yield BodyStand(self.design.bodies[body].name, ring, length, grams)

    def screws(self, posts: tuple[PostRod, ...]) -> Iterator[Screws]:
        """With a plate at the outer side too a post counts on the level of the first thing that it carries."""
        fixed = ("wheel", "pinion", "motor pinion")
        for level in range(self.count):
            begun = sum(post.bottom == level for post in posts)
            rolling = len(self.placement.rollers[level]) if self.placement.rollers else 0
            held = sum(made.part in fixed and made.gear.level == level for made in self.gears)
            wire = self.wire
            yield Screws(level, begun * wire.post_screws, rolling * wire.roller_screws, held * wire.set_screws)
