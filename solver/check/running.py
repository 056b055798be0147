"""How the meshes of a train run, gears made as the table [wire] says, by the judge's own way to tell.

Gears that are made alike are made for all that any of them works with: a ring works with the gears of two links, and
gears of one tooth count share a jig. Lengths in mm.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from solver.check.gear_lengths import SLACK, GearLengths, MadeGear, TurnedPair, lengths_of
from solver.check.lengths import length_told
from solver.check.running_clock import clock_pair
from solver.check.running_involute import involute_pair
from solver.check.running_pins import wire_pair
from solver.check.running_teeth import short_of, short_third
from solver.design.design import Design
from solver.design.links import KIND_BY_NAME
from solver.design.train import Train

_FORMS: dict[str, Callable[[GearLengths, MadeGear, MadeGear], TurnedPair]] = {
    "saw": wire_pair,
    "curved": wire_pair,
    "cycloidal": clock_pair,
    "involute": involute_pair,
}


@dataclass(frozen=True)
class MeshFigures:
    """A mesh: its gears; the least play at the pitch circle [mm], below 0 where it jams; how far one gear strays [share
    of a pitch]; None where it cannot be told. fault: why it does not run, "" where it does. short_mm: what is missing,
    where that is a length."""

    where: str
    play_mm: float | None
    uneven: float | None
    fault: str
    short_mm: float | None = None


@dataclass(frozen=True)
class _Working:
    """Two gears that work together: their teeth, whether the first is a ring; short: whether the first, or with a ring
    the mate, is a third gear with short teeth."""

    where: str
    teeth: int
    ring: bool
    mate: int
    short: bool = False


def run_of(
    design: Design,
    where: str,
    teeth: int,
    ring: bool,
    mate: int,
    mates: tuple[int, ...] = (),
    mates_of_mate: tuple[int, ...] = (),
    *,
    short: bool = False,
) -> MeshFigures:
    """How a ring, or a gear behind a third gear, and what works with it run at the distance of their pitch radii.
    mates: what else gears made like the first work with; mates_of_mate: likewise for the other. short: the first is a
    third gear with short teeth."""
    made = short_of(lengths_of(design)) if short else lengths_of(design)
    one = MadeGear(teeth, ring, tuple(sorted({mate, *mates})))
    other = MadeGear(mate, False, tuple(sorted({teeth, *mates_of_mate})))
    return _figures(design, where, _FORMS[made.form](made, one, other))


def third_run(design: Design, where: str, ring: int, third: int) -> MeshFigures:
    """How a ring and a third gear with short teeth run at the distance of their pitch radii."""
    return _figures(design, where, short_third(lengths_of(design), ring, third))


def _figures(design: Design, where: str, found: TurnedPair) -> MeshFigures:
    """What is told of a mesh."""
    most = float(design.unevenness)
    if found.unmade:
        return MeshFigures(where, None, None, f"cannot be made: {found.unmade}")
    play, uneven = found.play, found.strays
    if found.into > SLACK:
        told = f"jams: tips reach {length_told(design, found.into, 2)} into {found.into_what}"
        return MeshFigures(where, play, uneven, told, found.into)
    if play < -SLACK:
        return MeshFigures(where, play, uneven, f"jams: {length_told(design, -play, 2)} too little", -play)
    if found.slips:
        return MeshFigures(where, play, uneven, f"slips: {found.slips}")
    if uneven > most + SLACK:
        return MeshFigures(where, play, uneven, f"hunts {uneven:.3g} of a pitch; at most {most:g}")
    return MeshFigures(where, play, uneven, "")


def meshes(design: Design, train: Train) -> Iterator[MeshFigures]:
    """Every mesh of a train: link by link the wheel's side, then the pinion's; then the drive's. A ring has teeth; what
    works with it has pins, of wire, or leaves; the gear behind a third gear has teeth again, or pins behind short
    teeth."""
    listed = list(_meshes(train, design.wire.third == "teeth"))
    mates: dict[tuple[str, int], set[int]] = {}
    for mesh in listed:
        mates.setdefault(("ring" if mesh.ring else "behind", mesh.teeth), set()).add(mesh.mate)
        mates.setdefault(("beside", mesh.mate), set()).add(mesh.teeth)
    for mesh in listed:
        if mesh.short:
            yield (
                third_run(design, mesh.where, mesh.teeth, mesh.mate)
                if mesh.ring
                else run_of(design, mesh.where, mesh.teeth, False, mesh.mate, short=True)
            )
            continue
        own = mates["ring" if mesh.ring else "behind", mesh.teeth]
        yield run_of(
            design, mesh.where, mesh.teeth, mesh.ring, mesh.mate, tuple(own), tuple(mates["beside", mesh.mate])
        )


def _meshes(train: Train, short: bool) -> Iterator[_Working]:
    """short: third gears have short teeth."""
    for index, link in enumerate(train.links):
        kind, thirds = KIND_BY_NAME[link.kind], list(link.thirds)
        for name, level, gear, between in (
            ("wheel", index, link.wheel, kind.wheel_thirds),
            ("pinion", index + 1, link.pinion, kind.pinion_thirds),
        ):
            some = [thirds.pop(0) for _ in range(between)]
            yield from _side(train, level, gear, some, f"{name} of link {index}", short)
    drive = train.placement.drive if train.placement is not None else None
    if drive is not None:
        yield from _side(train, drive.ring, drive.pinion, list(drive.thirds), "motor pinion", short)


def _side(train: Train, level: int, gear: int, thirds: list[int], name: str, short: bool) -> Iterator[_Working]:
    ring = train.rings[level]
    if not thirds:
        yield _Working(f"ring {level} with {name}", ring, True, gear)
        return
    yield _Working(f"ring {level} with third gear at {name}", ring, True, thirds[0], short)
    one, other = (thirds[0], gear) if short else (gear, thirds[0])
    yield _Working(f"{name} with its third gear", one, False, other, short)
