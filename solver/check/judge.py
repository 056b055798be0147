"""The judge: recomputes everything about a train in exact arithmetic and names every rule that it breaks.

It shares no code with the search: it reads the design and the train as data, counts meshes, multiplies Fractions
and measures triangles on its own. Nothing leaves the program that has not passed here.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from math import ceil

from solver.check.arm import arm_checks
from solver.check.asked_places import asked_places
from solver.check.bench import gears_to_make, jigs_to_make, moved
from solver.check.deviation import against_the_best, against_the_first, deviation, root_of
from solver.check.exact_pi import PI_HIGH, PI_LOW
from solver.check.eye import eye_checks
from solver.check.lengths import length_told
from solver.check.level import levels
from solver.check.made import between_of, most_of, rim_of
from solver.check.room import Check, Room, tooth_mm
from solver.check.running import meshes
from solver.check.sag import sags
from solver.check.thirds import thirds_of
from solver.check.verdict import DriveFigures, LinkFigures, RingFigures, Verdict, Violation
from solver.design.design import Design
from solver.design.links import KIND_BY_NAME
from solver.design.train import Link, Train


class Refused(ValueError):
    """A train that is not even one: wrong number of rings, links, bodies or third gears."""


def judge(design: Design, train: Train) -> Verdict:
    """Judge a train against a design whose third gears are settled. Raises Refused where the train is malformed."""
    _shape(design, train)
    ratios, reverse = _walk(train)
    links, reach, misfits = _places(design, train)
    square, rings = _errors(design, train, ratios, reverse)
    gears = [z for link in train.links for z in (link.wheel, link.pinion, *link.thirds)]
    parts = len(train.rings) + sum(3 + 2 * len(link.thirds) for link in train.links)
    worst = None if square is None else float(root_of(square) - 1)
    verdict = Verdict(
        (),
        square,
        worst,
        parts,
        jigs_to_make(design, train.rings, gears),
        sum(train.rings) + sum(gears),
        max(gears),
        None if reach is None else _envelope_mm(design, train, reach),
        rings,
        links,
        new_gears=gears_to_make(design, gears),
    )
    placed, drive = _placed(design, train, ratios, reverse)
    verdict = replace(verdict, drive=drive)
    found = [
        *_teeth(design, train),
        *_steps(design, train),
        *moved(design, train),
        *misfits,
        *placed,
        *levels(design, train),
        *sags(design, train),
        *_runs(design, train),
        *_senses(design, train, reverse),
        *_error_limits(design, square),
        *_limits(design, verdict),
    ]
    return replace(verdict, violations=tuple(found))


def _shape(design: Design, train: Train) -> None:
    if design.wire.third not in ("pins", "teeth"):
        raise ValueError(f"third gears have pins or teeth; {design.wire.third!r} has to be settled before")
    count = len(train.rings)
    allowed = [len(design.bodies) + blanks for blanks in design.rings.blanks]
    if count not in allowed:
        raise Refused(f"the train has {count} rings; the design has {' or '.join(map(str, allowed))}")
    if len(train.links) != count - 1:
        raise Refused(f"{count} rings need {count - 1} links; the train has {len(train.links)}")
    if len(train.seats) != len(design.bodies):
        raise Refused(f"the train has seats for {len(train.seats)} bodies; the design has {len(design.bodies)}")
    if train.seats[0] != 0 or train.seats[-1] != count - 1:
        raise Refused("the first body rides on ring 0 and the last on the outermost ring")
    if any(outer <= inner for inner, outer in zip(train.seats, train.seats[1:], strict=False)):
        raise Refused("bodies ride in their order, one on a ring")
    for index, link in enumerate(train.links):
        kind = KIND_BY_NAME.get(link.kind)
        if kind is None:
            raise Refused(f"link {index}: no kind {link.kind!r}")
        if len(link.thirds) != kind.wheel_thirds + kind.pinion_thirds:
            raise Refused(f"link {index}: {link.kind} does not have {len(link.thirds)} third gears")
    if any(
        z < 1 for z in (*train.rings, *(t for link in train.links for t in (link.wheel, link.pinion, *link.thirds)))
    ):
        raise Refused("a gear has at least one tooth")
    _shape_of_places(design, train)


def _shape_of_places(design: Design, train: Train) -> None:
    placement = train.placement
    if placement is None:
        return
    if len(placement.links) != len(train.links):
        raise Refused(f"{len(train.links)} links have {len(placement.links)} places")
    for index, (link, place) in enumerate(zip(train.links, placement.links, strict=True)):
        if len(place.thirds) != len(link.thirds):
            raise Refused(f"link {index}: {len(link.thirds)} third gears have {len(place.thirds)} places")
    rings_with_rollers = len(train.rings) if design.fit.rollers is not None else 0
    if len(placement.rollers) != rings_with_rollers:
        raise Refused(f"{len(placement.rollers)} rings have rollers; {rings_with_rollers} are due")
    drive = placement.drive
    if (drive is None) != (design.drive is None):
        raise Refused("the train has no drive" if drive is None else "the train has a drive that is not asked for")
    if drive is not None:
        if not 0 <= drive.ring < len(train.rings):
            raise Refused(f"the drive works with ring {drive.ring}, which is not there")
        if len(drive.thirds) > 1 or len(drive.at.thirds) != len(drive.thirds):
            raise Refused("the drive has one third gear or none, each with a place")


def _walk(train: Train) -> tuple[list[Fraction], list[bool]]:
    """Turn ring 0 once and follow every mesh outwards: turns of each ring, signed."""
    turns = [Fraction(1)]
    for index, link in enumerate(train.links):
        kind = KIND_BY_NAME[link.kind]
        inward = link.thirds[: kind.wheel_thirds]
        outward = link.thirds[kind.wheel_thirds :]
        turned, driver = turns[-1], train.rings[index]
        for gear in (*inward, link.wheel):
            turned, driver = -turned * driver / gear, gear
        driver = link.pinion  # on the same arbor as the wheel
        for gear in (*outward, train.rings[index + 1]):
            turned, driver = -turned * driver / gear, gear
        turns.append(turned)
    return [1 / abs(turned) for turned in turns], [turned < 0 for turned in turns]


def _teeth(design: Design, train: Train) -> Iterator[Violation]:
    arbors = design.arbors
    for index, link in enumerate(train.links):
        for what, teeth, allowed in (
            ("wheel", link.wheel, arbors.wheel_teeth),
            ("pinion", link.pinion, arbors.pinion_teeth),
            *(("third gear", third, arbors.third_teeth) for third in link.thirds),
        ):
            if teeth not in allowed:
                yield Violation("teeth", f"link {index}", f"{what} of {teeth} teeth is not allowed")


def _steps(design: Design, train: Train) -> Iterator[Violation]:
    rings = design.rings
    if design.rings.teeth is not None:
        for index, (teeth, choice) in enumerate(zip(train.rings, design.rings.teeth, strict=True)):
            if teeth not in choice:
                yield Violation("step", f"ring {index}", f"{teeth} teeth are not among its choices")
    else:
        inner, step = train.rings[0], train.rings[1] - train.rings[0]
        if inner not in rings.inner_teeth:
            yield Violation("step", "ring 0", f"{inner} teeth are not among rings.inner_teeth")
        if step not in rings.tooth_step:
            yield Violation("step", "ring 1", f"a step of {step} teeth is not among rings.tooth_step")
    for index, teeth in enumerate(train.rings):
        if rings.teeth is None:
            due = train.rings[0] + index * (train.rings[1] - train.rings[0])
            if teeth != due:
                yield Violation("step", f"ring {index}", f"has {teeth} teeth, {due} are due")
        elif design.arbors.reverted and index and teeth <= train.rings[index - 1]:
            yield Violation(
                "step", f"ring {index}", f"{teeth} teeth are not more than {train.rings[index - 1]} before it"
            )


def _places(design: Design, train: Train) -> tuple[tuple[LinkFigures, ...], Fraction | None, list[Violation]]:
    """Arbor and third-gear radii, how far rings and links reach, and what has no place. Distances in teeth of pitch
    radius."""
    used = sum(len(link.thirds) for link in train.links)
    misfits = []
    if used > design.arbors.third_gears:
        misfits.append(Violation("third", "train", f"{used} third gears; at most {design.arbors.third_gears}"))
    ratios = [
        Fraction(link.wheel, train.rings[i]) * Fraction(train.rings[i + 1], link.pinion)
        for i, link in enumerate(train.links)
    ]
    if not design.arbors.reverted:
        return tuple(LinkFigures(ratio, None, ()) for ratio in ratios), None, misfits
    gap, mm = least_gap(design), tooth_mm(design)
    figures = []
    reach = Fraction(max(train.rings))
    for index, (link, ratio) in enumerate(zip(train.links, ratios, strict=True)):
        radius = train.placement.links[index].radius if train.placement else None
        arbor, faults = _arbor(train.rings[index], train.rings[index + 1], link, gap, radius)
        misfits += [Violation(rule, f"link {index}", text) for rule, text in faults]
        thirds = thirds_of(train, index)
        figures.append(LinkFigures(ratio, float(arbor) * mm, tuple((one.ring + one.teeth) * mm for one in thirds)))
        far = [Fraction(one.ring + 2 * one.teeth) for one in thirds]
        reach = max(reach, arbor + max(link.wheel, link.pinion), *far)
    return tuple(figures), reach, misfits


def _envelope_mm(design: Design, train: Train, reach: Fraction) -> float:
    """Radius [mm] of the circle around everything that turns or stands, rounded up to the micrometre. reach: of the
    farthest pitch circle of rings and links [teeth]. Rollers stand inside their rings."""
    pitch, fit, at = design.rings.pitch, design.fit, train.placement
    tooth = pitch.value / 2 if pitch.is_module else pitch.value / (2 * PI_LOW)
    beyond = most_of(design)
    found = [reach * tooth + beyond]
    if at is not None:
        stood = [place.radius for place in at.links]
        if at.drive is not None:
            ring = train.rings[at.drive.ring]
            stood.append(at.drive.at.radius)
            tips = [at.drive.at.radius + at.drive.pinion, *(ring + 2 * third for third in at.drive.thirds)]
            found.append(max(tips) * tooth + beyond)
        if fit.plate != "none":
            found.append(max(stood) * tooth + fit.post_radius)
        if fit.stands != "none":
            found.append(max(train.rings[ring] for ring in train.seats) * tooth - rim_of(design) / 2 + fit.post_radius)
    return ceil(max(found) * 1000) / 1000


def _arbor(
    inner: int, outer: int, link: Link, gap: Fraction, radius: int | None
) -> tuple[Fraction, list[tuple[str, str]]]:
    """Where the arbor stands [teeth] and which rules it breaks there. radius: where it is said to stand; None: as far
    in as it can."""
    kind = KIND_BY_NAME[link.kind]
    thirds = list(link.thirds)
    sides = [
        (inner, link.wheel, thirds.pop(0) if kind.wheel_thirds else None, "wheel"),
        (outer, link.pinion, thirds.pop(0) if kind.pinion_thirds else None, "pinion"),
    ]
    direct = [ring + gear for ring, gear, third, _ in sides if third is None]
    if direct:
        arbor = Fraction(direct[0])
    else:
        arbor = Fraction(max(ceil(ring + gear + gap) + (gap == 0) for ring, gear, _, _ in sides))
    faults = []
    if radius is not None:
        if direct and radius not in direct:
            faults.append(("reverted", f"the arbor stands at {radius} teeth, {direct[0]} are due"))
        arbor = Fraction(radius)
    if len(direct) == 2 and direct[0] != direct[1]:
        faults.append(("reverted", f"centre distances of {direct[0]} and {direct[1]} teeth do not agree"))
    for ring, gear, third, name in sides:
        if third is None:
            continue
        apart = arbor - ring - gear
        if apart < gap or apart <= 0:
            faults.append(("third", f"the {name} comes within {float(apart):.3f} teeth of the ring that it must clear"))
        a, b, c = Fraction(ring + third), Fraction(third + gear), arbor
        if not (a <= b + c and b <= a + c and c <= a + b):
            faults.append(("third", f"no triangle of {a}, {b} and {c} teeth on the {name}'s side"))
    return arbor, faults


def _placed(
    design: Design, train: Train, ratios: list[Fraction], reverse: list[bool]
) -> tuple[list[Violation], DriveFigures | None]:
    """What a train's places break, and what its drive does."""
    if train.placement is None:
        missing = design.fit.directions is not None
        return [Violation("direction", "train", "has no places")] if missing else [], None
    room = Room(design, train)
    found = [Violation(*fault) for fault in room.places()]
    found += asked_places(design, train)
    found += [
        _broken(design, check) for check in (*room.checks(), *arm_checks(room), *eye_checks(room)) if not check.kept
    ]
    if train.placement.drive is None or design.drive is None:
        return found, None
    faults, figures = _driven(design, train, ratios, reverse)
    return found + faults, figures


