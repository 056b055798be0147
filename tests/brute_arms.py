"""The rule `arm` for exhaustive enumeration, in its own words and plain floats: every arm of everything that is held,
beside everything that is thick, turns or is swept in its gap. And random designs in which it says something."""

from __future__ import annotations

import math
import random
import re
from collections.abc import Iterator
from contextlib import contextmanager
from functools import lru_cache

import brute_places
from brute import SIDES
from brute_places import Lengths, enough
from brute_running import PLATE, short_thirds, wired
from random_designs import random_placed_design

from solver import Design, DesignError, parse_design
from solver.check.sag import limit_mm
from solver.check.weigh import Weights
from solver.design.train import Train

Spot = tuple[float, float]
Line = list[Spot]
Disc = tuple[Spot, float]  # with its radius


def arms_of(design: Design, x: float, y: float) -> list[Line]:
    """The arms of a target, straight ones first [mm]."""
    frame = design.fit.frame
    across, up = float(frame.width) / 2, float(frame.height) / 2

    def side(to_x: float | None, to_y: float | None) -> Spot:
        """A point of the frame's left or right side, or of its top or bottom."""
        if frame.round:
            if to_y is None:
                return math.copysign(math.sqrt(across**2 - y**2), to_x), y
            return x, math.copysign(math.sqrt(across**2 - x**2), to_y)
        return (to_x, y) if to_y is None else (x, to_y)

    found = [[(x, y), side(across, None)], [(x, y), side(-across, None)]]
    found += [[(x, y), side(None, up)], [(x, y), side(None, -up)]]
    out = math.sqrt(0.5) if frame.round else 1
    found += [[(x, y), (sx * out * across, sy * out * up)] for sx in (1, -1) for sy in (1, -1)]
    for k in range(-3, 4):
        at = k * across / 4
        far = math.sqrt(across**2 - at**2) if frame.round else up
        found += [[(x, y), (at, y), (at, sign * far)] for sign in (1, -1)]
    for k in range(-3, 4):
        at = k * up / 4
        far = math.sqrt(across**2 - at**2) if frame.round else across
        found += [[(x, y), (x, at), (sign * far, at)] for sign in (1, -1)]
    return found


def distance(line: Line, spot: Spot) -> float:
    """Least distance of a point from a line."""
    least = math.dist(line[0], spot)
    for (ax, ay), (bx, by) in zip(line, line[1:]):
        long = math.dist((ax, ay), (bx, by))
        if long:
            share = ((spot[0] - ax) * (bx - ax) + (spot[1] - ay) * (by - ay)) / long**2
            share = min(1.0, max(0.0, share))
            least = min(least, math.dist(spot, (ax + share * (bx - ax), ay + share * (by - ay))))
    return least


class Stiffness:
    """How long arms may be for what they hold: P L3 / (3 E I), with the judge's weights of the heaviest of a kind; on a
    table one that is bent twists too. Lengths [mm]; none is known where a design is not judged by it."""

    def __init__(self, design: Design) -> None:
        supports, weights = design.supports, Weights(design)
        self.weight = {held: weights.most(held) * 9.80665e-3 for held in ("arbor", "third gear", "roller", "motor")}
        elastic, poisson = {"steel": (200e3, 0.3), "brass": (110e3, 0.34)}[supports.metal]
        self.bends = 64 / (3 * math.pi * elastic * float(supports.arm_mm) ** 4)
        self.bent = 1 + poisson if supports.model == "table" else 1.0
        self.most = limit_mm(design)

    def longest(self, held: str, bent: bool) -> float:
        return (self.most / (self.weight[held] * self.bends * (self.bent if bent else 1.0))) ** (1 / 3)

    def holds(self, held: str, line: Line) -> bool:
        """held: "arbor", "third gear", "roller" or "motor", which has a third gear too."""
        long = sum(math.dist(one, other) for one, other in zip(line, line[1:]))
        return enough(self.longest(held, len(line) > 2), long)


@lru_cache(maxsize=8)
def stiffness_of(design: Design) -> Stiffness:
    return Stiffness(design)


def thick(design: Design) -> dict[str, float]:
    """How thick rings, rollers and gears are along the axis [mm]; gears by what they have: "pins" or "teeth"."""
    wire = design.wire
    hub = 2 * float(design.fit.post_radius) + 2 if wire.arbor_diameter is None else float(wire.arbor_diameter)
    if wire.form in PLATE:
        sheet = float(wire.sheet)
        return {"ring": sheet, "roller": 3 * sheet, "pins": max(sheet, hub), "teeth": max(sheet, hub)}
    teeth = wire.loop.mm + wire.tooth.mm
    pins = teeth + 2 * max(1.0, float(design.fit.clearance)) + 2 * wire.loop.mm
    pins = pins if wire.pin_length is None else float(wire.pin_length)
    return {"ring": teeth, "roller": 3 * wire.loop.mm, "pins": max(pins, hub), "teeth": max(teeth, hub)}


