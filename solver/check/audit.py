"""The audit of a ring train: what it does, what it breaks and by how much, and which stated numbers its teeth deny.

It is judged as a solution is; the places that its file gives are turned into spots here.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from math import acos, ceil, cos, radians, sin

from solver.check.arm import arm_checks
from solver.check.eye import eye_checks
from solver.check.findings import Audit, Claim, Finding, compare
from solver.check.judge import judge, least_gap
from solver.check.made import rim_of
from solver.check.room import Room, off_grid, tooth_mm
from solver.check.running import MeshFigures, meshes
from solver.check.thirds import Third, drive_thirds, thirds_of
from solver.check.verdict import Verdict, Violation
from solver.design.design import Design
from solver.design.errors import show_numbers
from solver.design.links import KIND_BY_NAME
from solver.design.train import DrivePlace, LinkPlace, Placement, RollerPlace, Spot, Train
from solver.design.train_data import Motor, RingTrain, Stand


@dataclass(frozen=True)
class RingAudit(Audit):
    """A ring train, judged. design: the limits that it was judged by; train: with its places, where they are known;
    verdict: the judge's, its figures without the bodies' own limits where one of those is exceeded. meshes: how each
    mesh runs, where the file says of what the gears are made; else None."""

    design: Design
    train: Train
    verdict: Verdict
    meshes: tuple[MeshFigures, ...] | None = None


def audit_rings(given: RingTrain, placement: Placement | None = None) -> RingAudit:
    """Judge a ring train by the limits that its file states. placement: places that were found for it, where the file
    gives none; then all of the file's fit is judged. Where third gears may have pins or short teeth, they have what
    breaks fewer rules, then what strays less, then pins. Formulas are the judge's."""
    audits = [_audited(replace(given, design=design), placement) for design in _settled(given.design)]
    best = min(audits, key=lambda audit: (len(audit.findings), _strays(audit)))
    has = any(link.thirds for link in given.train.links) or bool(given.motor and given.motor.thirds)
    if len(audits) == 1 or not has:
        return best
    chosen = "pins" if best.design.wire.third == "pins" else "short teeth"
    return replace(best, notes=(*best.notes, f"wire.third leaves it open: judged with {chosen} on third gears"))


def _settled(design: Design) -> list[Design]:
    """The design with each toothing that its third gears may have."""
    if design.wire.third != "better":
        return [design]
    wires = replace(design.wire, third="pins"), replace(design.wire, third="teeth")
    return [replace(design, wire=wire) for wire in wires]


def _strays(audit: RingAudit) -> list[float]:
    """How far its meshes stray, the worst first."""
    return sorted((mesh.uneven or 0.0 for mesh in audit.meshes or ()), reverse=True)


def _audited(given: RingTrain, placement: Placement | None) -> RingAudit:
    train = given.train
    if placement is not None:
        design = given.design
        train = replace(train, placement=placement)
    else:
        design = _judged_design(given)
        if given.stands is not None:
            train = replace(train, placement=_placement(design, given))
    verdict = judge(design, train)
    found = [Finding(one.rule, one.where, one.text) for one in given.broken]
    found += _worded(design, train, verdict)
    if verdict.error_square is None:
        free = replace(design, bodies=tuple(replace(body, cap=None) for body in design.bodies))
        verdict = replace(judge(free, train), violations=verdict.violations)
        said = [Finding(one.rule, one.where, one.text) for one in verdict.violations if one.rule == "error"]
        found += list(_over_caps(design, verdict)) or said
    notes = (*given.notes, *_not_judged(given, train))
    running = tuple(meshes(design, train)) if design.as_made else None
    return RingAudit(tuple(found), tuple(_ring_claims(given, verdict)), notes, design, train, verdict, running)


def _judged_design(given: RingTrain) -> Design:
    """The design without what cannot be judged: places, rollers and drive that the file does not give."""
    fit = given.design.fit
    if given.stands is None:
        fit = replace(fit, directions=None, rollers=None)
        return replace(given.design, fit=fit, drive=None)
    if not given.directions_stated:
        own = {stand.direction for stand in given.stands}
        own |= {given.motor.stand.direction} if given.motor is not None else set()
        fit = replace(fit, directions=tuple(sorted(own)))
    if given.rollers is None:
        fit = replace(fit, rollers=None)
    return replace(given.design, fit=fit, drive=given.design.drive if given.motor is not None else None)


def _not_judged(given: RingTrain, train: Train) -> Iterator[str]:
    """What the file asks for and the train says nothing of."""
    if not given.design.arbors.reverted:
        yield "arbors.reverted = false: the ratios alone are judged"
        return
    if train.placement is None:
        fit = given.design.fit
        asked = (
            ("arms", given.design.armed),
            ("levels", given.design.as_made),
            ("places asked for", bool(fit.link_places or fit.keep_free)),
        )
        more = [word for word, holds in asked if holds]
        told = ", ".join(["frame", "neighbours", "posts", *more, "stands"])
        last = "and rollers" if given.design.supports is None else ", rollers and what bends"
        yield f"places are not given, so {told}{' ' if last.startswith('and') else ''}{last} are not judged"
    else:
        if given.design.fit.rollers is not None and not train.placement.rollers:
            arms = " and arms to them" if given.design.armed else ""
            yield f"[[train.rollers]] is not given: rollers{arms} are not judged"
        if given.design.drive is not None and train.placement.drive is None:
            yield "[train.drive] is not given: the drive is not judged"


