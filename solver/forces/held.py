"""If a hand holds a ring: with what force the motor turns against it, and what on the way gives first."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from solver.forces.shafts import ARBOR, MOTOR, RING, Shaft, path

SOLDER_SHEAR_MPA = 37.0  # 63/37, 5400 psi for a short time (Manko, Solders and Soldering, table 5-3)
SOLDER_SHARE = 0.1  # of it that joints are designed for, as they fail by fatigue far below (common practice, no source)
SCREW_HOLD_N = 350.0  # of a set screw 4-40 on a brass shaft: half of 160 lbf on steel (tables, from memory)
SCREW_HELD_MM = 2.845  # diameter of a 4-40 (ASME B1.1: 0.112 in)


@dataclass(frozen=True)
class Strengths:
    """What parts hold. tooth_n: a tooth or pin with its joints, or None where gears are cut from plate; screw_nmm: the
    set screws of a gear on its shaft, or None where there are none; hub_nmm: the joints of a gear with its hub."""

    tooth_n: float | None
    screw_nmm: float | None
    hub_nmm: float | None


@dataclass(frozen=True)
class GivesFirst:
    """A place on the way from the motor to a ring that is held: what it is, and its load over what it should bear."""

    what: str
    share: float


@dataclass(frozen=True)
class HeldRing:
    """A ring that a hand holds. rim_n: force [N] at its pitch circle that the motor has there when it is held fast, no
    losses counted. first: the weakest place on the way; None where nothing is known of any."""

    ring: int
    rim_n: float
    first: GivesFirst | None


def rim_n(shaft: Shaft, root_nmm: float, pitch_mm: float) -> float:
    """Force [N] at a ring's pitch circle for a moment [N mm] at the root: moment / speed / radius (virtual work)."""
    return root_nmm / float(shaft.speed) / pitch_mm


def screw_hold_n(major_mm: float) -> float:
    """What a set screw of that diameter holds at its shaft's surface [N]: by its square, as tables have it (#2 85 lbf,
    #4 160 lbf, #6 250 lbf; from memory)."""
    return SCREW_HOLD_N * (major_mm / SCREW_HELD_MM) ** 2


def solder_n(area_mm2: float) -> float:
    """What a soldered joint of so much area may be loaded with in shear [N], for good."""
    return SOLDER_SHEAR_MPA * SOLDER_SHARE * area_mm2


def held_rings(
    shafts: tuple[Shaft, ...], root_nmm: float, module_mm: float, strengths: Strengths, least_n: float = 0.0
) -> tuple[HeldRing, ...]:
    """Each ring held while so much moment is at the root. least_n: what the hand itself pushes with at the ring's rim,
    which the way bears where the motor gives less."""
    found = []
    for index, shaft in enumerate(shafts):
        if shaft.kind == RING:
            way = path(shafts, index)
            radius = module_mm * _ring_teeth(shafts, index) / 2
            motor = rim_n(shaft, root_nmm, radius)
            whole = max(motor, least_n) * radius * float(shaft.speed)  # [N mm] at the root
            places = list(_places(shafts, way, whole, module_mm, strengths))
            found.append(HeldRing(shaft.number, motor, max(places, key=lambda one: one.share, default=None)))
    return tuple(sorted(found, key=lambda one: one.ring))


def _ring_teeth(shafts: tuple[Shaft, ...], index: int) -> int:
    """A ring's teeth, which the mesh on either side of it tells."""
    if shafts[index].teeth:
        return shafts[index].teeth
    return next(one.parent_teeth for one in shafts if one.parent == index)


def _places(
    shafts: tuple[Shaft, ...], way: tuple[int, ...], root_nmm: float, module_mm: float, strengths: Strengths
) -> Iterator[GivesFirst]:
    for index in way:
        one = shafts[index]
        torque = root_nmm / float(one.speed)
        if one.parent >= 0 and strengths.tooth_n:
            force = torque / (module_mm * one.teeth / 2)
            yield GivesFirst(f"a tooth or pin of {shafts[one.parent].name} with {one.name}", force / strengths.tooth_n)
        if one.kind in (ARBOR, MOTOR):
            if strengths.screw_nmm:
                yield GivesFirst(f"the set screw of a gear on {one.name}", torque / strengths.screw_nmm)
            if strengths.hub_nmm:
                yield GivesFirst(f"the joints of a gear on {one.name} with its hub", torque / strengths.hub_nmm)


def speed_for(shafts: tuple[Shaft, ...], ring: int, seconds: Fraction) -> Fraction:
    """The speed of the root [rev/min] with which a ring takes so long for a turn, exact: 60 / (seconds * rate)."""
    shaft = next(one for one in shafts if (one.kind, one.number) == (RING, ring))
    return 60 / (seconds * shaft.speed)
