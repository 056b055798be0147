"""Gears as they are drawn turning: one outline for each, made once, with tooth or pin 0 to the right."""

from __future__ import annotations

from math import cos, pi, sin

Point = tuple[float, float]

_HALF = 0.21  # of a tooth pitch: half a tooth on the pitch circle; the rest of a quarter is play that can be seen
_DEEPER = 1.2  # how much deeper a gap is than a tooth is high
_LEAST_ROOT = 0.3  # of the pitch radius: gears of few, high teeth keep a body


def outline(teeth: int, pitch_radius: float, tip_radius: float) -> list[Point]:
    """The corners of a gear, counterclockwise from the tip of tooth 0: for each tooth its tip and the next two roots.

    Flanks are straight in angle and radius, so that two gears in mesh run with the same play at every height.
    """
    high = tip_radius - pitch_radius
    deep = min(_DEEPER * high, (1 - _LEAST_ROOT) * pitch_radius)
    root, wide = pitch_radius - deep, _HALF * (1 + deep / high)
    corners = []
    for tooth in range(teeth):
        for radius, turn in ((tip_radius, tooth), (root, tooth + wide), (root, tooth + 1 - wide)):
            angle = 2 * pi * turn / teeth
            corners.append((radius * cos(angle), radius * sin(angle)))
    return corners


def repeated(tooth: list[Point], teeth: int) -> list[Point]:
    """The corners of a gear from those of one tooth, gap to gap, on the right."""
    turns = [(cos(2 * pi * index / teeth), sin(2 * pi * index / teeth)) for index in range(teeth)]
    return [(c * x - s * y, s * x + c * y) for c, s in turns for x, y in tooth[1:]]


def pins(teeth: int, pitch_radius: float, pin: float, inside: float, scale: float) -> str:
    """Path data of a gear of pins times `scale`: a circle of radius `pin` for each, and the loop that holds them, from
    `inside` to where pins begin [as the radii]."""
    turns = [2 * pi * index / teeth for index in range(teeth)]
    found = [_circle(pitch_radius * cos(turn) * scale, pitch_radius * sin(turn) * scale, pin * scale) for turn in turns]
    return "".join([*found, *(_circle(0.0, 0.0, radius * scale) for radius in (pitch_radius - pin, inside))])


def _circle(x: float, y: float, radius: float) -> str:
    told = f"{radius:.2f}"
    half = f"a{told} {told} 0 1 0"
    return f"M{x + float(told):.2f} {y:.2f}{half} -{2 * float(told):.2f} 0{half} {2 * float(told):.2f} 0z"


def path(corners: list[Point], scale: float, hole: float = 0.0) -> str:
    """Path data of an outline times `scale`, in hundredths of a unit, with a round hole of a radius [as the corners].

    Steps are relative and each is taken from the rounded place before it, so that no error adds up.
    """
    at = (round(corners[0][0] * scale * 100), round(corners[0][1] * scale * 100))
    steps = [f"M{_hundredths(at[0])} {_hundredths(at[1])}l"]
    for x, y in corners[1:]:
        to = (round(x * scale * 100), round(y * scale * 100))
        steps.append(f"{_hundredths(to[0] - at[0])} {_hundredths(to[1] - at[1])}")
        at = to
    text = steps[0] + " ".join(steps[1:]) + "z"
    return text + _circle(0.0, 0.0, hole * scale) if hole > 0 else text


def _hundredths(whole: int) -> str:
    return f"{whole / 100:g}"