def _runs(design: Design, train: Train) -> Iterator[Violation]:
    """Meshes that do not run as made."""
    for mesh in meshes(design, train) if design.as_made else ():
        if mesh.fault:
            yield Violation("run", mesh.where, mesh.fault, mesh.short_mm)


def _broken(design: Design, check: Check) -> Violation:
    return Violation(check.rule, check.where, check.text(design), None if check.degrees else max(0.0, -check.margin))


def _driven(
    design: Design, train: Train, ratios: list[Fraction], reverse: list[bool]
) -> tuple[list[Violation], DriveFigures]:
    assert train.placement is not None and train.placement.drive is not None and design.drive is not None
    drive, wanted = train.placement.drive, design.drive
    teeth = train.rings[drive.ring]
    faults = []
    if drive.rpm not in wanted.motor_rpm:
        faults.append(f"{float(drive.rpm):g} revolutions a minute are not among drive.motor_rpm")
    if drive.pinion not in wanted.pinion_teeth:
        faults.append(f"a motor pinion of {drive.pinion} teeth is not allowed")
    if len(drive.thirds) > wanted.third_gears:
        faults.append("a third gear is not allowed")
    if wanted.ring != "any" and drive.ring != (0 if wanted.ring == "inner" else len(train.rings) - 1):
        faults.append(f"works with ring {drive.ring}, not with the {wanted.ring}most")
    # Ring 0 turns counterclockwise; the motor clockwise, but for what third gear and reversal turn about.
    turns_back = reverse[drive.ring] != (len(drive.thirds) == 1)
    if turns_back and not wanted.reverse_ok:
        faults.append("the motor would have to turn counterclockwise")
    apart = drive.at.radius - teeth - drive.pinion
    for third in drive.thirds:
        if third not in design.arbors.third_teeth:
            faults.append(f"a third gear of {third} teeth is not allowed")
        if apart < least_gap(design) or apart <= 0:
            faults.append(f"its pinion comes within {apart} teeth of the ring that it must clear")
        if apart > 2 * third:
            faults.append(f"no triangle with a third gear of {third} teeth")
    if not drive.thirds and apart:
        faults.append(f"its pinion stands {apart} teeth from its ring")
    first = 60 * Fraction(teeth, drive.pinion) / drive.rpm / ratios[drive.ring]  # seconds for a turn of ring 0
    error = None
    if wanted.turn is not None:
        body, seconds = wanted.turn
        taken = first * ratios[train.seats[body]]
        error = max(taken / seconds, seconds / taken) - 1
    figures = DriveFigures(tuple(first * ratio for ratio in ratios), error)
    return [Violation("drive", "drive", fault) for fault in faults], figures


