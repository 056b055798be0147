"""The drawing of a model that turns, as data for the page: outlines made once, and where each stands at the start.

Units of the drawing: everything lies within a circle of radius 500 about the main axis, y upwards. What turns has one
transform, which the page's script sets anew for every frame.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from math import cos, pi, sin

from solver.service.page.motion import GearMotion, Motion, RingMotion
from solver.service.page.outline import outline, path, pins, repeated
from solver.service.page.still import EdgeMotion, FrameMotion

REACH = 500.0
TONES = 8
FAR_FRAME = 1.7  # a frame that is so many times larger than the model is told, not drawn; so in the sheets' views
_MARGIN = 22.0
_STILL = 3  # decimals of a place in the drawing


@dataclass(frozen=True)
class Toothed:
    """A ring or gear: where it stands, what it looks like, and how it turns."""

    id: str
    part: str
    level: int
    tone: int
    teeth: int
    told: str
    x: float
    y: float
    outline: str
    tip: float
    pitch: float
    hub: float
    rate: str
    phase: str
    degrees: float
    ring: int | None = None
    link: int | None = None


@dataclass(frozen=True)
class Disc:
    """A body on its ring, and where it should be."""

    ring: int
    name: str
    radius: float
    size: float
    rate: str
    true_rate: str
    phase: str
    x: float
    y: float
    side: int
    error_pct: float
    period: str
    sense: str


@dataclass(frozen=True)
class Turning:
    """The whole drawing. levels: what stands on each, from ring 0's on. box: left, top, width and height of what is
    seen of it, y downwards, alike to the left and to the right, so that it holds from the back too. held: path data of
    the arms in a frame, bars: of its bars, "" where there are none; thick: how thick these lines are. edge: of a frame
    that is only a size, far: whether it is too large to be seen. rollers: middles and radii. post: radius of posts."""

    scale: float
    box: tuple[float, float, float, float]
    levels: tuple[tuple[Toothed, ...], ...]
    discs: tuple[Disc, ...]
    arbors: tuple[tuple[float, float], ...]
    apart: tuple[tuple[float, float, float, float], ...]
    meshes: str
    held: str = ""
    thick: tuple[float, float] = (0.0, 0.0)
    bars: str = ""
    edge: str = ""
    far: bool = False
    rollers: tuple[tuple[float, float, float], ...] = ()
    post: float = 3.0


def turning(motion: Motion) -> Turning:
    """The drawing of a model."""
    scale = REACH / motion.envelope
    count = len(motion.rings)
    levels: list[list[Toothed]] = [[_ring(ring, scale, count)] for ring in motion.rings]
    for gear in motion.gears:
        levels[gear.level].append(_gear(gear, scale, count))
    gap = min((outer.pitch_radius - inner.pitch_radius for inner, outer in pairwise(motion.rings)), default=0.0)
    size = min(max(0.42 * gap * scale, 5.0), 15.0)
    spots = {(_round(gear.x * scale), _round(gear.y * scale)) for gear in motion.gears}
    return Turning(
        scale=scale,
        box=_box(motion, scale),
        levels=tuple(map(tuple, levels)),
        discs=tuple(_disc(ring, place, size, scale) for place, ring in enumerate(_riders(motion))),
        arbors=tuple(sorted(spots)),
        apart=() if motion.one_arbor else tuple(_apart(motion, scale)),
        meshes=" ".join(f"{first}:{second}" for first, second in motion.meshes),
        held=_arms(motion.supports, scale),
        bars=_bars(motion.supports, scale),
        thick=_thick(motion.supports, scale),
        edge="" if motion.edge is None else _around(motion.edge, 0.0, scale),
        far=motion.edge is not None and _far(motion.edge, motion),
        rollers=tuple(
            (_round(one.x * scale), _round(one.y * scale), _round(one.radius * scale)) for one in motion.rollers
        ),
        post=max(_round(motion.post * scale), 3.0),
    )


def _arms(held: FrameMotion | None, scale: float) -> str:
    """The middle lines of all arms."""
    lines = [] if held is None else [arm.points for arm in held.arms]
    return "".join("M" + "L".join(f"{_round(x * scale)} {_round(y * scale)}" for x, y in line) for line in lines)


def _bars(held: FrameMotion | None, scale: float) -> str:
    """The middle lines of the bars around everything."""
    return "" if held is None else _around(held, held.bar / 2, scale)


def _around(frame: FrameMotion | EdgeMotion, beyond: float, scale: float) -> str:
    """A line around everything, so far beyond the inside of a frame [mm]."""
    x, y = (_round((half + beyond) * scale) for half in (frame.half_width, frame.half_height))
    return f"M{x} 0A{x} {x} 0 1 0 {-x} 0A{x} {x} 0 1 0 {x} 0Z" if frame.round else f"M{x} {y}H{-x}V{-y}H{x}Z"


def _far(edge: EdgeMotion, motion: Motion) -> bool:
    """Whether a frame is so much larger than the model that the model would be small in it."""
    return max(edge.half_width, edge.half_height) > FAR_FRAME * motion.envelope


def _thick(held: FrameMotion | None, scale: float) -> tuple[float, float]:
    return (0.0, 0.0) if held is None else (_round(held.bar * scale), _round(held.arm * scale))


def _box(motion: Motion, scale: float) -> tuple[float, float, float, float]:
    rings = max(ring.tip_radius for ring in motion.rings)
    half = max(rings, *(abs(gear.x) + gear.tip_radius for gear in motion.gears)) * scale + _MARGIN
    top = max(rings, *(gear.y + gear.tip_radius for gear in motion.gears)) * scale + _MARGIN
    bottom = max(rings, *(gear.tip_radius - gear.y for gear in motion.gears)) * scale + _MARGIN
    if motion.supports is not None:
        held = motion.supports
        half = max(half, (held.half_width + held.bar) * scale + _MARGIN / 2)
        top, bottom = (max(side, (held.half_height + held.bar) * scale + _MARGIN / 2) for side in (top, bottom))
    if motion.edge is not None and not _far(motion.edge, motion):
        half = max(half, motion.edge.half_width * scale + _MARGIN / 2)
        top, bottom = (max(side, motion.edge.half_height * scale + _MARGIN / 2) for side in (top, bottom))
    return tuple(round(side, 1) for side in (-half, -top, 2 * half, top + bottom))  # type: ignore[return-value]


def _riders(motion: Motion) -> list[RingMotion]:
    return [ring for ring in motion.rings if ring.body is not None]


def tone(level: int, count: int) -> int:
    """Which of the tones a level has, from 0 (ring 0) on."""
    return round(level * (TONES - 1) / max(count - 1, 1))


def _ring(ring: RingMotion, scale: float, count: int) -> Toothed:
    return Toothed(
        id=ring.id,
        part="ring",
        level=ring.level,
        tone=tone(ring.level, count),
        teeth=ring.teeth,
        told=f"ring {ring.index}, {ring.name}, {ring.teeth} teeth",
        x=0.0,
        y=0.0,
        outline=_outline(ring, scale, _hole(ring)),
        tip=_round(ring.tip_radius * scale),
        pitch=_round(ring.pitch_radius * scale),
        hub=0.0,
        rate=repr(ring.rate_float),
        phase=repr(ring.phase_turns),
        degrees=_round(360 * ring.phase_turns),
        ring=ring.index,
    )


def _outline(one: RingMotion | GearMotion, scale: float, hole: float) -> str:
    """What it looks like as it is made; as a gear with teeth of a usual shape where that is not judged."""
    look = one.look
    if look is None:
        return path(outline(one.teeth, one.pitch_radius, one.tip_radius), scale, hole)
    if look.pin:
        return pins(one.teeth, one.pitch_radius, look.pin / 2, look.inside, scale)
    return path(repeated(look.tooth, one.teeth), scale, hole)


def _hole(ring: RingMotion) -> float:
    """The radius of a ring's hole: a ring whose rim is as low as its teeth are deep keeps a thin line of body."""
    if ring.look is not None:
        return ring.look.inside
    deep = ring.pitch_radius - 1.2 * (ring.tip_radius - ring.pitch_radius)
    return max(min(ring.inner_radius, deep - 0.5 * (ring.tip_radius - ring.pitch_radius)), 0.0)


