"""How far a ring bends that hangs or lies on rollers, by how these stand: figures for its own weight [w R4 / EI], and
for a force on it where it does most [P R3 / EI].

Hung, rollers inside the ring push outwards only; the largest radial departure from round counts, with down in the worst
direction. Lying, rollers hold the ring up and down; how much lower it is anywhere than at them counts. Own figures: of
hung rings by waves of one that touches its rollers from one side, as 240 sticks do too; of lying ones by waves of
bending and twist.

Which rollers a hung ring leaves depends on both weights, so that departures do not add up; in all that was tried the
sum was no less than what both make together. With a gap of 120 degrees and more the two beside it, at the top, bear
all: the other rollers do not matter. Below that they do, and the figure is the worst of all ways to stand with such a
gap that were found by climbing from many (own, rounded up by 5 %): up to twice that of even rollers.
"""

from __future__ import annotations

from solver.mechanics.rings import flat, flat_loaded

_LEAST_HUNG, _LEAST_LYING = 8, 6  # with gaps of so many steps, and less, a ring bends as with this
_BEND = 0.34  # Poisson's ratio of brass, from memory: of a round wire GJ / EI is 1 / (1 + that)

Figures = tuple[float, float]

# By the count of rollers that stand evenly: 5 and 7 as evenly as every fifth degree lets them.
_HUNG_EVENLY: dict[int, Figures] = {
    3: (0.657, 0.1932),
    4: (0.1044, 0.0663),
    5: (0.0453, 0.0334),
    6: (0.0196, 0.0157),
    7: (0.0132, 0.0116),
    8: (0.0080, 0.0066),
}
_EVEN = (3, 4, 5, 6, 7, 8, 9, 12, 18, 24)  # counts that divide the circle on the grid, or nearly
# By the widest gap, in steps.
_HUNG_WITHIN: dict[int, Figures] = {
    8: (0.008, 0.0066),
    9: (0.0108, 0.00832),
    10: (0.0172, 0.0119),
    11: (0.0262, 0.0164),
    12: (0.0302, 0.0208),
    13: (0.0486, 0.0258),
    14: (0.0684, 0.0317),
    15: (0.0844, 0.04),
    16: (0.0968, 0.0468),
    17: (0.125, 0.0576),
    18: (0.189, 0.0739),
    19: (0.275, 0.0976),
    20: (0.359, 0.119),
    21: (0.426, 0.136),
    22: (0.472, 0.148),
    23: (0.53, 0.169),
    24: (0.66, 0.195),
    25: (0.856, 0.234),
    26: (1.12, 0.285),
    27: (1.46, 0.351),
    28: (1.94, 0.441),
    29: (2.61, 0.565),
    30: (3.65, 0.751),
    31: (5.32, 1.05),
    32: (8.35, 1.58),
    33: (14.8, 2.66),
    34: (32.8, 5.65),
    35: (128, 21.2),
}

# Lying, of round wire: of counts that stand evenly only nearly; by the widest gap.
_LYING_NEARLY: dict[int, Figures] = {5: (0.0119, 0.0348), 7: (0.00314, 0.01155)}
_LYING_WITHIN: dict[int, Figures] = {
    6: (0.00042, 0.00171),
    7: (0.000787, 0.00276),
    8: (0.00138, 0.00423),
    9: (0.00226, 0.0062),
    10: (0.00354, 0.00877),
    11: (0.00532, 0.0121),
    12: (0.00781, 0.0164),
    13: (0.0111, 0.0217),
    14: (0.0153, 0.0282),
    15: (0.0216, 0.0361),
    16: (0.0291, 0.0455),
    17: (0.0376, 0.0568),
    18: (0.0472, 0.0807),
    19: (0.0577, 0.0987),
    20: (0.0795, 0.12),
    21: (0.115, 0.143),
    22: (0.153, 0.168),
    23: (0.193, 0.195),
    24: (0.235, 0.224),
    25: (0.279, 0.253),
    26: (0.323, 0.285),
    27: (0.367, 0.32),
    28: (0.411, 0.357),
    29: (0.462, 0.398),
    30: (0.524, 0.441),
    31: (0.599, 0.488),
    32: (0.689, 0.538),
    33: (0.798, 0.592),
    34: (0.926, 0.649),
    35: (1.07, 0.711),
}


def hung_evenly(count: int) -> Figures | None:
    """Of a ring that hangs on so many rollers, evenly all around; None where the grid does not let them. More than
    eight are taken as eight."""
    return _HUNG_EVENLY[min(count, max(_HUNG_EVENLY))] if count in _EVEN else None


def hung_within(widest: int) -> Figures:
    """Likewise on rollers whose widest gap is so many steps of 5 degrees, as they stand at the worst; more than 35,
    which leave the ring a way out, count as 35."""
    return _HUNG_WITHIN[min(max(widest, _LEAST_HUNG), max(_HUNG_WITHIN))]


def lying_evenly(count: int, twist: float) -> Figures | None:
    """Of a ring that lies on so many, evenly all around; twist: GJ / EI of its section."""
    if count not in _EVEN:
        return None
    if count in _LYING_NEARLY:
        return _softer(_LYING_NEARLY[count], twist)
    return flat(count, 1.0, 1.0, 1.0, twist), flat_loaded(count, 1.0, 1.0, 1.0, twist)


def lying_within(widest: int, twist: float) -> Figures:
    """Likewise on rollers whose widest gap is so many steps."""
    return _softer(_LYING_WITHIN[min(max(widest, _LEAST_LYING), max(_LYING_WITHIN))], twist)


def _softer(round_wire: Figures, twist: float) -> Figures:
    """Of another section than that of a round wire, from the safe side: no wave is softer by more than that of two
    crests."""
    more = max((1 + 1 / (4 * twist)) / (1 + (1 + _BEND) / 4), 1.0)
    return round_wire[0] * more, round_wire[1] * more
