"""The shafts of a train, from what turns it to the outermost ring, with their exact rates.

A shaft is what turns as one: a ring, an arbor with its wheel and pinion, a third gear, the motor with its pinion. The
root is the motor, or ring 0 of a model without one. Meshes make a tree of them: each shaft but the root has one mesh on
the side of the root. Where two gears mesh, teeth pass at one rate and the sense turns about: rate * teeth = -(rate *
teeth) of the other (definition of the pitch circle).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from solver.design.links import KIND_BY_NAME
from solver.design.train import Train

RING, ARBOR, THIRD, MOTOR = "ring", "arbor", "third gear", "motor"


@dataclass(frozen=True)
class Shaft:
    """One shaft. name: of its post on the drawings ("L3", "L3w", "M"), "ring 3" for a ring. number: of its ring or
    link; -1 for the drive's. rate: turns for one turn of the root, counterclockwise positive as seen from the front,
    where ring 0 turns counterclockwise. parent: index of the shaft that it meshes with on the side of the root, -1 for
    the root; teeth, parent_teeth: of the two gears of that mesh, 0 for the root."""

    name: str
    kind: str
    number: int
    rate: Fraction
    parent: int = -1
    teeth: int = 0
    parent_teeth: int = 0

    @property
    def speed(self) -> Fraction:
        """Turns for one turn of the root, whichever way."""
        return abs(self.rate)


@dataclass(frozen=True)
class _ShaftMesh:
    one: str
    other: str
    teeth: tuple[int, int]


def ring_label(ring: int) -> str:
    """ "ring 3", the name of a ring's shaft."""
    return f"ring {ring}"


def shafts_of(train: Train, turned_at: int | None = None) -> tuple[Shaft, ...]:
    """Every shaft of a train, the root first and each before those that it turns. turned_at: the ring that is the root,
    the drive left out; None: the drive, or without one ring 0."""
    kinds: dict[str, tuple[str, int]] = {ring_label(ring): (RING, ring) for ring in range(len(train.rings))}
    meshes = list(_meshes(train, kinds))
    root = "M" if "M" in kinds else ring_label(0)
    if turned_at is not None:
        root, meshes = ring_label(turned_at), [mesh for mesh in meshes if kinds[mesh.other][1] >= 0]
    found = [Shaft(root, *kinds[root], Fraction(1))]
    known = {root: 0}
    for index, shaft in enumerate(found):  # grows while it is walked
        for mesh in meshes:
            if shaft.name not in (mesh.one, mesh.other):
                continue
            first = shaft.name == mesh.one
            name = mesh.other if first else mesh.one
            mine, its = mesh.teeth if first else mesh.teeth[::-1]
            if name not in known:
                known[name] = len(found)
                found.append(Shaft(name, *kinds[name], -shaft.rate * mine / its, index, its, mine))
    way = 1 if found[known[ring_label(0)]].rate > 0 else -1
    return tuple(
        Shaft(one.name, one.kind, one.number, one.rate * way, one.parent, one.teeth, one.parent_teeth) for one in found
    )


def path(shafts: tuple[Shaft, ...], index: int) -> tuple[int, ...]:
    """From a shaft to the root, both included, as indices."""
    found = [index]
    while shafts[found[-1]].parent >= 0:
        found.append(shafts[found[-1]].parent)
    return tuple(found)


def shaft_index(shafts: tuple[Shaft, ...], kind: str, number: int) -> int:
    """The index of a ring's or an arbor's shaft. Raises StopIteration where there is none."""
    return next(index for index, one in enumerate(shafts) if (one.kind, one.number) == (kind, number))


def _meshes(train: Train, kinds: dict[str, tuple[str, int]]) -> Iterator[_ShaftMesh]:
    """Every mesh; names the shafts beside the rings in `kinds`."""

    def chain(ring: int, thirds: tuple[int, ...], teeth: int, last: str, third: str, link: int) -> Iterator[_ShaftMesh]:
        before, size = ring_label(ring), train.rings[ring]
        for count in thirds:
            kinds[third] = THIRD, link
            yield _ShaftMesh(before, third, (size, count))
            before, size = third, count
        yield _ShaftMesh(before, last, (size, teeth))

    for index, link in enumerate(train.links):
        name, at_wheel = f"L{index}", KIND_BY_NAME[link.kind].wheel_thirds
        kinds[name] = ARBOR, index
        yield from chain(index, link.thirds[:at_wheel], link.wheel, name, f"{name}w", index)
        yield from chain(index + 1, link.thirds[at_wheel:], link.pinion, name, f"{name}p", index)
    drive = train.placement.drive if train.placement is not None else None
    if drive is not None:
        kinds["M"] = MOTOR, -1
        yield from chain(drive.ring, drive.thirds, drive.pinion, "M", "Mt", -1)
