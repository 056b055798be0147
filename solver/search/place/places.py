"""The places of one shape, as spots in whole micrometres, and which of two shapes' places can be had together."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import compress, product

import numpy as np

from solver.design.arms import gap_of_ring
from solver.design.train import LinkPlace
from solver.search.place.arm_ways import ARBOR, MOTOR, ROLLER, THIRD
from solver.search.place.measures import Measures, apart, least_of, needs, squares
from solver.search.place.shapes import ArborShape, share
from solver.search.place.slabs import SlabDisc, discs_of, levels_clear

Spots = tuple[np.ndarray, np.ndarray]  # x and y of each place [micrometres]
SideChoice = tuple[tuple[int, ...], list[Spots]]  # sizes of the gears on one side of a link, and the spots of each
_ROWS = 200  # places that are compared with others at once


@dataclass(frozen=True)
class GearSpots:
    """One gear of a shape at all its places; size: its teeth and reach (`reaches`)."""

    level: int
    size: int
    xs: np.ndarray
    ys: np.ndarray


@dataclass(frozen=True)
class PostSpots:
    """The post that holds an arbor or a third gear, at all places; it passes the levels in `passes`."""

    passes: range
    xs: np.ndarray
    ys: np.ndarray


@dataclass(frozen=True)
class MeshSpots:
    """A mesh that pushes on the ring of a level, with its direction [degrees] at all places; for a third gear's only
    where there are rollers."""

    level: int
    angles: tuple[float, ...]


@dataclass(frozen=True, eq=False)
class HeldSpots:
    """What an arm must reach in a gap, at all places, and which arms are free there as far as its own thing and the
    bodies' stands tell; free: shape (places, arms)."""

    gap: int
    xs: np.ndarray
    ys: np.ndarray
    free: np.ndarray


@dataclass(frozen=True, eq=False)
class Places:
    """All places of one shape, in the order in which they are preferred: by direction, then counterclockwise first.
    held: of a motor, what arms must reach beside the arbor of another thing."""

    shape: ArborShape
    directions: tuple[Fraction, ...]
    gears: tuple[GearSpots, ...]
    posts: tuple[PostSpots, ...]
    meshes: tuple[MeshSpots, ...]
    arbor: Spots
    thirds: tuple[Spots, ...]
    held: tuple[HeldSpots, ...] = ()

    def __len__(self) -> int:
        return len(self.directions)

    def at(self, index: int) -> LinkPlace:
        """The place with that index."""
        arbor, *thirds = ((int(xs[index]), int(ys[index])) for xs, ys in (self.arbor, *self.thirds))
        return LinkPlace(self.directions[index], self.shape.radius, arbor, tuple(thirds))

    def only(self, kept: np.ndarray) -> Places:
        """The places that are kept."""
        if kept.all():
            return self
        chosen = np.flatnonzero(kept).tolist()
        return Places(
            self.shape,
            tuple(self.directions[i] for i in chosen),
            tuple(GearSpots(one.level, one.size, one.xs[kept], one.ys[kept]) for one in self.gears),
            tuple(PostSpots(one.passes, one.xs[kept], one.ys[kept]) for one in self.posts),
            tuple(MeshSpots(one.level, tuple(one.angles[i] for i in chosen if one.angles)) for one in self.meshes),
            (self.arbor[0][kept], self.arbor[1][kept]),
            tuple((xs[kept], ys[kept]) for xs, ys in self.thirds),
            tuple(HeldSpots(one.gap, one.xs[kept], one.ys[kept], one.free[kept]) for one in self.held),
        )


@dataclass(frozen=True)
class JoinedGears:
    """One gear of several shapes at all their places, its size at each."""

    level: int
    size: np.ndarray
    xs: np.ndarray
    ys: np.ndarray


@dataclass(frozen=True, eq=False)
class JoinedPlaces:
    """The places of several shapes, one shape after the other, whose gears and posts are on the same levels; shapes: of
    which each place is; held: as of `Places`."""

    shapes: tuple[ArborShape, ...]
    gears: tuple[JoinedGears, ...]
    posts: tuple[PostSpots, ...]
    meshes: tuple[MeshSpots, ...]
    held: tuple[HeldSpots, ...] = ()

    def __len__(self) -> int:
        return len(self.shapes)

    def only(self, kept: np.ndarray) -> JoinedPlaces:
        """The places that are kept."""
        return JoinedPlaces(
            tuple(compress(self.shapes, kept)),
            tuple(JoinedGears(one.level, one.size[kept], one.xs[kept], one.ys[kept]) for one in self.gears),
            tuple(PostSpots(one.passes, one.xs[kept], one.ys[kept]) for one in self.posts),
            tuple(MeshSpots(one.level, tuple(compress(one.angles, kept))) for one in self.meshes),
            tuple(HeldSpots(one.gap, one.xs[kept], one.ys[kept], one.free[kept]) for one in self.held),
        )