class Gaps:
    """What is in the gaps of a train that is placed, wholly or in part: `placed` as of `brute_places.things`; rollers:
    of each ring their spots."""

    def __init__(self, design: Design, lengths: Lengths, train: Train, placed, motor=None, rollers=()) -> None:
        self.design, self.lengths, self.train = design, lengths, train
        self.thick, fit = thick(design), design.fit
        self.arm = float(design.supports.arm_mm)
        self.room = self.arm / 2 + lengths.clear
        sleeve = design.wire.arbor_diameter
        self.sleeve = fit.post_radius + 1 if sleeve is None else sleeve / 2
        short = design.wire.third == "teeth"
        self.targets: list[tuple[int, Spot, str]] = []  # with the gap in which they are held
        self.eyes: list[tuple[int, Spot, float]] = []  # likewise, and how far they reach
        self.stiff = stiffness_of(design)
        self.arbors: dict[int, Spot] = {}
        self.gears: list[tuple[int, bool, Disc]] = []  # with the level, and whether they are tall
        ring_gap = -1 if fit.stands == "outer" else 0

        def gear(level: int, spot: Spot, radius: float, has: str) -> None:
            self.gears.append((level, self.tall(has), (spot, radius)))

        behind, third_has = ("pins", "teeth") if short else ("teeth", "pins")
        for at, (link, (arbor, thirds)) in enumerate(zip(train.links, placed)):
            on_wheel, on_pinion = SIDES[link.kind]
            self.arbors[at] = arbor
            self.targets += [(at, arbor, "arbor"), *((at, spot, "third gear") for spot in thirds)]
            gear(at, arbor, lengths.size(link.wheel, on_wheel), behind if on_wheel else "pins")
            gear(at + 1, arbor, lengths.size(link.pinion, on_pinion), behind if on_pinion else "pins")
            for number, (teeth, spot) in enumerate(zip(link.thirds, thirds)):
                level = at if on_wheel and number == 0 else at + 1
                gear(level, spot, teeth * lengths.tooth + lengths.third, third_has)
        if len(placed) > len(train.links):
            shaft, thirds = placed[-1]
            self.targets += [(motor.ring + ring_gap, spot, "motor") for spot in (shaft, *thirds)]
            gear(motor.ring, shaft, lengths.size(motor.pinion, bool(thirds)), behind if thirds else "pins")
            for spot in thirds:
                gear(motor.ring, spot, motor.third * lengths.tooth + lengths.third, third_has)
        for ring, spots in enumerate(rollers):
            for spot in spots:
                self.targets.append((ring + ring_gap, spot, "roller"))
                self.gears.append((ring, self.tall("roller"), (spot, float(fit.rollers.radius))))
        slot = (lengths.add or 2 * math.pi * lengths.tooth / 3) / 2
        post, sleeve = float(fit.post_radius), float(self.sleeve)
        motors = 0
        for gap, spot, held in self.targets:
            motors += held == "motor"  # of which the second is its third gear, on a stub that does not turn
            about = sleeve + 1 if held == "arbor" else post + 1 if held == "motor" and motors == 1 else post
            self.eyes.append((gap, spot, about + self.arm + slot))

    def tall(self, what: str) -> bool:
        """Whether a part along the axis leaves an arm less than the clearance."""
        half = self.thick[what] / 2
        return not enough(self.lengths.spacing / 2, half + self.lengths.clear + self.arm / 2)

    def all_reached(self) -> bool:
        return all(self.reached(*target) for target in self.targets) and all(map(self.eye_clear, range(len(self.eyes))))

    def eye_clear(self, number: int) -> bool:
        """Whether an eye meets no arbor, no other eye before it, and nothing that stands sweep."""
        gap, spot, reach = self.eyes[number]
        arbor = self.arbors.get(gap)
        beside = [(by, far) for level, by, far in self.eyes[:number] if level == gap]
        if arbor is not None and arbor != spot:
            beside.append((arbor, self.sleeve + self.lengths.clear))
        if not all(enough(math.dist(spot, by), reach + far) for by, far in beside):
            return False
        far, rim = math.hypot(*spot), self.lengths.rim
        for ring in self.train.seats if self.design.fit.stands == "outer" else ():
            outside = self.train.rings[ring] * self.lengths.tooth - rim / 2 + self.lengths.post + self.lengths.clear
            if ring <= gap and not enough(far, outside + reach):
                return False
        return True

    def reached(self, gap: int, spot: Spot, held: str = "roller") -> bool:
        lines = arms_of(self.design, *spot)
        return any(self.stiff.holds(held, line) and self.clear(gap, spot, line) for line in lines)

    def clear(self, gap: int, spot: Spot, line: Line) -> bool:
        """Whether an arm meets nothing that it should not."""
        for level, tall, (middle, radius) in self.gears:
            if tall and level in (gap, gap + 1) and not enough(distance(line, middle), self.room + radius):
                return False
        arbor = self.arbors.get(gap)
        if arbor is not None and arbor != spot and not enough(distance(line, arbor), self.room + float(self.sleeve)):
            return False
        tooth, rim, rings = self.lengths.tooth, self.lengths.rim, self.train.rings
        nearest, farthest = distance(line, (0.0, 0.0)), max(math.hypot(*point) for point in line)

        def outside(near: float, far: float) -> bool:
            return enough(nearest, far + self.room) or enough(near - self.room, farthest)

        for level in (gap, gap + 1):
            if 0 <= level < len(rings) and self.tall("ring"):
                radius = rings[level] * tooth
                if not outside(radius - rim, radius + self.lengths.add):
                    return False
        for ring in self.train.seats if self.design.fit.stands == "outer" else ():
            radius, post = rings[ring] * tooth - rim / 2, self.lengths.post
            if ring <= gap and not outside(radius - post, radius + post):
                return False
        return True


