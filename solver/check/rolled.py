"""How a ring's rollers stand, and how soft it is on them: the judge's own way.

Figures of its weight W in W R3 / (2 pi EI) and of a load P in P R3 / EI, found by sticks and waves that touch the
rollers from one side, or are held by them lying (own), at the worst, and rounded up. Where rollers stand evenly, as
nearly as every fifth degree allows, theirs is known; else the widest gap says what is the worst.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction
from itertools import pairwise
from math import ceil

Soft = tuple[float, float]
STEP, MOST = 5, 35  # degrees; steps of the widest gap that leaves a ring no way out

HUNG_ON = {3: (0.657, 0.1932), 4: (0.1044, 0.0663), 5: (0.0453, 0.0334), 6: (0.0196, 0.0157), 7: (0.0132, 0.0116)}
HUNG_ON_MORE = 0.0080, 0.0066
LYING_ON = {5: (0.0119, 0.0348), 7: (0.00314, 0.01155)}  # others by waves
# By the widest gap, in steps; with less than the first a ring bends as with that. Lying: of round wire.
HUNG_WITHIN = {
    8: (0.008, 0.0066), 9: (0.0108, 0.00832), 10: (0.0172, 0.0119), 11: (0.0262, 0.0164), 12: (0.0302, 0.0208),
    13: (0.0486, 0.0258), 14: (0.0684, 0.0317), 15: (0.0844, 0.04), 16: (0.0968, 0.0468), 17: (0.125, 0.0576),
    18: (0.189, 0.0739), 19: (0.275, 0.0976), 20: (0.359, 0.119), 21: (0.426, 0.136), 22: (0.472, 0.148),
    23: (0.53, 0.169), 24: (0.66, 0.195), 25: (0.856, 0.234), 26: (1.12, 0.285), 27: (1.46, 0.351), 28: (1.94, 0.441),
    29: (2.61, 0.565), 30: (3.65, 0.751), 31: (5.32, 1.05), 32: (8.35, 1.58), 33: (14.8, 2.66), 34: (32.8, 5.65),
    35: (128, 21.2),
}  # fmt: skip
LYING_WITHIN = {
    6: (0.00042, 0.00171), 7: (0.000787, 0.00276), 8: (0.00138, 0.00423), 9: (0.00226, 0.0062),
    10: (0.00354, 0.00877), 11: (0.00532, 0.0121), 12: (0.00781, 0.0164), 13: (0.0111, 0.0217), 14: (0.0153, 0.0282),
    15: (0.0216, 0.0361), 16: (0.0291, 0.0455), 17: (0.0376, 0.0568), 18: (0.0472, 0.0807), 19: (0.0577, 0.0987),
    20: (0.0795, 0.12), 21: (0.115, 0.143), 22: (0.153, 0.168), 23: (0.193, 0.195), 24: (0.235, 0.224),
    25: (0.279, 0.253), 26: (0.323, 0.285), 27: (0.367, 0.32), 28: (0.411, 0.357), 29: (0.462, 0.398),
    30: (0.524, 0.441), 31: (0.599, 0.488), 32: (0.689, 0.538), 33: (0.798, 0.592), 34: (0.926, 0.649),
    35: (1.07, 0.711),
}  # fmt: skip


def gaps_of(directions: Iterable[Fraction]) -> list[Fraction]:
    """The gaps between rollers in these directions, all around [degrees]."""
    turns = sorted(directions)
    return [after - before for before, after in pairwise([*turns, turns[0] + 360])] if turns else []


def evenly(gaps: Sequence[Fraction]) -> bool:
    """Whether rollers with these gaps stand evenly: all alike, or five or seven with two wide gaps as far from each
    other as can be."""
    count = len(gaps)
    if len(set(gaps)) == 1:
        return count >= 3 and (360 // STEP) % count == 0
    wide = [number for number, gap in enumerate(gaps) if gap == max(gaps)]
    narrow = {5: 70, 7: 50}.get(count)
    if narrow is None or set(gaps) != {narrow, narrow + STEP} or len(wide) != 2:
        return False
    apart = wide[1] - wide[0]
    return min(apart, count - apart) == count // 2


def hung(gaps: Sequence[Fraction]) -> Soft:
    """Of a ring that hangs on rollers with these gaps."""
    within = HUNG_WITHIN[max(steps(gaps), min(HUNG_WITHIN))]
    return min(within, HUNG_ON.get(len(gaps), HUNG_ON_MORE)) if evenly(gaps) else within


def lying(gaps: Sequence[Fraction], share: float) -> Soft | None:
    """Of one that lies; share: of the stiffness against twist in that against bending. None: waves tell it."""
    if evenly(gaps) and len(gaps) not in LYING_ON:
        return None
    own, load = LYING_ON[len(gaps)] if evenly(gaps) else LYING_WITHIN[max(steps(gaps), min(LYING_WITHIN))]
    more = max((4 + 1 / share) / (4 + 1.34), 1.0)  # the wave of two crests is softened the most
    return own * more, load * more


def steps(gaps: Sequence[Fraction]) -> int:
    """The widest of them, in whole steps; what leaves the ring a way out counts as the widest that does not."""
    return min(ceil(max(gaps) / STEP), MOST)