def joined(some: Sequence[Places]) -> JoinedPlaces:
    """These places as those of one thing."""

    def gathered(one: Sequence[GearSpots] | Sequence[PostSpots] | Sequence[HeldSpots]) -> Spots:
        return np.concatenate([each.xs for each in one]), np.concatenate([each.ys for each in one])

    gears = [
        JoinedGears(one[0].level, np.concatenate([np.full(len(each.xs), each.size) for each in one]), *gathered(one))
        for one in zip(*(places.gears for places in some), strict=True)
    ]
    posts = [PostSpots(one[0].passes, *gathered(one)) for one in zip(*(places.posts for places in some), strict=True)]
    meshes = [
        MeshSpots(one[0].level, tuple(angle for each in one for angle in each.angles))
        for one in zip(*(places.meshes for places in some), strict=True)
    ]
    shapes = tuple(places.shape for places in some for _ in range(len(places)))
    held = [
        HeldSpots(one[0].gap, *gathered(one), np.concatenate([each.free for each in one]))
        for one in zip(*(places.held for places in some), strict=True)
    ]
    return JoinedPlaces(shapes, tuple(gears), tuple(posts), tuple(meshes), tuple(held))


def alike(some: Iterable[Places]) -> list[JoinedPlaces]:
    """These places, joined where their gears and posts are on the same levels."""
    found: dict[tuple[object, ...], list[Places]] = {}
    for places in some:
        levels = tuple(gear.level for gear in places.gears)
        found.setdefault((levels, tuple(post.passes for post in places.posts)), []).append(places)
    return [joined(places) for places in found.values()]


def squares_between(one: PostSpots | GearSpots, other: PostSpots | GearSpots) -> np.ndarray:
    """Squares of the distances of two things at each place."""
    return squares(one.xs - other.xs, one.ys - other.ys)


def any_apart(measures: Measures, one: list[SideChoice], other: list[SideChoice], tick: Callable[[], None]) -> bool:
    """Whether some choice of one side of a link leaves room for some choice of another on the same level."""
    for sizes, at in one:
        for begin in range(0, len(at[0][0]), _ROWS):
            tick()
            part = [(xs[begin : begin + _ROWS], ys[begin : begin + _ROWS]) for xs, ys in at]
            for near_sizes, near in other:
                kept = np.ones((len(part[0][0]), len(near[0][0])), bool)
                for gear, (xs, ys) in zip(sizes, part, strict=True):
                    for beside_gear, (near_xs, near_ys) in zip(near_sizes, near, strict=True):
                        kept &= apart(xs, ys, near_xs, near_ys, measures.gears(gear + beside_gear))
                if kept.any():
                    return True
    return False


def _together(sizes: int | np.ndarray, others: int | np.ndarray) -> int | np.ndarray:
    """The sums of two gears' sizes; where they are joined, at every two places."""
    if isinstance(sizes, int) and isinstance(others, int):
        return sizes + others
    return np.reshape(sizes, (-1, 1)) + others


def compatible(measures: Measures, one: Places | JoinedPlaces, other: Places | JoinedPlaces) -> np.ndarray:
    """Which places of two things can be had together; shape (len(one), len(other))."""
    kept = np.ones((len(one), len(other)), bool)
    for gear in one.gears:
        for beside in other.gears:
            if gear.level == beside.level:
                need = needs(measures.gears, _together(gear.size, beside.size))
                kept &= apart(gear.xs, gear.ys, beside.xs, beside.ys, need)
    for first, second, across in ((one, other, False), (other, one, True)):
        for post in first.posts:
            for gear in second.gears:
                if gear.level in post.passes:
                    need = needs(lambda size: measures.gear_and(size, measures.post), gear.size)
                    table = apart(post.xs, post.ys, gear.xs, gear.ys, need)
                    kept &= table.T if across else table
    for post in one.posts:
        for by in other.posts:
            if share(post.passes, by.passes):
                kept &= apart(post.xs, post.ys, by.xs, by.ys, measures.rounds(measures.post, measures.post))
    if measures.arms is not None:
        for first, second, across in ((one, other, False), (other, one, True)):
            arbor = arbor_of(second)
            for held in first.held:
                if arbor is not None and held.gap == arbor[0]:
                    table = measures.arms.past(held.xs, held.ys, held.free, arbor[1])
                    kept &= table.T if across else table
    for table in levels_clear(measures, slabs_at(measures, one), slabs_at(measures, other)):
        kept &= table
    for table in eyes_clear(measures, one, other):
        kept &= table
    return kept


