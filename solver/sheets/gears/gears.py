"""Every gear of a train, what each works with, and the kinds of gear that are to be made."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from solver.design.design import Design
from solver.design.links import KIND_BY_NAME
from solver.design.train import Train
from solver.forms import FORMS
from solver.forms.form import Form, Spec, roles
from solver.forms.plans import GearToMake


@dataclass(frozen=True)
class GearInTrain:
    """A gear with its part ("ring", "wheel", "pinion", "third gear" or "motor pinion"), its toothing, and the indices
    of the gears that it works with. link: the link that it belongs to, -1 for the drive, None for a ring. meshes: how
    many it is away from the ring of its level."""

    gear: GearToMake
    part: str
    link: int | None
    toothing: str
    mates: tuple[int, ...]
    meshes: int


@dataclass(frozen=True)
class _Entry:
    gear: GearToMake
    part: str
    link: int | None
    toothing: str
    hops: int


def form_of(design: Design) -> Form:
    """The tooth form of a design."""
    return FORMS[design.wire.form]


def ring_name(design: Design, train: Train, ring: int) -> str:
    """ "ring 3 (Dione)" or "ring 5 (blank 1)"."""
    blanks = [index for index in range(len(train.rings)) if index not in train.seats]
    if ring in blanks:
        return f"ring {ring} (blank {blanks.index(ring) + 1})"
    return f"ring {ring} ({design.bodies[train.seats.index(ring)].name})"


def drive_name(design: Design) -> str:
    """What turns the model, as lists and steps call it."""
    return "hand crank" if design.cranked else "motor"


def gears_of(design: Design, train: Train) -> tuple[GearInTrain, ...]:
    """Every gear: the rings from the inside out, then link by link wheel, pinion and third gears, then the drive's.

    The drive needs a placement.
    """
    toothing = roles(form_of(design), design.wire)
    entries: list[_Entry] = []
    meshes: list[tuple[int, int]] = []
    for ring, teeth in enumerate(train.rings):
        made = GearToMake("ring", teeth, ring, ring_name(design, train, ring))
        entries.append(_Entry(made, "ring", None, toothing.ring, 0))

    def chain(ring: int, thirds: tuple[int, ...], teeth: int, names: tuple[str, str], part: str, link: int) -> None:
        """The gears from a ring to one on a shaft; names of that and of third gears."""
        before = ring
        for hops, third in enumerate(thirds, start=1):
            meshes.append((before, len(entries)))
            before = len(entries)
            entries.append(_Entry(GearToMake("gear", third, ring, names[1]), "third gear", link, toothing.third, hops))
        meshes.append((before, len(entries)))
        made = GearToMake("gear", teeth, ring, names[0])
        entries.append(_Entry(made, part, link, toothing.behind_thirds(len(thirds)), len(thirds) + 1))

    for index, link in enumerate(train.links):
        at_wheel = KIND_BY_NAME[link.kind].wheel_thirds
        for part, ring, teeth, thirds in (
            ("wheel", index, link.wheel, link.thirds[:at_wheel]),
            ("pinion", index + 1, link.pinion, link.thirds[at_wheel:]),
        ):
            names = f"{part} of link {index}", f"third gear of link {index} ({part} side)"
            chain(ring, thirds, teeth, names, part, index)
    drive = train.placement.drive if train.placement is not None else None
    if drive is not None:
        chain(drive.ring, drive.thirds, drive.pinion, ("motor pinion", "third gear of the motor"), "motor pinion", -1)
    return tuple(
        GearInTrain(entry.gear, entry.part, entry.link, entry.toothing, tuple(_mates(index, meshes)), entry.hops)
        for index, entry in enumerate(entries)
    )


def _mates(index: int, meshes: list[tuple[int, int]]) -> Iterator[int]:
    for one, other in meshes:
        if index in (one, other):
            yield other if index == one else one


def specs_of(gears: tuple[GearInTrain, ...]) -> dict[Spec, tuple[GearInTrain, ...]]:
    """The kinds of gear that are to be made, rings first, by teeth, and the gears of each."""
    groups: dict[tuple[str, int, str], list[GearInTrain]] = {}
    for made in gears:
        groups.setdefault((made.gear.kind, made.gear.teeth, made.toothing), []).append(made)
    ordered = sorted(groups.items(), key=lambda item: (item[0][0] != "ring", *item[0][1:]))
    found = {}
    for (kind, teeth, toothing), some in ordered:
        mates = sorted({gears[mate].gear.teeth for made in some for mate in made.mates})
        found[Spec(kind, teeth, toothing, tuple(mates))] = tuple(some)
    return found


def pairs_of(
    gears: tuple[GearInTrain, ...], specs: dict[Spec, tuple[GearInTrain, ...]]
) -> tuple[tuple[Spec, Spec], ...]:
    """The different pairs of gears that work together."""
    spec_of = {id(made): spec for spec, some in specs.items() for made in some}
    found: dict[tuple[Spec, Spec], None] = {}
    for index, made in enumerate(gears):
        for mate in made.mates:
            if mate > index:
                found.setdefault((spec_of[id(made)], spec_of[id(gears[mate])]))
    return tuple(found)
