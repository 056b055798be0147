"""The audit: what a train that exists does, what it breaks and by how much, and which stated numbers its teeth deny.

A ring train is judged as a solution is; the places that its file gives are turned into spots here. Of any other train
the turns are followed from arbor to arbor.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from math import acos, ceil, cos, floor, radians, sin

from solver.check.judge import Refused, Verdict, Violation, judge
from solver.check.room import ANGLES, Room
from solver.design.audit_file import MOST_RATIO, Goal, Mesh, MeshTrain, RingTrain, Stand, Stated
from solver.design.design import Design
from solver.design.errors import show_numbers, suggestion
from solver.design.links import KIND_BY_NAME
from solver.design.train import DrivePlace, LinkPlace, Placement, RollerPlace, Spot, Train


@dataclass(frozen=True)
class Finding:
    """A broken rule: where, what, and by how much, where that is a distance [mm] or an angle [degrees]. hint: what
    would mend it or what is allowed, "" for none."""

    rule: str
    where: str
    text: str
    short_mm: float | None = None
    short_deg: float | None = None
    hint: str = ""


@dataclass(frozen=True)
class Claim:
    """A number that the maker states, beside what the teeth give.

    verdict: "right" (rounded to the digits stated, or the exact fraction), "truncated" (the right digits, cut off and
    not rounded), "inverse" (right the other way round) or "wrong". due: what should be stated, to as many decimals.
    """

    where: str
    stated: str
    value: Fraction
    verdict: str
    due: str


@dataclass(frozen=True)
class RingAudit:
    """A ring train, judged. design: the limits that it was judged by; train: with its places, where they are known.

    verdict: the judge's, its figures without the bodies' own limits where one of those is exceeded; findings: what is
    broken, in a maker's words; notes: what was taken for granted and what was not judged.
    """

    design: Design
    train: Train
    verdict: Verdict
    findings: tuple[Finding, ...]
    claims: tuple[Claim, ...]
    notes: tuple[str, ...]

    @property
    def sound(self) -> bool:
        """Whether no rule is broken and every stated number is right."""
        return not self.findings and all(claim.verdict == "right" for claim in self.claims)


@dataclass(frozen=True)
class ArborFigures:
    """An arbor: turns for a turn of the reference arbor, negative where it turns against it. target: (low, high) turns
    wished; error and slow as fractions, slow positive where it turns too slowly; None where nothing is wished."""

    name: str
    turns: Fraction
    target: tuple[Fraction, Fraction] | None
    error: float | None
    slow: float | None


@dataclass(frozen=True)
class MeshAudit:
    """A train of arbors, followed. Two gears of one arbor with the same teeth count as one; third gears count where
    their teeth are given."""

    arbors: tuple[ArborFigures, ...]
    findings: tuple[Finding, ...]
    claims: tuple[Claim, ...]
    notes: tuple[str, ...]
    gears: int
    jigs: int
    teeth: int
    largest: int

    @property
    def sound(self) -> bool:
        """Whether no rule is broken and every stated number is right."""
        return not self.findings and all(claim.verdict == "right" for claim in self.claims)


# -- ring trains ------------------------------------------------------------------------------------------------------


def audit_rings(given: RingTrain, placement: Placement | None = None) -> RingAudit:
    """Judge a ring train by the limits that its file states. placement: places that were found for it, where the file
    gives none; then all of the file's fit is judged. Formulas are the judge's."""
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
    if verdict.worst_error is None:
        free = replace(design, bodies=tuple(replace(body, cap=None) for body in design.bodies))
        verdict = replace(judge(free, train), violations=verdict.violations)
        found += _over_caps(design, verdict)
    notes = (*given.notes, *_not_judged(given, train))
    return RingAudit(design, train, verdict, tuple(found), tuple(_ring_claims(given, verdict)), notes)


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
    elif train.placement is None:
        yield "places are not given, so frame, neighbours, posts, stands and rollers are not judged"
    else:
        if given.design.fit.rollers is not None and not train.placement.rollers:
            yield "[[train.rollers]] is not given: rollers are not judged"
        if given.design.drive is not None and train.placement.drive is None:
            yield "[train.drive] is not given: the drive is not judged"


# -- places -----------------------------------------------------------------------------------------------------------


def _placement(design: Design, given: RingTrain) -> Placement:
    assert given.stands is not None
    free = judge(_without_places(design), given.train)  # where an arbor stands that may choose: as far in as it can
    tooth = _tooth_mm(design)
    links = []
    for index, (link, stand) in enumerate(zip(given.train.links, given.stands, strict=True)):
        kind, rings = KIND_BY_NAME[link.kind], given.train.rings[index : index + 2]
        least = free.links[index].arbor_mm
        assert least is not None
        radius = stand.radius or round(least / tooth)
        sides = [(rings[0], link.wheel)] * kind.wheel_thirds + [(rings[1], link.pinion)] * kind.pinion_thirds
        thirds = [(ring, third, gear) for (ring, gear), third in zip(sides, link.thirds, strict=True)]
        links.append(_stand_up(design, stand, radius, thirds))
    rollers: list[tuple[RollerPlace, ...]] = []
    for teeth, directions in zip(given.train.rings, given.rollers or (), strict=False):
        assert design.fit.rollers is not None
        far = tooth * teeth - float(design.rings.rim + design.fit.rollers.radius)
        rollers.append(tuple(RollerPlace(turn, _spot(max(far, 0.0), float(turn))) for turn in directions))
    return Placement(tuple(links), tuple(rollers), _drive_place(design, given))


def _drive_place(design: Design, given: RingTrain) -> DrivePlace | None:
    motor = given.motor
    if motor is None:
        return None
    ring = given.train.rings[motor.ring]
    radius = ring + motor.pinion
    if motor.thirds:
        room = float(2 * design.rings.addendum + design.fit.clearance) / _tooth_mm(design)
        radius = motor.stand.radius or radius + max(1, ceil(room))
    thirds = [(ring, third, motor.pinion) for third in motor.thirds]
    return DrivePlace(motor.ring, motor.rpm, motor.pinion, motor.thirds, _stand_up(design, motor.stand, radius, thirds))


def _stand_up(design: Design, stand: Stand, radius: int, thirds: Sequence[tuple[int, int, int]]) -> LinkPlace:
    """The place of an arbor at `radius` teeth, with third gears given as (ring, third gear, gear) teeth: each makes a
    triangle with the main axis and the arbor, whose angle at the main axis the law of cosines gives."""
    tooth = _tooth_mm(design)
    spots = []
    for (ring, third, gear), side in zip(thirds, stand.sides, strict=True):
        a, b, c = radius, ring + third, third + gear
        turn = acos(max(-1.0, min(1.0, (a * a + b * b - c * c) / (2 * a * b))))
        spots.append(_spot(tooth * b, float(stand.direction), side * turn))
    return LinkPlace(stand.direction, radius, _spot(tooth * radius, float(stand.direction)), tuple(spots))


def _spot(far_mm: float, direction: float, turn: float = 0.0) -> Spot:
    """The spot at a distance from the main axis, in a direction [degrees] turned by `turn` radians."""
    angle = radians(direction) + turn
    return round(1000 * far_mm * cos(angle)), round(1000 * far_mm * sin(angle))


def _without_places(design: Design) -> Design:
    return replace(design, fit=replace(design.fit, directions=None, rollers=None), drive=None)


def _tooth_mm(design: Design) -> float:
    """Pitch radius [mm] for each tooth."""
    return design.rings.pitch.radius_mm(1)


# -- what is broken, in a maker's words -------------------------------------------------------------------------------


def _worded(design: Design, train: Train, verdict: Verdict) -> Iterator[Finding]:
    """The judge's violations with what is missing in millimetres, once each, and with hints."""
    checks, off_grid = {}, set()
    if train.placement is not None:
        checks = {(c.rule, c.where, c.text()): c for c in Room(design, train).checks() if not c.kept}
        off_grid = set(_off_grid(train.placement))
    measured: set[tuple[str, str]] = set()
    for one in verdict.violations:
        if (one.rule, one.where, one.text) in off_grid or (one.rule == "error" and verdict.error_square is None):
            continue  # the grid is the search's own; own limits of bodies are told body by body
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


