"""What a model carries, how it rubs, and what turns it: what the sheets work out forces, balance and play from.

None of it decides which train is the best. Figures without another source are named where they stand.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

# Friction of a bearing about its bore, by its kind. A ball bearing 0.0010 to 0.0015 (makers' catalogues: CAT 2203/E,
# ch. 10.1). A plain one has no film of oil at a few turns a minute: brass on steel, greasy 0.19 (friction chart).
# A dry one: iron on bronze 0.25 (Collins, Inventing for Boys, appendix).
BEARINGS = {"ball": Fraction(15, 10_000), "plain": Fraction(19, 100), "dry": Fraction(25, 100)}


@dataclass(frozen=True)
class HandCrank:
    """A crank in place of the motor. radius [mm]: of its arm; rpm [rev/min]: how fast a hand turns it. Both unless told
    common practice, no source."""

    radius: Fraction = Fraction(60)
    rpm: Fraction = Fraction(30)


@dataclass(frozen=True)
class ModelLoads:
    """What is carried, what rubs, what turns it.

    roller_friction: of a roller on its stub, brass on brass 0.20 (Collins, Inventing for Boys, appendix). bearing: kind
    of the bearings of arbors and third gears, one of BEARINGS; bearing_friction: about their bore. mesh_efficiency: of
    each mesh with what its forces cost in bearings; spur gears 0.85 (power transmission data). body_at: (index of
    a body, how far its centre of mass is from the main axis [mm]). hand_n: the force of a
    hand on a ring [N]. play_good_deg, play_bad_deg: play of a body that is good up to the one and bad beyond the other
    (these three common practice, no source). crank: a hand crank, None for a motor. torque_ncm: of the motor as its
    maker tells it; stall_ncm: when it is held fast [N cm]; None where not told.
    """

    roller_friction: Fraction = Fraction(1, 5)
    bearing: str = "ball"
    bearing_friction: Fraction = BEARINGS["ball"]
    mesh_efficiency: Fraction = Fraction(85, 100)
    body_at: tuple[tuple[int, Fraction], ...] = ()
    hand_n: Fraction = Fraction(20)
    play_good_deg: Fraction = Fraction(2)
    play_bad_deg: Fraction = Fraction(5)
    crank: HandCrank | None = None
    torque_ncm: Fraction | None = None
    stall_ncm: Fraction | None = None