def least_gap(design: Design) -> Fraction:
    """Teeth of pitch radius between the pitch circles of two gears that do not mesh."""
    pitch = design.rings.pitch
    room = between_of(design) + design.fit.clearance
    return 2 * room / pitch.value if pitch.is_module else 2 * room * PI_HIGH / pitch.value


def _senses(design: Design, train: Train, reverse: list[bool]) -> Iterator[Violation]:
    for body, place in zip(design.bodies, train.seats, strict=True):
        turns = "reverse" if reverse[place] else "same"
        if body.sense not in ("either", turns):
            yield Violation("sense", body.name, f'turns "{turns}", should turn "{body.sense}"')


def _errors(
    design: Design, train: Train, ratios: list[Fraction], reverse: list[bool]
) -> tuple[Fraction | None, tuple[RingFigures, ...]]:
    periods = [ratios[place] for place in train.seats]
    measure = against_the_first if design.reference == "first" else against_the_best
    square, rate = measure(design, periods)
    first = design.bodies[0]
    riders = {place: index for index, place in enumerate(train.seats)}
    figures = []
    for ring, ratio in enumerate(ratios):
        index = riders.get(ring)
        if index is None:
            figures.append(RingFigures(ratio, reverse[ring], None, None, None, None))
            continue
        body = design.bodies[index]
        target = (body.low / first.high, body.high / first.low)
        error, signed = deviation(Fraction(rate) * periods[index], body.low, body.high)
        figures.append(RingFigures(ratio, reverse[ring], index, target, error, signed))
    return square, tuple(figures)


def _error_limits(design: Design, square: Fraction | None) -> Iterator[Violation]:
    if square is None:
        yield Violation("error", "bodies", "a body exceeds its own max_error_pct")
    elif square > (1 + design.limits.max_error) ** 2:
        over = float(root_of(square) - 1) * 100
        yield Violation(
            "error", "train", f"worst error {over:.6g} %, at most {float(design.limits.max_error) * 100:.6g} %"
        )


def _limits(design: Design, verdict: Verdict) -> Iterator[Violation]:
    limits = design.limits
    for key in ("parts", "jigs", "teeth", "largest", "new_gears"):
        limit, value = getattr(limits, f"max_{key}"), getattr(verdict, key)
        if limit is not None and value > limit:
            yield Violation(f"max_{key}", "train", f"{value}; at most {limit}")
    reach = verdict.envelope_mm  # rounded up to the micrometre: the safe side
    if (
        limits.max_envelope is not None
        and reach is not None
        and Fraction(round(reach * 1000), 1000) > limits.max_envelope
    ):
        most = length_told(design, float(limits.max_envelope))
        yield Violation("max_envelope", "train", f"{length_told(design, reach)}; at most {most}")
