"""What the sheets are made of: gears to be made, and the jigs that hold them; lengths [mm], angles [degrees]."""

from dataclasses import dataclass


@dataclass(frozen=True)
class GearToMake:
    """One gear to be made.

    `kind` is "ring" (an annulus that runs on rollers) or "gear" (a small gear on an arbor, a third gear or the motor's
    pinion). `use` says where it goes: "ring 3 (Dione)", "wheel of link 3", "third gear of link 1 (wheel side)".
    """

    kind: str
    teeth: int
    level: int
    use: str


@dataclass(frozen=True)
class Hole:
    """One hole of a jig, polar about the gear's centre; the angle counterclockwise from the right.

    `what` is "root", "tip", "pin" or "centre".
    """

    radius_mm: float
    angle_deg: float
    diameter_mm: float
    what: str


@dataclass(frozen=True)
class JigPlan:
    """One jig: what holds one kind of gear of one tooth count while it is made.

    `name` is "jig R30" for rings and "jig G18" for small gears; `outline` are polylines of the gear as it lies on the
    jig; `uses` are the uses of every gear made on it, in order. `hub_mm` is the outside diameter of a small gear's
    hub, 0 for a ring; `bore_mm` the diameter of the hole cut into a gear of plate and `plate_mm` how thick it is, 0 for
    one of wire.
    """

    name: str
    kind: str
    teeth: int
    pitch_radius_mm: float
    tip_radius_mm: float
    root_radius_mm: float
    holes: tuple[Hole, ...]
    outline: tuple[tuple[tuple[float, float], ...], ...]
    uses: tuple[str, ...]
    hub_mm: float = 0.0
    bore_mm: float = 0.0
    plate_mm: float = 0.0
