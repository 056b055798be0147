"""Whether posts and rings bend too far under what they carry: the judge's own way to the rule `sag`.

On a wall a post of an arbor, a third gear or a roller is a cantilever from its plate, and a ring hangs on its rollers,
which push outwards, down and its body where they are worst; on a table posts are pressed, not bent, and a ring lies on
its rollers, its body between two of them. How rollers stand is looked at (`rolled`); where none are placed, they are
taken to be as few as they may, evenly. Without rollers nobody knows how a ring is held, and it is not judged. Moduli
are those of free-cutting brass for posts and of brass wire for rings. Forces in N, lengths in mm.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction
from functools import lru_cache
from math import ceil, pi

from solver.check.lengths import length_told
from solver.check.rolled import gaps_of, hung, lying
from solver.check.verdict import Violation
from solver.check.weigh import Weights, rim_left
from solver.design.design import Design
from solver.design.links import KIND_BY_NAME
from solver.design.train import Train

HEAVY = 9.80665 / 1000  # N for a gram
RODS, WIRE, STEEL = 97e3, 110e3, 200e3  # MPa: CZ121, brass wire, carbon steel (mill data sheets, materials tables)
NU, NU_STEEL = 0.34, 0.3  # from memory
COLLAR = 2.0  # mm of a post beyond what turns on it (common practice, no source)
_WAVES = 4000


def sags(design: Design, train: Train) -> Iterator[Violation]:
    """What bends farther than it may; nothing without supports, or without places."""
    if design.supports is None or train.placement is None or not design.as_made:
        return
    most = limit_mm(design)
    for where, what, bend in bends(design, train):
        if bend > most:
            told = f"{what} bends {length_told(design, bend)}; {length_told(design, most)} are allowed"
            yield Violation("sag", where, told, bend - most)


def limit_mm(design: Design) -> float:
    """As far as anything may bend: as told, or a quarter of the addendum."""
    assert design.supports is not None
    told = design.supports.sag_mm
    return Weights(design).made.addendum / 4 if told is None else float(told)


def bends(design: Design, train: Train) -> Iterator[tuple[str, str, float]]:
    """(where, what, how far it bends [mm]) of every post that is judged, and of every ring."""
    weigh, count = Weights(design), len(train.rings)
    upright = design.supports is None or design.supports.model == "wall"
    body_on = {ring: body for body, ring in enumerate(train.seats)}
    carried = [weigh.body(body_on[ring], ring, count) if ring in body_on else 0.0 for ring in range(count)]
    if upright and design.fit.plate != "none":
        yield from _posts(weigh, train, carried)
    if design.fit.rollers is None:
        return
    fewest, placed = min(design.fit.rollers.count), () if train.placement is None else train.placement.rollers
    for ring, teeth in enumerate(train.rings):
        gaps = gaps_of(one.direction for one in placed[ring]) if ring < len(placed) else []
        gaps = gaps if len(gaps) > 1 else [Fraction(360, fewest)] * fewest
        wide = "" if max(gaps) <= ceil(72 / len(gaps)) * 5 else f" with a gap of {float(max(gaps)):g} degrees"
        what = f"the ring, {'hung' if upright else 'flat'} on {len(gaps)} rollers{wide},"
        yield f"ring {ring}", what, ring_bend(weigh, teeth, carried[ring], gaps, upright)


def _posts(weigh: Weights, train: Train, carried: Sequence[float]) -> Iterator[tuple[str, str, float]]:
    count = len(train.rings)
    post = _Cantilevers(weigh, count)
    for index, link in enumerate(train.links):
        kind, where = KIND_BY_NAME[link.kind], f"link {index}"
        one, other = ("behind" if thirds else "gear" for thirds in (kind.wheel_thirds, kind.pinion_thirds))
        loads = [
            (index, weigh.gear(link.wheel, one)),
            (index + 1, weigh.gear(link.pinion, other)),
            (index + 0.5, weigh.arbor(one, other)),
        ]
        yield where, "the post of the arbor", post.bend(index, index + 1, weigh.thick(one), weigh.thick(other), loads)
        for number, third in enumerate(link.thirds):
            level = index if number < kind.wheel_thirds else index + 1
            yield where, "the post of a third gear", post.third(level, third)
    drive = None if train.placement is None else train.placement.drive
    if drive is not None:
        for third in drive.thirds:
            yield "drive", "the post of a third gear", post.third(drive.ring, third)
    if weigh.design.fit.rollers is not None:
        wide = weigh.roller_wide
        for ring, teeth in enumerate(train.rings):
            grams = weigh.roller() + weigh.ring(teeth) + carried[ring]
            yield f"ring {ring}", "the post of a roller", post.bend(ring, ring, wide, wide, [(ring, grams)])


class _Cantilevers:
    """Posts of a train with so many rings."""

    def __init__(self, weigh: Weights, count: int) -> None:
        self.weigh, self.count, self.inner = weigh, count, weigh.design.fit.plate == "inner"
        self.stiff = RODS * pi * weigh.post**4 / 64

    def third(self, level: int, teeth: int) -> float:
        thick = self.weigh.thick("third")
        return self.bend(level, level, thick, thick, [(level, self.weigh.gear(teeth, "third"))])

    def bend(self, low: int, high: int, first: float, last: float, loads: Sequence[tuple[float, float]]) -> float:
        """How far the free end goes down. first, last: how thick what stands on its first and on its last level is;
        loads: at a level so many grams."""
        far, thick = (high, last) if self.inner else (low, first)
        long = self._at(far) + thick / 2 + COLLAR
        down = HEAVY * self.weigh.rod(long) * long**3 / 8
        for level, grams in loads:
            at = self._at(level)
            down += HEAVY * grams * (at**3 / 3 + at**2 / 2 * (long - at))  # bent to the load, straight beyond
        return down / self.stiff

    def _at(self, level: float) -> float:
        """How far the middle of a level is from the plate."""
        return self.weigh.spacing * ((level if self.inner else self.count - 1 - level) + 0.5)


def ring_bend(weigh: Weights, teeth: int, body: float, gaps: Sequence[Fraction], upright_ring: bool) -> float:
    """How far a ring with a body of so many grams goes out of round that hangs on rollers with these gaps; lying, how
    far it goes down between two of them. Infinite where roots leave no metal."""
    made = weigh.made
    if made.plate:
        deep, thick = rim_left(made), made.sheet
        if deep <= 0:
            return float("inf")
        radius = made.module * teeth / 2 - made.rim + deep / 2
        upright, level = thick * deep**3 / 12, deep * thick**3 / 12
        a, b = max(deep, thick), min(deep, thick)
        twist = a * b**3 * (1 / 3 - 0.21 * b / a + 0.0175 * (b / a) ** 5)
    else:
        radius = made.module * teeth / 2 - made.deep(made.module * teeth / 2, True) + made.loop / 2
        upright = level = pi * made.loop**4 / 64
        twist = 2 * upright
    own, force = HEAVY * weigh.ring(teeth), HEAVY * body
    if upright_ring:
        of_own, of_load = hung(gaps)
        return (of_own * own / (2 * pi) + of_load * force) * radius**3 / (WIRE * upright)
    share = twist / level / 2 / (1 + NU)
    soft = lying(gaps, share)
    if soft is None:
        soft = 2 * pi * _between(len(gaps), share), _beside(len(gaps), share)
    return (soft[0] * own / (2 * pi) + soft[1] * force) * radius**3 / (WIRE * level)


def _wave(crests: int, share: float) -> float:
    """A ring under a unit force that goes round in so many waves goes out of its plane by this, in R3 / EI."""
    return (1 + 1 / (share * crests**2)) / (crests**2 - 1) ** 2 / pi


@lru_cache(maxsize=64)
def _between(points: int, share: float) -> float:
    """Of a unit weight spread evenly, midway between two points, against the points."""
    return 2 * sum(_wave(points * odd, share) for odd in range(1, _WAVES, 2))


@lru_cache(maxsize=64)
def _beside(points: int, share: float) -> float:
    """Of a unit force midway between two points, against the plane through these. What the points bear is taken apart
    into waves round the ring, from which its own waves follow by aliasing: those of m n + q and of m n - q crests."""

    def crests(wave: int) -> Iterator[tuple[int, float]]:
        """(sign at the points, softness) of every wave of the ring that looks like this one at the points."""
        for times in range(_WAVES // points + 1):
            for number in {times * points + wave, times * points - wave}:
                if number >= 2:
                    yield (-1) ** times, _wave(number, share)

    down = sum(_wave(number, share) for number in range(2, _WAVES))
    for wave in range((points + 1) // 2):
        alike = list(crests(wave))
        crossed, straight = sum(sign * soft for sign, soft in alike), sum(soft for _, soft in alike)
        # Balance of forces and of moments says what the first two waves bear; the others keep the points in a plane.
        borne = 1.0 if wave < 2 else crossed / straight
        down -= borne * crossed
        if wave < 2:
            down -= crossed - borne * straight
    return down


def arm_holds(design: Design, owner: str, what: str) -> Callable[[float, bool], bool]:
    """Whether an arm of a length [mm], bent or not, is stiff enough for the heaviest of its kind in any train of the
    design. owner, what: of what it holds, as the rule `arm` names them."""
    if design.supports is None or not design.as_made:
        return lambda long, bent: True
    grams, most = arm_grams(design, owner, what), limit_mm(design)
    return lambda long, bent: arm_bend(design, grams, long, bent) <= most


def arm_grams(design: Design, owner: str, what: str) -> float:
    """The heaviest that an arm may hold which holds this."""
    # The motor and its third gear are held alike; rollers have numbers.
    return _heaviest(design, "motor" if owner == "drive" else what.rstrip(" 0123456789"))


@lru_cache(maxsize=64)
def _heaviest(design: Design, held: str) -> float:
    return Weights(design).most(held)


def arm_bend(design: Design, grams: float, long: float, bent: bool) -> float:
    """How far the end of an arm so long goes down under so many grams [mm]; one that is bent and flat twists too."""
    assert design.supports is not None
    steel, wide = design.supports.metal == "steel", float(design.supports.arm_mm)
    down = HEAVY * grams * long**3 * 64 / (3 * pi * wide**4) / (STEEL if steel else WIRE)
    return down * (1 + (NU_STEEL if steel else NU)) if bent and design.supports.model == "table" else down
