"""How meshes are adjusted: over which distances of centres each runs, and how far each post may therefore be moved.

A mesh runs from jam to slip, and strays at most `fit.unevenness` of a pitch there; one that strays more at its nominal
distance is given the span from jam to slip alone, and that is said. A post moves along one line: that of an arbor or a
motor from the main axis, that of a third gear away from both gears it stands between. An arbor's wheel and pinion move
together, so that it may go only where both run. Where both posts of a mesh can be moved, each has half of what the
mesh allows, so that it runs wherever both stand. Nearer than these slots allow is jam, farther is slip; but no slot is
longer than MOST of the addendum each way: that is half a tooth of play where flanks are straight (a tooth of height 2
* addendum narrows by half a pitch), more than hands need, and the fit was judged where posts stand in their places.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import product
from math import atan2, degrees, floor, hypot, inf

from solver.design.design import Design
from solver.design.links import KIND_BY_NAME
from solver.design.train import LinkPlace, Spot, Train
from solver.forms import FORMS
from solver.forms.form import Sizes, Spec, sizes_of
from solver.forms.runs import STEPS_PER_MM, MeshRun, Span
from solver.sheets.gears.gears import GearInTrain, gears_of, specs_of

MOST = 0.5  # of the addendum: how far a slot goes each way (common practice, no source)
_PAST = 2 / STEPS_PER_MM  # beyond a span's end [mm], where it is plain what is wrong
AXIS = ""  # in place of the name of a post: the main axis, on which rings turn

Vector = tuple[float, float]


@dataclass(frozen=True)
class Running:
    """Where a pair runs. nominal: how, at the distance of the pitch radii; None where one cannot be made. span: over
    which distances, as offsets from that; None where it does not run there. even: whether it strays no farther
    over the span. ends: how it runs at both ends of the span; beyond: what it does past them, "jams" say."""

    nominal: MeshRun | None = None
    span: Span | None = None
    even: bool = False
    ends: tuple[MeshRun, ...] = ()
    beyond: tuple[str, ...] = ()


@dataclass(frozen=True)
class MeshInTrain:
    """Two gears that work together. one, other: as they are made; posts: the names of what they turn on, AXIS for
    rings. running: where they run."""

    one: Spec
    other: Spec
    posts: tuple[str, str]
    running: Running

    @property
    def name(self) -> str:
        """ "R30 with G18"."""
        return f"{self.one.name} with {self.other.name}"


@dataclass(frozen=True)
class Post:
    """What can be moved: where it stands, from the main axis [mm], and the unit vector along which it moves."""

    at: Vector
    along: Vector

    @property
    def direction_deg(self) -> float:
        """Outwards, counterclockwise from the right."""
        return degrees(atan2(self.along[1], self.along[0])) % 360


@dataclass(frozen=True)
class Slot:
    """How far a post may be moved against its direction and along it [mm]; both 0: a round hole. inward_by, outward_by:
    what lets it move less than MOST of the addendum: meshes, and what they do beyond, "R30 with G18 jams"."""

    inward_mm: float
    outward_mm: float
    inward_by: tuple[str, ...] = ()
    outward_by: tuple[str, ...] = ()

    @property
    def round(self) -> bool:
        return not self.inward_mm and not self.outward_mm


def most_travel_mm(design: Design) -> float:
    """How far a slot goes each way at most [mm]: half the addendum that gears are made with."""
    return MOST * sizes_of(design).addendum_mm


# -- meshes ----------------------------------------------------------------------------------------------------------


def meshes_of(design: Design, train: Train) -> tuple[MeshInTrain, ...]:
    """Every mesh of a train, from the inside out. Raises DesignError for lengths that do not go together."""
    gears, sizes = gears_of(design, train), sizes_of(design)
    spec_of = {id(made): spec for spec, some in specs_of(gears).items() for made in some}
    found = []
    for index, made in enumerate(gears):
        for mate in made.mates:
            if mate > index:
                one, other = spec_of[id(made)], spec_of[id(gears[mate])]
                posts = post_name(made), post_name(gears[mate])
                found.append(MeshInTrain(one, other, posts, _running(design.wire.form, sizes, one, other)))
    return tuple(found)


@lru_cache(maxsize=1024)
def _running(name: str, sizes: Sizes, one: Spec, other: Spec) -> Running:
    form = FORMS[name]
    if any(form.outline(sizes, spec).unmade for spec in (one, other)):
        return Running()
    nominal, span = form.run(sizes, one, other), form.span(sizes, one, other, sizes.uneven)
    even = span is not None
    if span is None:
        span = form.span(sizes, one, other, inf)
    if span is None:
        return Running(nominal)
    offsets = float(span.low_mm), float(span.high_mm)
    past = [form.run(sizes, one, other, apart + far) for apart, far in zip(offsets, (-_PAST, _PAST), strict=True)]
    ends = tuple(form.run(sizes, one, other, apart) for apart in offsets)
    return Running(nominal, span, even, ends, tuple(map(what_it_does, past)))


def what_it_does(run: MeshRun) -> str:
    """What is wrong with a mesh that does not run, or strays too far, in a word."""
    if run.jams:
        return "jams" if run.backlash < 0 else "meets a hub"
    return "slips" if run.slips else "hunts"


def post_name(made: GearInTrain) -> str:
    """What a gear turns on, as it is lettered on the drawings: "L3" an arbor, "L3w" and "L3p" third gears on the
    wheel's and the pinion's side, "M" the motor, "Mt" its third gear; AXIS for a ring."""
    if made.link is None:
        return AXIS
    if made.link < 0:
        return "M" if made.part == "motor pinion" else "Mt"
    if made.part != "third gear":
        return f"L{made.link}"
    return f"L{made.link}{'w' if made.gear.level == made.link else 'p'}"


# -- posts -----------------------------------------------------------------------------------------------------------


def posts_of(train: Train) -> dict[str, Post]:
    """Arbors by link, each followed by its third gears, then the motor: what can be moved, by its name. Raises
    ValueError for a train without places."""
    if train.placement is None:
        raise ValueError("a train without places has no posts; the design needs fit.directions")
    found: dict[str, Post] = {}
    for index, (link, place) in enumerate(zip(train.links, train.placement.links, strict=True)):
        found[f"L{index}"] = _post(place.arbor)
        wheels = KIND_BY_NAME[link.kind].wheel_thirds
        for side, spot in enumerate(place.thirds):
            found[f"L{index}{'w' if side < wheels else 'p'}"] = _post(spot, place)
    drive = train.placement.drive
    if drive is not None:
        found["M"] = _post(drive.at.arbor)
        for spot in drive.at.thirds:  # none or one
            found["Mt"] = _post(spot, drive.at)
    return found


def _post(spot: Spot, beside: LinkPlace | None = None) -> Post:
    at = spot[0] / 1000, spot[1] / 1000
    away = unit(at)
    if beside is not None:  # as far from the arbor as from the main axis
        off = unit((at[0] - beside.arbor[0] / 1000, at[1] - beside.arbor[1] / 1000))
        both = away[0] + off[0], away[1] + off[1]
        away = unit(both) if hypot(*both) > 1e-6 else (-away[1], away[0])
    return Post(at, away)


def unit(vector: Vector) -> Vector:
    """A vector of length 1 in the same direction."""
    long = hypot(*vector)
    return vector[0] / long, vector[1] / long


# -- slots -----------------------------------------------------------------------------------------------------------


def slots_of(design: Design, train: Train) -> dict[str, Slot]:
    """The slot of every arbor, third gear and of the motor, by its name: as far as all its meshes run, in whole steps
    of a span, rounded inwards. Raises ValueError for a train without places."""
    return _Slots(posts_of(train), meshes_of(design, train), most_travel_mm(design)).found()


class _Slots:
    """Works out slots in whole steps of spans: [steps inwards, steps outwards] of each post."""

    def __init__(self, posts: Mapping[str, Post], meshes: Sequence[MeshInTrain], most_mm: float) -> None:
        self.posts, self.meshes = posts, meshes
        self.most = floor(most_mm * STEPS_PER_MM + 1e-9)

    def found(self) -> dict[str, Slot]:
        ways = {name: (self._far(name, -1), self._far(name, 1)) for name in self.posts}
        while nearer := next(filter(None, (self._beyond(mesh, ways) for mesh in self.meshes)), None):
            name, side = nearer
            low, high = ways[name]
            ways[name] = (low - 1, high) if side < 0 else (low, high - 1)
        return {
            name: Slot(low / STEPS_PER_MM, high / STEPS_PER_MM, self._by(name, -1, low), self._by(name, 1, high))
            for name, (low, high) in ways.items()
        }

    def _far(self, name: str, way: int) -> int:
        """How many steps a post may go one way: as far as distances change in proportion."""
        return min((self._lets(mesh, name, way) for mesh in self._of(name)), default=self.most)

    def _of(self, name: str) -> Iterator[MeshInTrain]:
        return (mesh for mesh in self.meshes if name in mesh.posts)

    def _lets(self, mesh: MeshInTrain, name: str, way: int) -> int:
        """How many steps one mesh lets a post go one way."""
        if mesh.running.span is None:
            return 0
        mate = mesh.posts[1 - mesh.posts.index(name)]
        share, rate = 1.0 if mate == AXIS else 0.5, way * self._rate(mesh, name)
        end = float(mesh.running.span.high_mm if rate > 0 else -mesh.running.span.low_mm) * share
        if abs(rate) * self.most / STEPS_PER_MM <= end:
            return self.most
        return floor(end / abs(rate) * STEPS_PER_MM + 1e-9)

    def _rate(self, mesh: MeshInTrain, name: str) -> float:
        """How much farther apart a mesh's posts are for each mm that one of them moves outwards."""
        mine, mate = self.posts[name], mesh.posts[1 - mesh.posts.index(name)]
        ahead = unit(_less(mine.at, self._at(mate)))
        return ahead[0] * mine.along[0] + ahead[1] * mine.along[1]

    def _by(self, name: str, way: int, steps: int) -> tuple[str, ...]:
        """The meshes that let a post go no farther than so many steps, and what they do beyond."""
        found = []
        for mesh in self._of(name) if steps < self.most else ():
            if mesh.running.span is None:
                does = "does not run" if mesh.running.nominal is None else what_it_does(mesh.running.nominal)
                found.append(f"{mesh.name} {does}")
            elif self._lets(mesh, name, way) <= steps:
                found.append(f"{mesh.name} {mesh.running.beyond[way * self._rate(mesh, name) > 0]}")
        return tuple(dict.fromkeys(found))

    def _beyond(self, mesh: MeshInTrain, ways: Mapping[str, tuple[int, int]]) -> tuple[str, int] | None:
        """A post and the way in which it goes too far for a mesh, by what its distance does beyond proportion. That is
        always farther: the distance of two points that move along lines is convex, so farthest at the ends of both."""
        if mesh.running.span is None:
            return None
        one, other = mesh.posts
        nominal = hypot(*_less(self._at(one), self._at(other)))
        for first, second in product((-1, 1), repeat=2):
            ends = self._moved(one, first, ways), self._moved(other, second, ways)
            if hypot(*_less(*ends)) - nominal > float(mesh.running.span.high_mm) + 1e-9:
                moved = [
                    (self._steps(name, way, ways), name, way) for name, way in ((one, first), (other, second)) if name
                ]
                most, name, way = max(moved)
                return (name, way) if most else None
        return None

    def _at(self, name: str) -> Vector:
        return (0.0, 0.0) if name == AXIS else self.posts[name].at

    def _steps(self, name: str, way: int, ways: Mapping[str, tuple[int, int]]) -> int:
        return ways[name][0 if way < 0 else 1]

    def _moved(self, name: str, way: int, ways: Mapping[str, tuple[int, int]]) -> Vector:
        if name == AXIS:
            return 0.0, 0.0
        post, far = self.posts[name], way * self._steps(name, way, ways) / STEPS_PER_MM
        return post.at[0] + far * post.along[0], post.at[1] + far * post.along[1]


def _less(one: Vector, other: Vector) -> Vector:
    return one[0] - other[0], one[1] - other[1]
