"""What the limits of a design file are, in a few words each: for readers who do not know the fields' names."""

from __future__ import annotations

import re
from collections.abc import Sequence

_WORDS = {
    "rings.inner_teeth": "teeth of the innermost ring",
    "rings.tooth_step": "teeth that each ring has more than the one within",
    "rings.blanks": "blank rings",
    "rings.teeth": "teeth of the rings",
    "rings.level_spacing": "distance from level to level",
    "rings.addendum": "height of the teeth above the pitch circle",
    "rings.rim": "depth of the rim below the pitch circle",
    "arbors.wheel_teeth.max": "most teeth of a wheel",
    "arbors.wheel_teeth.min": "fewest teeth of a wheel",
    "arbors.pinion_teeth.max": "most teeth of a pinion",
    "arbors.pinion_teeth.min": "fewest teeth of a pinion",
    "arbors.third_teeth.max": "most teeth of a third gear",
    "arbors.third_teeth.min": "fewest teeth of a third gear",
    "arbors.stock": "tooth counts that there are",
    "arbors.third_gears": "third gears that may be used",
    "bodies.sense": "which way the bodies go round",
    "bodies.reference": "what errors are counted from",
    "search.max_error_pct": "greatest error, in percent",
    "search.max_parts": "most parts",
    "search.max_jigs": "most jigs",
    "search.max_teeth": "most teeth in all",
    "search.max_largest": "most teeth of an arbor's gear",
    "search.max_envelope": "greatest radius of the whole",
    "search.max_new_gears": "most gears that are to be made",
    "search.max_drift.degrees": "degrees that a body may have drifted",
    "fit.clearance": "clearance between parts",
    "fit.frame.side": "side of the frame",
    "fit.frame.width": "width of the frame",
    "fit.frame.height": "height of the frame",
    "fit.frame.diameter": "diameter of the frame",
    "fit.frame.depth": "depth of the frame",
    "fit.directions": "directions in which arbors may stand",
    "fit.plate": "plate that carries the posts",
    "fit.stands": "stands that carry the bodies",
    "fit.post_radius": "radius of the posts",
    "fit.unevenness": "how unevenly a mesh may turn",
    "fit.rollers": "rollers that hold the rings",
    "fit.rollers.count": "rollers of a ring",
    "fit.rollers.reach": "degrees from a mesh to the nearest roller",
    "fit.rollers.radius": "radius of the rollers",
    "drive.ring": "ring that the motor drives",
    "drive.third_gears": "third gears of the motor",
    "drive.reverse_ok": "whether the motor may turn the model backwards",
    "drive.pinion_teeth.max": "most teeth of the motor's pinion",
    "supports.arm": "thickness of the arms",
    "supports.sag": "how far parts may bend",
    "wire.loop": "thickness of the loops' wire",
    "wire.third": "teeth or pins of third gears",
}
_LENGTHS = frozenset({
    "rings.level_spacing", "rings.addendum", "rings.rim", "search.max_envelope", "fit.clearance", "fit.post_radius",
    "fit.rollers.radius", "supports.arm", "supports.sag", "wire.loop",
    *(f"fit.frame.{side}" for side in ("side", "width", "height", "diameter", "depth")),
})  # fmt: skip
_OF_BODY = re.compile(r"bodies\.list\[(\d+)\]\.(\w+)(?:\.\w+)?")
_BODY_WORDS = {
    "sense": "which way {name} goes round",
    "max_error_pct": "greatest error of {name}, in percent",
    "max_drift": "degrees that {name} may have drifted",
}


def limit_words(field: str, bodies: Sequence[str] = ()) -> str:
    """What the field of a limit says, "" where there are no words for it. bodies: names of `bodies.list`."""
    found = _OF_BODY.fullmatch(field)
    if found is None:
        return _WORDS.get(field, "")
    at = int(found[1])
    return _BODY_WORDS.get(found[2], "").format(name=bodies[at] if at < len(bodies) else f"body {at + 1}")


def with_unit(field: str, value: str, units: str) -> str:
    """A limit's value with the unit of its field, where it is a number that has one. units: "mm" or "in"."""
    number = value.replace(".", "", 1).isdigit()
    return f"{value}\u00a0{units}" if number and field in _LENGTHS else value