def _off_grid(placement: Placement) -> Iterator[tuple[str, str, str]]:
    """What the judge says of rollers that stand between the directions that the search knows."""
    for level, some in enumerate(placement.rollers):
        for roller in some:
            if (roller.direction * ANGLES / 360).denominator != 1:
                yield "roller", f"ring {level}", f"{float(roller.direction):g} degrees is not on the grid"


def _misfits(design: Design, train: Train, verdict: Verdict, index: int, said: Violation) -> Iterator[Finding]:
    """By how much a link breaks `reverted` or `third` [mm]; what the judge said where nothing is measured."""
    link, tooth, where = train.links[index], _tooth_mm(design), f"link {index}"
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
    link, tooth, where = train.links[index], _tooth_mm(design), f"link {index}"
    kind = KIND_BY_NAME[link.kind]
    room = float(2 * design.rings.addendum + design.fit.clearance)
    sides = [("wheel", index, link.wheel)] * kind.wheel_thirds
    sides += [("pinion", index + 1, link.pinion)] * kind.pinion_thirds
    for (name, level, gear), third in zip(sides, link.thirds, strict=True):
        ring = train.rings[level]
        apart = (arbor - ring - gear) * tooth
        if apart < room or apart <= 0:
            text = f"the {name} stands in the way of ring {level}, from which its third gear should keep it"
            yield Finding("third", where, text, room - apart)
        a, b, c = ring + third, third + gear, arbor
        if c > a + b:
            text = f"the third gear of {third} teeth does not reach from ring {level} to the {name}"
            hint = f"{-(-(c - ring - gear) // 2)} teeth are the fewest that do"
            yield Finding("third", where, text, (c - a - b) * tooth, None, hint)
        elif a > b + c or b > a + c:
            text = f"ring {level}, third gear and {name} make no triangle"
            yield Finding("third", where, text, max(a - b - c, b - a - c) * tooth)