def eyes_clear(measures: Measures, one: Places | JoinedPlaces, other: Places | JoinedPlaces) -> Iterator[np.ndarray]:
    """At which places the eyes of two things that are held in one gap are clear of each other, eye by eye."""
    if measures.eyes is None or not len(one) or not len(other):
        return
    (gap, mine), (by_gap, others) = (held_spots(thing, measures.fit.stands) for thing in (one, other))
    if gap == by_gap:
        for (number, at), (by, there) in product(enumerate(mine), enumerate(others)):
            yield apart(*at, *there, measures.eyes.need(eye_of(one, number), eye_of(other, by)))


def own_eyes_clear(measures: Measures, thing: Places | JoinedPlaces, disc: Fraction | None) -> np.ndarray:
    """At which places the eyes of one thing are clear of each other, and of a disc of that radius about the main axis
    (`ArmWays.disc`), where there is one. For a design with arms."""
    eyes, kept = measures.eyes, np.ones(len(thing), bool)
    assert eyes is not None
    _, spots = held_spots(thing, measures.fit.stands)
    for number, (xs, ys) in enumerate(spots):
        held = eye_of(thing, number)
        kept &= eyes.clear_of(disc, held, xs, ys)
        for by, (to_x, to_y) in enumerate(spots[:number]):
            kept &= squares(xs - to_x, ys - to_y) >= least_of(eyes.need(held, eye_of(thing, by)), xs, to_x)
    return kept


def arbor_of(thing: Places | JoinedPlaces) -> tuple[int, Spots] | None:
    """The gap that the arbor of a link stands in, and its spots; None: it is no link, or has no places."""
    if not len(thing):
        return None
    shape = thing.shape if isinstance(thing, Places) else thing.shapes[0]
    if len(shape.sides) == 1:
        return None
    return shape.sides[0].level, (thing.gears[0].xs, thing.gears[0].ys)


def held_spots(thing: Places | JoinedPlaces, stands: str) -> tuple[int, list[Spots]]:
    """The gap in which a thing, which has places, is held, and what of it arms must reach: the arbor or the motor's
    shaft, then its third gears. stands: as of `Fit`."""
    shape = thing.shape if isinstance(thing, Places) else thing.shapes[0]
    # Of two gears on one level the second is the third gear; of two on different levels it is on the arbor too.
    levels = [gear.level for gear in thing.gears]
    thirds = [number for number in range(1, len(levels)) if levels[number] == levels[number - 1]]
    return gap_held(shape, stands), [(thing.gears[number].xs, thing.gears[number].ys) for number in (0, *thirds)]


def gap_held(shape: ArborShape, stands: str) -> int:
    """The gap in which a shape is held."""
    level = shape.sides[0].level
    return level if len(shape.sides) > 1 else gap_of_ring(level, stands)


def held_as(thing: Places | JoinedPlaces | ArborShape, number: int) -> str:
    """What the spots with that number of `held_spots` are to an arm."""
    shape = thing.shape if isinstance(thing, Places) else thing.shapes[0] if isinstance(thing, JoinedPlaces) else thing
    if len(shape.sides) == 1:
        return MOTOR
    return THIRD if number else ARBOR


def nowhere(shape: ArborShape) -> Places:
    """A shape without a place."""
    none = np.zeros(0, np.int64)
    return Places(shape, (), (), (), (), (none, none), ())


def beside_roller_eyes(
    measures: Measures, thing: Places | JoinedPlaces, gap: int, xs: np.ndarray, ys: np.ndarray
) -> Iterator[np.ndarray]:
    """At which places the eyes of a thing are clear of those of rollers at these spots, held in that gap, eye by eye;
    shape (places, spots)."""
    if measures.eyes is None or not len(thing):
        return
    by_gap, spots = held_spots(thing, measures.fit.stands)
    if gap == by_gap:
        for number, at in enumerate(spots):
            yield apart(*at, xs, ys, measures.eyes.need(eye_of(thing, number), ROLLER))


def eye_of(thing: Places | JoinedPlaces, number: int) -> str:
    """Likewise to an eye: what a motor's third gear stands on does not turn in it."""
    return THIRD if number else held_as(thing, 0)


def slabs_at(measures: Measures, places: Places | JoinedPlaces) -> list[SlabDisc]:
    """The discs of gears and hubs that may touch on other levels; none where nothing is thick, or nowhere stands."""
    if measures.thick is None or not len(places):
        return []
    shape = places.shape if isinstance(places, Places) else places.shapes[0]
    return discs_of(measures, shape, places.gears)