# -- places -----------------------------------------------------------------------------------------------------------


def _placement(design: Design, given: RingTrain) -> Placement:
    assert given.stands is not None
    free = judge(_without_places(design), given.train)  # where an arbor stands that may choose: as far in as it can
    tooth = tooth_mm(design)
    links = []
    for index, (figures, stand) in enumerate(zip(free.links, given.stands, strict=True)):
        assert figures.arbor_mm is not None
        radius = stand.radius or round(figures.arbor_mm / tooth)
        links.append(_stand_up(design, stand, radius, thirds_of(given.train, index)))
    rollers: list[tuple[RollerPlace, ...]] = []
    for teeth, directions in zip(given.train.rings, given.rollers or (), strict=False):
        assert design.fit.rollers is not None
        far = tooth * teeth - float(rim_of(design) + design.fit.rollers.radius)
        rollers.append(tuple(RollerPlace(turn, _spot(max(far, 0.0), float(turn))) for turn in directions))
    return Placement(tuple(links), tuple(rollers), _drive_place(design, given))


def _drive_place(design: Design, given: RingTrain) -> DrivePlace | None:
    motor = given.motor
    if motor is None:
        return None
    radius = given.train.rings[motor.ring] + motor.pinion
    if motor.thirds:
        radius = motor.stand.radius or radius + max(1, ceil(least_gap(design)))
    return motor_at(design, given.train, replace(motor, stand=replace(motor.stand, radius=radius)))


def _stand_up(design: Design, stand: Stand, radius: int, thirds: Iterable[Third]) -> LinkPlace:
    """The place of an arbor at `radius` teeth: each third gear makes a triangle with the main axis and the arbor, whose
    angle at the main axis the law of cosines gives."""
    tooth = tooth_mm(design)
    spots = []
    for third, side in zip(thirds, stand.sides, strict=True):
        a, b, c = radius, third.ring + third.teeth, third.teeth + third.gear
        turn = acos(max(-1.0, min(1.0, (a * a + b * b - c * c) / (2 * a * b))))
        spots.append(_spot(tooth * b, float(stand.direction), side * turn))
    return LinkPlace(stand.direction, radius, _spot(tooth * radius, float(stand.direction)), tuple(spots))


def stood_up(design: Design, train: Train, index: int, stand: Stand) -> LinkPlace:
    """The place of a link's arbor and third gears at a stand whose radius is given."""
    assert stand.radius is not None
    return _stand_up(design, stand, stand.radius, thirds_of(train, index))


def motor_at(design: Design, train: Train, motor: Motor) -> DrivePlace:
    """The motor as it stands where its stand says, its radius given."""
    assert motor.stand.radius is not None
    thirds = drive_thirds(train, motor.ring, motor.pinion, motor.thirds)
    at = _stand_up(design, motor.stand, motor.stand.radius, thirds)
    return DrivePlace(motor.ring, motor.rpm, motor.pinion, motor.thirds, at)


def _spot(far_mm: float, direction: float, turn: float = 0.0) -> Spot:
    """The spot at a distance from the main axis, in a direction [degrees] turned by `turn` radians."""
    angle = radians(direction) + turn
    return round(1000 * far_mm * cos(angle)), round(1000 * far_mm * sin(angle))


def _without_places(design: Design) -> Design:
    return replace(design, fit=replace(design.fit, directions=None, rollers=None), drive=None)


# -- what is broken, in a maker's words -------------------------------------------------------------------------------


def _worded(design: Design, train: Train, verdict: Verdict) -> Iterator[Finding]:
    """The judge's violations with what is missing in millimetres, once each, and with hints."""
    checks, between = {}, set()
    if train.placement is not None:
        room = Room(design, train)
        checks = {
            (c.rule, c.where, c.text(design)): c
            for c in (*room.checks(), *arm_checks(room), *eye_checks(room))
            if not c.kept
        }
        between = set(off_grid(train.placement))
    measured: set[tuple[str, str]] = set()
    for one in verdict.violations:
        if (one.rule, one.where, one.text) in between or (one.rule == "error" and verdict.error_square is None):
            continue  # rollers may stand between the search's directions; own limits of bodies are told body by body
        if one.rule in ("reverted", "third") and one.where.startswith("link "):
            index = int(one.where.removeprefix("link "))
            if (one.rule, one.where) not in measured:
                measured.add((one.rule, one.where))
                yield from _misfits(design, train, verdict, index, one)
            continue
        check = checks.get((one.rule, one.where, one.text))
        if check is None:
            short, hint = _over_envelope(design, verdict, one), _hint(design, train, one)
            yield Finding(one.rule, one.where, one.text, short, None, hint)
        elif one.rule == "roller" and check.margin == 0:  # what is counted, not measured
            yield Finding(one.rule, one.where, check.against)
        elif check.degrees:
            yield Finding(one.rule, one.where, check.against, None, -check.margin)
        else:
            yield Finding(one.rule, one.where, check.against, max(0.0, -check.margin))


