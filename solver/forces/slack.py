"""Play added up along a train: how far each ring may be turned to and fro while the root is held."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import degrees

from solver.forces.shafts import RING, Shaft, path

GOOD, FAIR, BAD, UNKNOWN = "good", "fair", "bad", "not known"


@dataclass(frozen=True)
class MeshPlay:
    """Play of a mesh at the pitch circle [mm]: the least at any place of a tooth, and the most."""

    least_mm: float
    most_mm: float


@dataclass(frozen=True)
class RingPlay:
    """Play of a ring [degrees]: where teeth leave least and most; None where a mesh on its way cannot be made. meshes:
    on its way from the root; worst: names of the two shafts of the mesh that gives most of it."""

    ring: int
    meshes: int
    least_deg: float | None
    most_deg: float | None
    worst: tuple[str, str]

    def verdict(self, good_deg: float, bad_deg: float) -> str:
        """GOOD up to the one, BAD beyond the other, else FAIR."""
        if self.most_deg is None:
            return UNKNOWN
        return GOOD if self.most_deg <= good_deg else BAD if self.most_deg > bad_deg else FAIR


def ring_plays(
    shafts: tuple[Shaft, ...], plays: Mapping[int, MeshPlay | None], module_mm: float
) -> tuple[RingPlay, ...]:
    """The play of every ring, by ring. plays: of the mesh of each shaft (index) with the one before it.

    A play j at the pitch circle of a gear of radius r is j / r of its shaft; shafts behind it turn as many times faster
    as their exact rates say: ring = j / r * rate(ring) / rate(shaft). A mesh with less play than none has none.
    """
    found = []
    for index, shaft in enumerate(shafts):
        if shaft.kind != RING:
            continue
        parts = []
        for step in path(shafts, index)[:-1]:
            one, play = shafts[step], plays[step]
            turn = degrees(float(shaft.speed / one.speed) / (module_mm * one.teeth / 2))
            pair = (shafts[one.parent].name, one.name)
            parts.append((pair, None if play is None else (max(play.least_mm, 0) * turn, max(play.most_mm, 0) * turn)))
        sure = [both for _, both in parts if both is not None]
        known = len(sure) == len(parts)
        worst = max(parts, key=lambda part: part[1][1] if part[1] else 0.0, default=(("", ""), None))[0]
        least, most = sum(both[0] for both in sure), sum(both[1] for both in sure)
        found.append(RingPlay(shaft.number, len(parts), least if known else None, most if known else None, worst))
    return tuple(sorted(found, key=lambda one: one.ring))
