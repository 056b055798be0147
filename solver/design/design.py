"""The design: one frozen, validated object. The search receives it and never the file."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from dataclasses import dataclass, field, fields, replace
from fractions import Fraction
from itertools import combinations
from math import comb
from typing import Any, Literal

from solver.design.canonical import USUAL, json_of
from solver.design.gauges import Gauge, named_gauge
from solver.design.geometry import Pitch
from solver.design.hang import Hang, Start
from solver.design.hardware import Bench, Hardware
from solver.design.loads import ModelLoads
from solver.design.made import NOTHING, OnBench
from solver.design.once import Calls, each_time
from solver.design.supports import Supports
from solver.design.wishes import Arrange, LinkSpan, Sector

MOST_STRUCTURES = 1_000_000


@dataclass(frozen=True)
class Body:
    """A body and its period, [low, high] in one unit for all bodies; both are equal for a single period.

    cap: the body's own greatest error as a fraction (0.02 for 2 %), or None.
    """

    name: str
    low: Fraction
    high: Fraction
    sense: str
    cap: Fraction | None


@dataclass(frozen=True)
class Structure:
    """One choice of rings: the teeth that each ring may have, and the ring on which each body rides."""

    rings: tuple[tuple[int, ...], ...]
    seats: tuple[int, ...]

    @property
    def links(self) -> int:
        return len(self.rings) - 1


@dataclass(frozen=True)
class Family:
    """Structures that share their rings: every ring count in `counts`, every way to hand the rings to the bodies.

    rings: the teeth that each ring may have, for the greatest count; fewer rings leave out the outermost ones.
    """

    rings: tuple[tuple[int, ...], ...]
    counts: tuple[int, ...]
    bodies: int
    made: OnBench = NOTHING

    def structures(self) -> Iterator[Structure]:
        """Every structure, by ring count and then in lexicographic order of the bodies' rings.

        Blanks stand between bodies. One inside the first body is the same as a larger inner ring and a blank less,
        and one outside the last is a ring that nothing needs.
        """
        for count in self.counts:
            for middle in combinations(range(1, count - 1), self.bodies - 2):
                seats = (0, *middle, count - 1)
                if not self.made.held or self._seated(seats):
                    yield Structure(self.rings[:count], seats)

    def structure_count(self) -> int:
        """How many structures there are, without building them."""
        if not self.made.held:
            return sum(comb(count - 2, self.bodies - 2) for count in self.counts)
        return sum(map(self._seatings, self.counts))

    def seats(self) -> tuple[tuple[int, ...], ...]:
        """The rings that each body may ride on."""
        blanks, last = self.counts[-1] - self.bodies, self.bodies - 1
        found = (
            (0,),
            *(tuple(range(body, body + blanks + 1)) for body in range(1, last)),
            tuple(count - 1 for count in self.counts),
        )
        return tuple(self.made.seats_of(body, seats) for body, seats in enumerate(found))

    def _seated(self, seats: tuple[int, ...]) -> bool:
        return all(self.made.seats_of(body, (ring,)) for body, ring in enumerate(seats))

    def _seatings(self, count: int) -> int:
        """In how many ways the bodies may ride on so many rings."""
        ways = [0] * count
        for body in range(self.bodies):
            first, last = body == 0, body == self.bodies - 1
            among = (0,) if first else (count - 1,) if last else range(1, count - 1)
            here = self.made.seats_of(body, among)
            ways = [(1 if first else sum(ways[:ring])) if ring in here else 0 for ring in range(count)]
        return ways[count - 1]


@dataclass(frozen=True)
class Rings:
    """Teeth of the rings, either `inner_teeth + i * tooth_step` or a choice for each ring (`teeth`).

    inner_teeth, tooth_step and blanks hold every value allowed, ascending; the first two are empty where `teeth` is
    given.
    """

    inner_teeth: tuple[int, ...]
    tooth_step: tuple[int, ...]
    blanks: tuple[int, ...]
    teeth: tuple[tuple[int, ...], ...] | None
    pitch: Pitch
    addendum: Fraction
    rim: Fraction
    level_spacing: Fraction


@dataclass(frozen=True)
class Arbors:
    """Tooth counts that the gears of the links may have (the stock list already applied), and how many thirds."""

    wheel_teeth: tuple[int, ...]
    pinion_teeth: tuple[int, ...]
    third_teeth: tuple[int, ...]
    third_gears: int
    reverted: bool


@dataclass(frozen=True)
class Frame:
    """The frame, its middle on the main axis: width and height [mm] of a rectangle, or the diameter of a round one.

    depth [mm]: the levels, each one level spacing deep, stay within it; None: no limit.
    """

    shape: str
    width: Fraction
    height: Fraction
    depth: Fraction | None

    @property
    def round(self) -> bool:
        return self.shape == "round"


@dataclass(frozen=True)
class Rollers:
    """How many rollers a ring may have, their radius [mm], and how far [degrees] from a mesh the nearest may be."""

    count: tuple[int, ...]
    radius: Fraction
    reach: Fraction


@dataclass(frozen=True)
class Fit:
    """Where things may stand. directions [degrees, from the right, counterclockwise], None: no places are chosen.

    arrange: which of the places that fit is shown; "first" too where none are chosen, as if nothing were asked for.
    link_places: of single links, by link; keep_free: where no arbor and no third gear stands. The hash tells the three
    only where they are asked for.
    """

    frame: Frame | None
    clearance: Fraction
    directions: tuple[Fraction, ...] | None
    plate: str
    stands: str
    post_radius: Fraction
    rollers: Rollers | None
    arrange: Arrange = field(default="first", metadata={USUAL: "first"})
    link_places: tuple[LinkSpan, ...] = field(default=(), metadata={USUAL: ()})
    keep_free: tuple[Sector, ...] = field(default=(), metadata={USUAL: ()})


@dataclass(frozen=True)
class Drive:
    """The motor: its speeds [rev/min], its pinion, at most one third gear, and the rings it may work with.

    turn: (index of a body, wished seconds for one revolution) or None.
    """

    motor_rpm: tuple[Fraction, ...]
    pinion_teeth: tuple[int, ...]
    third_gears: int
    reverse_ok: bool
    ring: str
    turn: tuple[int, Fraction] | None


PIN_FORMS = ("saw", "curved")  # tooth forms whose toothed gears work with pin gears


@dataclass(frozen=True)
class Wire:
    """What the gears are made of, and by which tooth form: what the sheets need, and how gears run.

    stock: lengths [mm] of the bars that the maker has, ascending. loop, tooth and pin: wires of loops, of tooth wires,
    and of pins and spokes. kerf [mm]: what each cut of the saw takes; cleanup [mm]: what each piece is cut longer for
    filing its ends. density [g/cm3] of all metal. neutral: where across a bent wire its length stays, from 0 (inside)
    to 1 (outside of the bend). form: name of the tooth form. third: whether third gears have "pins", and the gears
    behind them teeth, or short "teeth", and the gears behind them pins, or what is "better" in each train. jig_pin
    [mm]: diameter of a ring's jig's pins, around which teeth are bent. pin_length [mm]: of a small gear's pins;
    None: as long as the ring between its loops needs. spokes: of each loop of a small gear. sheet [mm]: thickness
    of gears cut from plate. arbor_diameter and hub_diameter [mm]; None: as the posts need. bearings: of each arbor.
    post_screws, roller_screws, set_screws: of each post, of each roller, and of each gear that is fixed to its
    shaft. accuracy [mm]: how far teeth, pins and radii of gears may be out as the maker makes them (common
    practice, no source).
    """

    stock: tuple[Fraction, ...] = (Fraction(914), Fraction(1829))  # 3 and 6 ft, rounded down
    loop: Gauge = field(default_factory=lambda: named_gauge("AWG 14"))
    tooth: Gauge = field(default_factory=lambda: named_gauge("AWG 16"))
    pin: Gauge = field(default_factory=lambda: named_gauge("AWG 14"))
    kerf: Fraction = Fraction(1)
    cleanup: Fraction = Fraction(1)
    density: Fraction = Fraction(848, 100)  # brass wire: 8.43 to 8.53 (handbook range)
    neutral: Fraction = Fraction(1, 2)  # the centre line (common practice, no source)
    form: str = "saw"
    third: Literal["pins", "teeth", "better"] = "pins"
    jig_pin: Fraction = Fraction(2)
    pin_length: Fraction | None = None
    spokes: int = 3
    sheet: Fraction = Fraction(2)
    arbor_diameter: Fraction | None = None
    hub_diameter: Fraction | None = None
    bearings: int = 2
    post_screws: int = 1
    roller_screws: int = 1
    set_screws: int = 1
    accuracy: Fraction = Fraction(1, 2)


@dataclass(frozen=True)
class Limits:
    """The overall limits; None: no limit. max_error is a fraction, max_envelope millimetres. The hash tells
    max_new_gears only where there is one."""

    max_error: Fraction
    max_parts: int | None
    max_jigs: int | None
    max_teeth: int | None
    max_largest: int | None
    max_envelope: Fraction | None
    max_new_gears: int | None = field(default=None, metadata={USUAL: None})


@dataclass(frozen=True)
class Design:
    """One design file, resolved: bodies with exact periods, lengths in millimetres, tooth choices as tuples.

    prove: whether what the search proves is to be proven a second time. wired: whether the file has a table [wire], so
    that gears are judged as made of it. unevenness: what a mesh may then stray from even turning [share of a pitch].
    loads: what the file tells of weights, friction and what turns the model, for the sheets; None where it tells none.
    hardware, bench: what is bought and how fast the maker works, None where the file is silent; for the sheets alone.
    supports: what holds the parts in the frame, where the file says so. weights: name and weight [g] of each body that
    the file weighs; None where it weighs none. hang: how the model hangs for the sky, None where the file is silent;
    unit: of the periods, where the file says it; starts: where own bodies stood, None where it says of none. set_name:
    the body set, None without one; it says where its bodies stand and decides nothing else. distinct: which solutions
    are told apart: all of different "gears", or those that differ in the "order" of their links too. made: what exists
    already, None where the file is silent.
    """

    title: str
    units: str
    bodies: tuple[Body, ...]
    reference: str
    rings: Rings
    arbors: Arbors
    fit: Fit
    drive: Drive | None
    rank: tuple[str, ...]
    front: tuple[str, ...]
    limits: Limits
    keep: int
    time_limit_s: float
    seed: int
    wire: Wire = field(default_factory=Wire)
    prove: bool = False
    wired: bool = False
    unevenness: Fraction = Fraction(15, 100)
    loads: ModelLoads | None = None
    hardware: Hardware | None = None
    bench: Bench | None = None
    supports: Supports | None = None
    weights: tuple[tuple[str, Fraction], ...] | None = None
    hang: Hang | None = None
    unit: str | None = None
    starts: tuple[Start, ...] | None = None
    set_name: str | None = None
    distinct: str = "gears"
    made: OnBench | None = None

    def __hash__(self) -> int:
        """As a dataclass has it, worked out once: much is kept by design, and asked for in every train's places."""
        known: int | None = self.__dict__.get("_hash")
        if known is None:
            known = hash(tuple(getattr(self, one.name) for one in fields(self)))
            object.__setattr__(self, "_hash", known)
        return known

    def __getstate__(self) -> dict[str, Any]:
        """All but the hash, which texts make another in each process."""
        return {name: value for name, value in self.__dict__.items() if name != "_hash"}

    @property
    def gathers_orders(self) -> bool:
        """Whether solutions that differ in the order of their links alone are one, and there can be such."""
        return self.distinct == "gears" and any(self.rings.blanks)

    @property
    def on_bench(self) -> OnBench:
        """What exists already."""
        return self.made or NOTHING

    @property
    def counts_new(self) -> bool:
        """Whether it is told how many gears are still to be made."""
        return self.made is not None or self.ranks_new

    @property
    def ranks_new(self) -> bool:
        """Whether that decides between solutions, or which are allowed."""
        return self.limits.max_new_gears is not None or "new_gears" in (*self.rank, *self.front)

    @property
    def sky(self) -> Hang:
        """How the model hangs for the sky."""
        return self.hang or Hang()

    @property
    def armed(self) -> bool:
        """Whether arms from the frame hold what stands in each gap, so that the rule `arm` is in force."""
        return self.supports is not None and self.fit.plate == "none"

    @property
    def hung(self) -> bool:
        """Whether the model hangs on a wall, its main axis level, as one without supports is taken to do; else it
        stands on a table, its axis upright."""
        return self.supports is None or self.supports.model == "wall"

    @property
    def as_made(self) -> bool:
        """Whether gears are judged as their tooth form makes them, and not as discs of one addendum: the rules `run`
        and `level` are in force, and gears take the room that they have."""
        return self.wired and self.arbors.reverted

    @property
    def cranked(self) -> bool:
        """Whether a hand crank turns the model in place of a motor."""
        return self.drive is not None and self.loads is not None and self.loads.crank is not None

    @property
    def motored(self) -> bool:
        """Whether a motor turns the model."""
        return self.drive is not None and not self.cranked

    @property
    def ring_counts(self) -> frozenset[int]:
        """The teeth that any ring may have; none where the frame is too shallow for any rings."""
        return frozenset(teeth for family in self.families() for choice in family.rings for teeth in choice)

    @property
    def gear_counts(self) -> frozenset[int]:
        """The teeth that a wheel, a pinion or the motor's pinion may have."""
        arbors, motor = self.arbors, () if self.drive is None else self.drive.pinion_teeth
        return frozenset((*arbors.wheel_teeth, *arbors.pinion_teeth, *motor))

    @property
    def third_counts(self) -> frozenset[int]:
        """The teeth that a third gear may have, of a link or of the motor; none where there may be no third gears."""
        some = self.arbors.third_gears > 0 or (self.drive is not None and self.drive.third_gears > 0)
        return frozenset(self.arbors.third_teeth if some else ())

    @property
    def third_toothing(self) -> Literal["pins", "teeth", "better"] | None:
        """What third gears have: pins, or short teeth, or what is better; None where gears are not judged as made, or
        are cut from plate."""
        return self.wire.third if self.as_made and self.wire.form in PIN_FORMS else None

    def without_places(self) -> Design:
        """The same design where teeth alone decide: no frame, directions, posts, stands, rollers or drive."""
        fit = Fit(None, self.fit.clearance, None, "none", "none", self.fit.post_radius, None)
        return replace(self, fit=fit, drive=None, supports=None)

    def families(self) -> tuple[Family, ...]:
        """The structures of the design, gathered by their rings: by inner teeth, then by tooth step.

        Numbers of rings whose levels are deeper than the frame are left out; there may be none left.
        """
        bodies, made = len(self.bodies), self.on_bench
        counts = self._counts()
        if not counts:
            return ()
        if self.rings.teeth is not None:
            every = [self.rings.teeth[: counts[-1]]]
        else:
            every = [
                tuple((inner + i * step,) for i in range(counts[-1]))
                for inner in self.rings.inner_teeth
                for step in self.rings.tooth_step
            ]
        if not made.held:
            return tuple(Family(rings, counts, bodies) for rings in every)
        held = (made.ring_teeth(rings) for rings in every)
        return tuple(Family(rings, counts, bodies, made) for rings in held if all(rings))

    def _counts(self) -> tuple[int, ...]:
        """The numbers of rings that there may be."""
        bodies, made = len(self.bodies), self.on_bench
        counts = (bodies + blanks for blanks in self.rings.blanks)
        found = tuple(count for count in counts if made.least_rings <= count <= self.most_levels())
        if made.held:
            found = tuple(count for count in found if Family((), (count,), bodies, made).structure_count())
        return found

    def most_levels(self) -> int:
        """How many levels the depth of the frame has room for."""
        frame = self.fit.frame
        if frame is None or frame.depth is None:
            return MOST_STRUCTURES
        return int(frame.depth // self.rings.level_spacing)

    def structures(self) -> tuple[Structure, ...]:
        """Every structure of every family."""
        return tuple(structure for family in self.families() for structure in family.structures())

    def structure_count(self) -> int:
        """How many structures there are, without building them."""
        bodies, rings = len(self.bodies), self.rings
        if self.made is not None:
            return sum(family.structure_count() for family in self.families())
        families = 1 if rings.teeth is not None else len(rings.inner_teeth) * len(rings.tooth_step)
        most = self.most_levels()
        return families * sum(comb(bodies + n - 2, bodies - 2) for n in rings.blanks if bodies + n <= most)

    def canonical(self) -> dict[str, Any]:
        """The whole design as plain JSON data; two files that mean the same give the same.

        Without `prove`, as no solution depends on a second proof; without `wire` where the file has no such table,
        as gears are then not judged as made; and without those tables of which it has none. `distinct` is told unless
        it is "order": such a design has the answers, and the hash, that it had when there was no other choice.
        """
        plain: dict[str, Any] = json.loads(self.canonical_text())
        return plain

    def canonical_text(self, once: Calls = each_time) -> str:
        """The same as JSON, keys sorted, without spaces. once: how to write a part that other designs may share."""
        told = [name for name in _TABLES if getattr(self, name) is not None]
        told += ["distinct"] if self.distinct != "order" else []
        names = sorted((*(_WIRED if self.wired else _ANSWERED), *told))
        return "{" + ",".join(f'"{name}":{once(json_of, getattr(self, name), once)}' for name in names) + "}"

    def sha256(self) -> str:
        """Hash of the canonical form: the design's name in answers and stored runs."""
        return hashlib.sha256(self.canonical_text().encode()).hexdigest()


# Of the hash where the file has them.
_TABLES = ("loads", "hardware", "bench", "supports", "weights", "hang", "unit", "starts", "made")
_WIRED = tuple(sorted({f.name for f in fields(Design)} - {"prove", "wired", "set_name", "distinct", *_TABLES}))
_ANSWERED = tuple(name for name in _WIRED if name not in ("wire", "unevenness"))