def _over_envelope(design: Design, verdict: Verdict, said: Violation) -> float | None:
    if said.rule != "max_envelope" or verdict.envelope_mm is None or design.limits.max_envelope is None:
        return said.short_mm
    return verdict.envelope_mm - float(design.limits.max_envelope)


def _hint(design: Design, train: Train, said: Violation) -> str:
    arbors = design.arbors
    if said.rule == "teeth":
        key = next(key for key in ("wheel", "pinion", "third") if said.text.startswith(key))
        allowed = {"wheel": arbors.wheel_teeth, "pinion": arbors.pinion_teeth, "third": arbors.third_teeth}[key]
        return f"arbors.{key}_teeth is {show_numbers(allowed)}"
    if said.rule != "sense":
        return ""
    place = train.places[[body.name for body in design.bodies].index(said.where)]
    turning = [index for index, link in enumerate(train.links[:place]) if KIND_BY_NAME[link.kind].reverses]
    if not turning:
        return "one third gear in a link turns every ring beyond it about"
    links = f"link{'s' if len(turning) > 1 else ''} {' and '.join(map(str, turning))}"
    return f"one third gear ({links}) turns every ring beyond it about; use two, or none"


def _over_caps(design: Design, verdict: Verdict) -> Iterator[Finding]:
    """Bodies beyond their own limits."""
    overall = design.limits.max_error
    for ring in verdict.rings:
        if ring.body is None or ring.error is None:
            continue
        body = design.bodies[ring.body]
        if body.cap is not None and ring.error > body.cap:
            text = f"is {ring.error * 100:.4g} % off, at most {float(body.cap) * 100:.4g} %"
            yield Finding("error", body.name, text)
    if verdict.worst_error is not None and verdict.worst_error > overall:
        text = f"worst error {verdict.worst_error * 100:.4g} %, at most {float(overall) * 100:.4g} %"
        yield Finding("error", "train", text)


