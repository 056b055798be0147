"""What is bought and how fast the maker works, as the file tells it; lengths [mm]. The answer never depends on it."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

PLAIN = "plain"  # in place of a bearing's name: no ball bearings
# What may have a price, and of how much it is one: "metre" is a foot, and "dm2" a square foot, in a file in inches.
PRICED = {
    "wire": "metre",
    "rod": "metre",
    "tube": "metre",
    "hub rod": "metre",
    "frame rod": "metre",
    "bush tube": "metre",
    "wall fixing": "each",
    "foot cap": "each",
    "foot": "each",
    "pillar": "each",
    "plate spacer": "each",
    "coupling": "each",
    "bracket": "each",
    "counterweight": "each",
    "sheet": "dm2",
    "plate": "each",
    "bearing": "each",
    "collar": "each",
    "screw": "each",
    "set screw": "each",
    "washer": "each",
    "nut": "each",
    "roller": "each",
    "motor": "each",
    "body": "each",
    "label": "each",
    "label tab": "each",
    "solder": "gram",
    "board": "each",
    "jig pin": "each",
}
Head = Literal["pan", "countersunk", "socket countersunk", "recessed pan"]


@dataclass(frozen=True)
class OwnBearing:
    """A ball bearing that no list has [mm]; flange: its diameter, None without one."""

    bore: Fraction
    outside: Fraction
    width: Fraction
    flange: Fraction | None = None


@dataclass(frozen=True)
class RollerSizes:
    """A roller's groove and flanges [mm], flange: how thick each is; None: as what runs in it needs."""

    groove_width: Fraction | None = None
    groove_depth: Fraction | None = None
    flange: Fraction | None = None


@dataclass(frozen=True)
class LabelPlate:
    """The plate with the model's name on it [mm]."""

    width: Fraction
    height: Fraction
    text: str


@dataclass(frozen=True)
class Hardware:
    """What is bought. bearing: its name, PLAIN, own sizes, or None: the smallest that goes with the posts. screw: of
    posts and rollers; None: as the posts need. head: the kind of its head. spare: the share bought on top. prices: by
    names of PRICED, in `currency`. bodies: (name, diameter [mm]). plate: how thick the plate is [mm]; None: as
    usual."""

    bearing: str | OwnBearing | None = None
    screw: str | None = None
    head: str = "pan"
    roller: RollerSizes = RollerSizes()
    spare: Fraction = Fraction(1, 10)
    currency: str = ""
    prices: tuple[tuple[str, Fraction], ...] = ()
    bodies: tuple[tuple[str, Fraction], ...] = ()
    label: LabelPlate | None = None
    plate: Fraction | None = None


@dataclass(frozen=True)
class Bench:
    """How much the maker does in an hour: solder joints, bends, cuts of the saw, holes of jigs and plates, outlines of
    plate filed round their teeth, and parts that are fitted on the model. jig: hours to set one up beside its holes;
    pair: hours to try two rings with what is between them; rest: the share of all that on top, for what goes wrong.
    Common practice, no source: a model of ten rings and a thousand joints takes about two hundred hours."""

    joints: Fraction = Fraction(8)
    bends: Fraction = Fraction(60)
    cuts: Fraction = Fraction(60)
    holes: Fraction = Fraction(60)
    teeth: Fraction = Fraction(20)
    parts: Fraction = Fraction(10)
    jig: Fraction = Fraction(1, 2)
    pair: Fraction = Fraction(1)
    rest: Fraction = Fraction(0)