def _misfits(design: Design, train: Train, verdict: Verdict, index: int, said: Violation) -> Iterator[Finding]:
    """By how much a link breaks `reverted` or `third` [mm]; what the judge said where nothing is measured."""
    link, tooth, where = train.links[index], tooth_mm(design), f"link {index}"
    inner, outer = train.rings[index : index + 2]
    at, figures = train.placement, verdict.links[index]
    assert figures.arbor_mm is not None
    arbor = at.links[index].radius if at is not None else round(figures.arbor_mm / tooth)
    found = []
    if said.rule == "reverted":
        apart = inner + link.wheel - outer - link.pinion
        wheel, pinion = f"{inner} + {link.wheel} = {inner + link.wheel}", f"{outer} + {link.pinion}"
        text = f"the wheel puts the arbor at {wheel} teeth, the pinion at {pinion} = {outer + link.pinion}"
        hint = f"wheel less pinion must be {outer - inner}, as ring {index + 1} less ring {index}"
        found.append(Finding("reverted", where, text, abs(apart) * tooth, None, hint))
    else:
        found += _third_misfits(design, train, index, arbor)
    yield from found or [Finding(said.rule, where, said.text)]


def _third_misfits(design: Design, train: Train, index: int, arbor: int) -> Iterator[Finding]:
    tooth, gap, where = tooth_mm(design), least_gap(design), f"link {index}"
    for third in thirds_of(train, index):
        side, level, ring, gear, teeth = third.side, third.level, third.ring, third.gear, third.teeth
        apart = arbor - ring - gear
        if apart < gap or apart <= 0:
            text = f"the {side} stands in the way of ring {level}, from which its third gear should keep it"
            yield Finding("third", where, text, float(gap - apart) * tooth)
        a, b, c = ring + teeth, teeth + gear, arbor
        if c > a + b:
            text = f"the third gear of {teeth} teeth does not reach from ring {level} to the {side}"
            hint = f"{-(-(c - ring - gear) // 2)} teeth are the fewest that do"
            yield Finding("third", where, text, (c - a - b) * tooth, None, hint)
        elif a > b + c or b > a + c:
            text = f"ring {level}, third gear and {side} make no triangle"
            yield Finding("third", where, text, max(a - b - c, b - a - c) * tooth)


def _over_envelope(design: Design, verdict: Verdict, said: Violation) -> float | None:
    if said.rule != "max_envelope" or verdict.envelope_mm is None or design.limits.max_envelope is None:
        return said.short_mm
    return verdict.envelope_mm - float(design.limits.max_envelope)


def _hint(design: Design, train: Train, said: Violation) -> str:
    if said.rule == "teeth":
        key = next(key for key in ("wheel", "pinion", "third") if said.text.startswith(key))
        return f"arbors.{key}_teeth is {show_numbers(getattr(design.arbors, f'{key}_teeth'))}"
    if said.rule == "sag":
        ring = said.text.startswith("the ring")
        thicker = "loops (wire.loop), more rollers or narrower gaps" if ring else "posts (fit.post_radius)"
        return f"thicker {thicker}, or a greater supports.sag"
    if said.rule != "sense":
        return ""
    place = train.seats[[body.name for body in design.bodies].index(said.where)]
    turning = [index for index, link in enumerate(train.links[:place]) if KIND_BY_NAME[link.kind].reverses]
    if not turning:
        return "one third gear in a link turns every ring beyond it about"
    links = f"link{'s' if len(turning) > 1 else ''} {' and '.join(map(str, turning))}"
    return f"one third gear ({links}) turns every ring beyond it about; use two, or none"


def _over_caps(design: Design, verdict: Verdict) -> Iterator[Finding]:
    """Bodies beyond their own limits, and the train beyond that for all."""
    overall = design.limits.max_error
    for ring in verdict.rings:
        if ring.body is None or ring.error is None:
            continue
        body = design.bodies[ring.body]
        if body.cap is not None and ring.error > body.cap:
            text = f"is {float(ring.error * 100):.4g} % off, at most {float(body.cap) * 100:.4g} %"
            yield Finding("error", body.name, text)
    assert verdict.error_square is not None and verdict.worst_error is not None
    if verdict.error_square > (1 + overall) ** 2:
        text = f"worst error {verdict.worst_error * 100:.4g} %, at most {float(overall) * 100:.4g} %"
        yield Finding("error", "train", text)


def _ring_claims(given: RingTrain, verdict: Verdict) -> Iterator[Claim]:
    for index, (stated, link) in enumerate(zip(given.ratios, verdict.links, strict=True)):
        if stated is not None:
            yield compare(f"link {index}", stated, link.ratio)
    first = given.states[0]
    unit = first.value if first is not None else Fraction(1)
    for index, (stated, ring) in enumerate(zip(given.states, verdict.rings, strict=True)):
        if stated is not None and index:
            yield compare(f"ring {index}", stated, unit * ring.ratio)