# -- stated numbers ---------------------------------------------------------------------------------------------------


def compare(where: str, stated: Stated, value: Fraction) -> Claim:
    """Whether a stated number is what the teeth give, rounded to as many decimals (a tie may go either way). A fraction
    must be exact."""
    if stated.decimals is None:
        verdict = "right" if stated.value == value else "inverse" if stated.value * value == 1 else "wrong"
        return Claim(where, stated.text, value, verdict, str(value))
    unit = Fraction(10) ** -stated.decimals
    if abs(value - stated.value) <= unit / 2:
        verdict = "right"
    elif 0 <= value - stated.value < unit:
        verdict = "truncated"
    elif abs(1 / value - stated.value) <= unit / 2:
        verdict = "inverse"
    else:
        verdict = "wrong"
    rounded = floor(value / unit + Fraction(1, 2)) * unit
    return Claim(where, stated.text, value, verdict, _decimal(rounded, stated.decimals))


def _decimal(value: Fraction, decimals: int) -> str:
    """A multiple of 10**-decimals, written out."""
    if decimals <= 0:
        return str(int(value))
    return f"{Decimal(int(value * 10**decimals)).scaleb(-decimals):f}"


def _ring_claims(given: RingTrain, verdict: Verdict) -> Iterator[Claim]:
    for index, (stated, link) in enumerate(zip(given.ratios, verdict.links, strict=True)):
        if stated is not None:
            yield compare(f"link {index}", stated, link.ratio)
    first = given.states[0]
    unit = first.value if first is not None else Fraction(1)
    for index, (stated, ring) in enumerate(zip(given.states, verdict.rings, strict=True)):
        if stated is not None and index:
            yield compare(f"ring {index}", stated, unit * ring.ratio)


# -- trains of meshes -------------------------------------------------------------------------------------------------


class Stuck(Refused):
    """A train of meshes that is not connected or cannot turn; field: where in the file."""

    def __init__(self, field: str, text: str) -> None:
        self.field = field
        super().__init__(text)


def audit_meshes(given: MeshTrain) -> MeshAudit:
    """Follow a train from arbor to arbor and compare with what is wished and stated. Raises Stuck."""
    turns = _followed(given)
    goals = {goal.of: goal for goal in given.goals}
    arbors = tuple(_arbor(name, turned, goals.get(name)) for name, turned in turns.items())
    claims, found = [], []
    for index, mesh in enumerate(given.meshes):
        if mesh.ratio is not None:
            claims.append(compare(f"mesh {index}: {mesh.driver} to {mesh.driven}", mesh.ratio, abs(_turn(mesh))))
    for index, state in enumerate(given.states):
        turned = turns[state.of] / turns[state.per]
        claims.append(compare(f"{state.of} per {state.per}", state.turns, abs(turned)))
        if state.sense is not None and (state.sense == "reverse") != (turned < 0):
            found.append(_sense_finding(f"state {index}", state.of, state.per, turned < 0, state.sense))
    found += _unmet(given, arbors, turns)
    gears = {(mesh.driver, mesh.teeth[0]) for mesh in given.meshes}
    gears |= {(mesh.driven, mesh.teeth[1]) for mesh in given.meshes}
    counts = [z for _, z in gears] + [z for mesh in given.meshes for z in mesh.thirds]
    notes = list(given.notes)
    untold = sum(mesh.idlers - len(mesh.thirds) for mesh in given.meshes)
    if untold:
        notes.append(f"{untold} third gears without teeth: in the sense, but not in the counts")
    return MeshAudit(
        arbors, tuple(found), tuple(claims), tuple(notes), len(counts), len(set(counts)), sum(counts), max(counts)
    )


def _turn(mesh: Mesh) -> Fraction:
    """Turns of the driven arbor for a turn of the driver, negative where it turns against it: every external mesh
    reverses (counting meshes; common practice, no source)."""
    turned = Fraction(mesh.teeth[0], mesh.teeth[1])
    return turned if mesh.idlers % 2 else -turned