def _gear(gear: GearMotion, scale: float, count: int) -> Toothed:
    where = "motor" if gear.link is None else f"link {gear.link}"
    what = "pinion" if gear.part == "motor" else "third gear" if gear.part == "third" else gear.part
    return Toothed(
        id=gear.id,
        part=gear.part,
        level=gear.level,
        tone=tone(gear.level, count),
        teeth=gear.teeth,
        told=f"{where}, {what}, {gear.teeth} teeth",
        x=_round(gear.x * scale),
        y=_round(gear.y * scale),
        outline=_outline(gear, scale, 0.0),
        tip=_round(gear.tip_radius * scale),
        pitch=_round(gear.pitch_radius * scale),
        hub=_round(0.3 * gear.pitch_radius * scale),
        rate=repr(gear.rate_float),
        phase=repr(gear.phase_turns),
        degrees=_round(360 * gear.phase_turns),
        link=gear.link,
    )


def _disc(ring: RingMotion, place: int, size: float, scale: float) -> Disc:
    assert ring.body is not None
    radius = _round((_hole(ring) + ring.pitch_radius) / 2 * scale)
    angle = 2 * pi * ring.phase_turns
    return Disc(
        ring=ring.index,
        name=ring.name,
        radius=radius,
        size=_round(size),
        rate=repr(ring.rate_float),
        true_rate=repr(ring.body.true_rate_float),
        phase=repr(ring.phase_turns),
        x=_round(radius * cos(angle)),
        y=_round(radius * sin(angle)),
        side=1 if place % 2 == 0 else -1,
        error_pct=ring.body.error_pct,
        period=ring.body.period,
        sense="reverse" if ring.rate_float < 0 else "same",
    )


def _apart(motion: Motion, scale: float) -> list[tuple[float, float, float, float]]:
    """Lines between wheel and pinion of a link that are drawn apart."""
    found = {gear.id: gear for gear in motion.gears}
    lines = []
    for link in range(len(motion.rings) - 1):
        wheel, pinion = found[f"wheel-{link}"], found[f"pinion-{link}"]
        x, y, to_x, to_y = (_round(side * scale) for side in (wheel.x, wheel.y, pinion.x, pinion.y))
        lines.append((x, y, to_x, to_y))
    return lines


def _round(value: float) -> float:
    return round(value, _STILL) + 0.0
