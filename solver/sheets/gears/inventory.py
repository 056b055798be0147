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
from solver.forms.weights import drawn_grams, hub_grams, hub_mm
from solver.forms.wire import tube_grams, wire_grams
from solver.search.levels import ROLLER_WIDTH
from solver.search.sagging import POST_END
from solver.sheets.gears.bodies import body_remarks
from solver.sheets.gears.feet import foot_of, foot_remark
from solver.sheets.gears.fittings import Fittings, Seat, fittings_of
from solver.sheets.gears.gears import GearInTrain, form_of, gears_of, pairs_of, specs_of
from solver.sheets.gears.jigs import jigs_of
from solver.sheets.gears.small_parts import Arbor, BodyStand, Hub, PostRod, RingRoller, Screws


@dataclass(frozen=True)
class Inventory:
    """Everything a placed train is made of. shapes and gear_grams (without hub): for each gear in order. pairs: each
    different pair of gears that work together. motor_shaft_mm: how far the motor's shaft reaches, counted as a post is;
    None without a motor; it belongs to the motor and is not weighed. remarks: what the maker must know, gears first.
    fittings: what is bought and where it sits."""

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
    fittings: Fittings

    @property
    def bearings(self) -> int:
        """Bearings in all, plain ones too."""
        return sum(count for count, _ in self.bearings_by_seat.values())

    @property
    def bearings_by_seat(self) -> dict[str, tuple[int, Seat]]:
        """How many bearings arbors have, and third gears and rollers, one each; and their seats."""
        thirds, fittings = sum(made.part == "third gear" for made in self.gears), self.fittings
        arbors = sum(arbor.bearings for arbor in self.arbors)
        counts = (("arbors", arbors), ("third gears", thirds), ("rollers", len(self.rollers)))
        seats = (fittings.arbor, fittings.third, fittings.roller)
        return {
            where: (count, seat)
            for (where, count), seat in zip(counts, seats, strict=True)
            if count and seat is not None
        }

    @property
    def ball_bearings(self) -> int:
        """Ball bearings in all."""
        return sum(count for count, seat in self.bearings_by_seat.values() if seat.where)

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
    fittings = _fittings(design, sizes, gears, shapes)
    builder = _Builder(design, train, placement, sizes, gears, shapes, fittings)
    posts = tuple(builder.posts())
    hubs = tuple(_hubs(sizes, gears, shapes, fittings))
    remarks = [*_not_judged(design, sizes, list(shape_of.values())), *_too_long(sizes, hubs)]
    remarks += [remark for shape in shape_of.values() for remark in shape.remarks]
    remarks += [remark for _, _, pairing in pairs for remark in pairing.remarks]
    stands = tuple(builder.stands())
    feet = (foot_remark(sizes, gears[stand.ring].gear.use, stand.foot) for stand in stands)
    remarks += [remark for remark in feet if remark is not None]
    remarks += body_remarks(design, train, sizes)
    remarks += [remark for remark in fittings.remarks if not remark.runs]
    return Inventory(
        design=design,
        train=train,
        form=form,
        sizes=sizes,
        gears=gears,
        shapes=shapes,
        gear_grams=tuple(drawn_grams(sizes, shape) for shape in shapes),
        hubs=hubs,
        pairs=pairs,
        jigs=jigs_of(specs, shape_of, sizes.hub_mm),
        arbors=tuple(builder.arbors()),
        posts=posts,
        rollers=tuple(builder.rollers()),
        stands=stands,
        screws=tuple(builder.screws(posts)),
        motor_shaft_mm=builder.motor_shaft_mm(),
        remarks=tuple(remarks),
        fittings=fittings,
    )


def _fittings(
    design: Design, sizes: Sizes, gears: tuple[GearInTrain, ...], shapes: tuple[ToothedGear, ...]
) -> Fittings:
    long: dict[str, list[float]] = {}
    for made, shape in zip(gears, shapes, strict=True):
        long.setdefault(made.part, []).append(hub_mm(sizes, shape.thick_mm))
    # Without a plate and with arms a sleeve turns in its arm's bush, and its post is fixed in it.
    hubs = [] if design.armed else [*long.get("wheel", ()), *long.get("pinion", ())]
    rings = [
        (shape.thick_mm, shape.root_radius_mm - (shape.pitch_radius_mm - sizes.rim_mm))
        for shape in shapes
        if shape.spec.kind == "ring"
    ]
    return fittings_of(design, sizes, hubs, long.get("third gear", ()), _roller_width(design, sizes), rings)


def _roller_width(design: Design, sizes: Sizes) -> float:
    if design.fit.rollers is None:
        return 0.0
    return ROLLER_WIDTH * (sizes.sheet_mm if form_of(design).plate else sizes.loop_mm)