@contextmanager
def only_what_is_reached() -> Iterator[None]:
    """Has the enumeration of places keep the rule `arm` meanwhile, where a design has arms."""
    legal = brute_places.legal

    def legal_and_reached(design: Design, lengths: Lengths, train: Train, placed, motor=None) -> bool:
        if not legal(design, lengths, train, placed, motor):
            return False
        armed = design.supports is not None and design.fit.plate == "none"
        return not armed or Gaps(design, lengths, train, placed, motor).all_reached()

    brute_places.legal = legal_and_reached
    try:
        yield
    finally:
        brute_places.legal = legal


def armed_text(seed: int, form: str = "saw", short: bool = False) -> str:
    """A random design with arms, thick ones in deep levels for the most part, so that there is much in their way."""
    rng = random.Random(f"armed {seed}")
    text = random_placed_design(seed)
    text = re.sub(r"(side|width|height|diameter) = ([\d.]+)", lambda m: f"{m[1]} = {float(m[2]) * 3.3:.1f}", text)
    if "frame" not in text:
        shape = rng.choice(('shape = "square", side = 900', 'shape = "round", diameter = 1000'))
        text = text.replace("[fit]", f"[fit]\nframe = {{{shape}}}")
    text = re.sub(r'plate = "\w+"', 'plate = "none"', re.sub(r"max_envelope = \S+", "", text))
    text = re.sub(r'stands = "\w+"', f'stands = "{rng.choice(("none", "outer"))}"', text)
    text = wired(text, rng, form)
    text = re.sub(r"level_spacing = \S+\n", f"level_spacing = {rng.choice((60, 160, 160, 160, 160))}\n", text)
    text = re.sub(r", depth = [\d.]+", "", text)
    text = short_thirds(text) if short else text
    arm = rng.choice((4, 8, 12, 16, 20, 24, 30, 36, 42, 48))
    return text + f"[supports]\narm = {arm}\n"


def armed_design(seed: int, form: str = "saw", short: bool = False) -> Design | None:
    """None where the dice made one that files may not ask for."""
    try:
        return parse_design(armed_text(seed, form, short))
    except DesignError:
        return None


def thin_design(seed: int, form: str = "saw") -> Design | None:
    """Likewise with arms that are thin and long for what they hold: how much they may bend is drawn from what they do
    that reach across a share of the frame."""
    rng = random.Random(f"thin {seed}")
    text = re.sub(r"arm = \S+", f"arm = {rng.choice((1, 1.5, 2, 3))}", armed_text(seed, form))
    text += f'model = "{rng.choice(("wall", "wall", "table"))}"\nmetal = "{rng.choice(("steel", "brass"))}"\n'
    try:
        design = parse_design(text)
    except DesignError:
        return None
    stiff, held = Stiffness(design), rng.choice(("arbor", "arbor", "motor" if design.drive else "arbor"))
    long = rng.uniform(0.3, 1.0) * float(design.fit.frame.width) / 2
    return parse_design(text + f"sag = {stiff.most * (long / stiff.longest(held, False)) ** 3:.6f}\n")


def rollered_design(seed: int) -> Design | None:
    """Likewise with rollers, and arms most of whose eyes have room between these."""
    rng = random.Random(f"rollers {seed}")
    count, radius = rng.choice(("3", "{min = 3, max = 4}")), rng.choice((2, 4))
    rollers = f"rollers = {{count = {count}, radius = {radius}, reach = {rng.choice((60, 100, 150))}}}"
    try:
        text = re.sub(r"arm = \S+", f"arm = {rng.choice((2, 4, 6, 8, 12, 16, 24, 36))}\nsag = 80", armed_text(seed))
        return parse_design(text.replace("[fit]\n", f"[fit]\n{rollers}\n"))
    except DesignError:
        return None