def _followed(given: MeshTrain) -> dict[str, Fraction]:
    """Turns of every arbor for a turn of the reference arbor."""
    turns: dict[str, Fraction] = {given.reference: Fraction(1)}
    ways: dict[str, tuple[int, ...]] = {given.reference: ()}
    waiting, seen = [given.reference], set()
    while waiting:
        arbor = waiting.pop(0)
        for index, mesh in enumerate(given.meshes):
            if index in seen or arbor not in (mesh.driver, mesh.driven):
                continue
            seen.add(index)
            forth = arbor == mesh.driver
            other = mesh.driven if forth else mesh.driver
            turned, way = turns[arbor] * (_turn(mesh) if forth else 1 / _turn(mesh)), (*ways[arbor], index)
            if other not in turns:
                if not Fraction(1, MOST_RATIO) <= abs(turned) <= MOST_RATIO:
                    raise Stuck(f"train.meshes[{index}]", "is beyond 10^15 to 1 from the reference; no gears do that")
                turns[other], ways[other] = turned, way
                waiting.append(other)
            elif turns[other] != turned:
                text = f"closes a loop that cannot turn: for a turn of {_name(given.reference)}, {_name(other)} turns "
                text += f"{_signed(turns[other])} by {_way(ways[other])}, but {_signed(turned)} by {_way(way)}"
                raise Stuck(f"train.meshes[{index}]", text)
    names = dict.fromkeys(name for mesh in given.meshes for name in (mesh.driver, mesh.driven))
    loose = [name for name in names if name not in turns]
    if loose:
        what = ", ".join(map(_name, loose[:6])) + (", ..." if len(loose) > 6 else "")
        near = suggestion(loose[0], turns)
        raise Stuck("train.meshes", f"no mesh connects {what} with {_name(given.reference)}{near}")
    return {name: turns[name] for name in dict.fromkeys((given.reference, *names))}


def _way(meshes: tuple[int, ...]) -> str:
    if not meshes:
        return "definition"
    return f"mesh{'es' if len(meshes) > 1 else ''} {', '.join(map(str, meshes))}"


def _name(arbor: str) -> str:
    return f'"{arbor}"'


def _signed(turns: Fraction) -> str:
    return f"{-turns} times backwards" if turns < 0 else f"{turns} times"


def _arbor(name: str, turned: Fraction, goal: Goal | None) -> ArborFigures:
    if goal is None:
        return ArborFigures(name, turned, None, None, None)
    rate, error, slow = abs(turned), 0.0, 0.0
    if rate > goal.high:
        error, slow = float(rate / goal.high - 1), float(goal.high / rate - 1)
    elif rate < goal.low:
        error = slow = float(goal.low / rate - 1)
    return ArborFigures(name, turned, (goal.low, goal.high), error, slow)


def _unmet(given: MeshTrain, arbors: Sequence[ArborFigures], turns: dict[str, Fraction]) -> Iterator[Finding]:
    """Arbors that turn the wrong way, or farther from what is wished than they may."""
    figures = {arbor.name: arbor for arbor in arbors}
    for goal in given.goals:
        backwards = turns[goal.of] / turns[goal.against] < 0
        if goal.sense != "either" and (goal.sense == "reverse") != backwards:
            yield _sense_finding(goal.of, goal.of, goal.against, backwards, goal.sense)
        error = figures[goal.of].error
        caps = [cap for cap in (goal.cap, given.max_error) if cap is not None]
        if error is not None and caps and error > min(caps):
            yield Finding("error", goal.of, f"is {error * 100:.4g} % off, at most {float(min(caps)) * 100:.4g} %")


def _sense_finding(where: str, of: str, per: str, backwards: bool, wanted: str) -> Finding:
    turning = {"reverse": "against", "same": "the same way as"}
    text = f"{_name(of)} turns {turning['reverse' if backwards else 'same']} {_name(per)}, not {turning[wanted]} it"
    return Finding("sense", where, text, hint="every mesh reverses: one third gear more or less turns it about")