def _hubs(
    sizes: Sizes, gears: tuple[GearInTrain, ...], shapes: tuple[ToothedGear, ...], fittings: Fittings
) -> Iterator[Hub]:
    """A hub for every small gear, as long as the gear is thick, at least as its arbor; the motor pinion's is solid."""
    for made, shape in zip(gears, shapes, strict=True):
        if shape.spec.kind == "gear":
            thick, bore, seat = shape.thick_mm, sizes.arbor_mm, None
            if made.part == "motor pinion":
                bore = 0.0
            elif made.part == "third gear":
                bore = fittings.third.bore_mm if fittings.third is not None else sizes.post_mm
            elif fittings.arbor is not None and fittings.arbor.where == "hub":
                seat = fittings.arbor
            yield Hub(made.gear.use, hub_mm(sizes, thick), bore, hub_grams(sizes, thick, bore), seat)


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
        fittings: Fittings,
    ) -> None:
        self.fittings = fittings
        self.design, self.train, self.placement, self.sizes = design, train, placement, sizes
        self.gears, self.shapes = gears, shapes
        self.wire, self.fit, self.count = design.wire, design.fit, len(train.rings)

    def _thick(self, part: str, link: int) -> float:
        """Of a small gear with its hub."""
        return next(
            hub_mm(self.sizes, shape.thick_mm)
            for made, shape in zip(self.gears, self.shapes, strict=True)
            if made.part == part and made.link == link
        )

    def _roller_width(self) -> float:
        groove = self.fittings.groove
        return 0.0 if groove is None else groove.width_mm

    def arbors(self) -> Iterator[Arbor]:
        sizes = self.sizes
        for link in range(len(self.train.links)):
            ends = (self._thick("wheel", link) + self._thick("pinion", link)) / 2
            seat = self.fittings.arbor
            # The bearings at both ends, one more at one of them where they are odd, take their place in the hubs.
            inside = seat is not None and seat.where == "hub" and self.fittings.bearing is not None
            taken = self.wire.bearings * self.fittings.bearing.width if inside and self.fittings.bearing else 0.0
            length = sizes.level_spacing_mm + ends - taken
            grams = tube_grams(length, sizes.arbor_mm, sizes.post_mm, sizes.density)
            # On arms a sleeve turns in the bush of its arm, and its post is soldered into it.
            bearings = 0 if self.design.armed else self.wire.bearings
            yield Arbor(link, link, link + 1, length, bearings, grams)

    def posts(self) -> Iterator[PostRod]:
        for link in range(len(self.train.links)):
            ends = self._thick("wheel", link) / 2, self._thick("pinion", link) / 2
            yield self._post(f"arbor of link {link}", link, link + 1, ends)
        for made, shape in zip(self.gears, self.shapes, strict=True):
            if made.part == "third gear":
                half = hub_mm(self.sizes, shape.thick_mm) / 2
                yield self._post(made.gear.use, made.gear.level, made.gear.level, (half, half))
        half = self._roller_width() / 2
        for ring, some in enumerate(self.placement.rollers):
            for number in range(1, len(some) + 1):
                yield self._post(f"roller {number} of ring {ring}", ring, ring, (half, half))

    def _post(self, carries: str, bottom: int, top: int, ends: tuple[float, float]) -> PostRod:
        """ends: how far what it carries reaches beyond the middle of its first and of its last level."""
        spacing = self.sizes.level_spacing_mm
        if self.fit.plate == "inner":
            length = (top + 0.5) * spacing + ends[1] + POST_END
        elif self.fit.plate == "outer":
            length = (self.count - 0.5 - bottom) * spacing + ends[0] + POST_END
        elif self.design.armed and top == bottom:  # from the far side of its arm, in the middle of the gap
            assert self.design.supports is not None
            length = (spacing + float(self.design.supports.arm_mm)) / 2 + ends[1] + POST_END
        else:
            length = (top - bottom) * spacing + sum(ends) + 2 * POST_END
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
            bore = self.fittings.roller.bore_mm if self.fittings.roller is not None else self.sizes.post_mm
            grams = tube_grams(self._roller_width(), outside, bore, self.sizes.density)
            for number, roller in enumerate(some, start=1):
                yield RingRoller(ring, number, hypot(*roller.spot) / 1000, grams)

    def stands(self) -> Iterator[BodyStand]:
        if self.fit.stands == "none":
            return
        for body, ring in enumerate(self.train.seats):
            beyond = ring if self.fit.stands == "inner" else self.count - 1 - ring
            length = (beyond + 0.5) * self.sizes.level_spacing_mm
            grams = wire_grams(length, self.sizes.post_mm, self.sizes.density)
            mates = [self.shapes[mate] for mate in self.gears[ring].mates]
            thick = self.shapes[ring].thick_mm  # on whose face the rod stands: what is no thicker passes below it
            dips = [mate.tip_radius_mm - mate.pitch_radius_mm for mate in mates if mate.thick_mm > thick]
            groove = self.fittings.groove
            foot = foot_of(self.sizes, dips, 0.0 if groove is None else groove.deep_mm)
            yield BodyStand(self.design.bodies[body].name, ring, length, grams, foot)

    def screws(self, posts: tuple[PostRod, ...]) -> Iterator[Screws]:
        """With a plate at the outer side too a post counts on the level of the first thing that it carries."""
        fixed = ("wheel", "pinion", "motor pinion")
        for level in range(self.count):
            begun = sum(post.bottom == level for post in posts)
            rolling = len(self.placement.rollers[level]) if self.placement.rollers else 0
            held = sum(made.part in fixed and made.gear.level == level for made in self.gears)
            wire = self.wire
            yield Screws(
                level,
                begun * wire.post_screws * (not self.design.armed and self.fittings.shouldered),
                rolling * wire.roller_screws * self.fittings.threaded,
                held * wire.set_screws,
            )
