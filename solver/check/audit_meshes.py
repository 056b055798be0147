"""The audit of a train of meshes: the turns of every arbor, followed from mesh to mesh in exact arithmetic."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from solver.check.deviation import deviation
from solver.check.findings import Audit, Finding, compare
from solver.check.judge import Refused
from solver.design.errors import so_many, suggestion
from solver.design.train_data import MOST_RATIO, Goal, Mesh, MeshTrain


@dataclass(frozen=True)
class ArborFigures:
    """An arbor: turns for a turn of the reference arbor, negative where it turns against it. target: (low, high) turns
    wished; error and slow as exact fractions, slow positive where it turns too slowly; None where nothing is wished."""

    name: str
    turns: Fraction
    target: tuple[Fraction, Fraction] | None
    error: Fraction | None
    slow: Fraction | None


@dataclass(frozen=True)
class MeshAudit(Audit):
    """A train of arbors, followed. Two gears of one arbor with the same teeth count as one; third gears count where
    their teeth are given."""

    arbors: tuple[ArborFigures, ...]
    gears: int
    jigs: int
    teeth: int
    largest: int


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
        notes.append(f"{so_many(untold, 'third gear')} without teeth: in the sense, but not in the counts")
    return MeshAudit(
        tuple(found), tuple(claims), tuple(notes), arbors, len(counts), len(set(counts)), sum(counts), max(counts)
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
                text = (
                    f"closes a loop that cannot turn: for a turn of {_quoted(given.reference)}, {_quoted(other)} turns "
                )
                text += f"{_signed(turns[other])} by {_way(ways[other])}, but {_signed(turned)} by {_way(way)}"
                raise Stuck(f"train.meshes[{index}]", text)
    names = dict.fromkeys(name for mesh in given.meshes for name in (mesh.driver, mesh.driven))
    loose = [name for name in names if name not in turns]
    if loose:
        what = ", ".join(map(_quoted, loose[:6])) + (", ..." if len(loose) > 6 else "")
        near = suggestion(loose[0], turns)
        raise Stuck("train.meshes", f"no mesh connects {what} with {_quoted(given.reference)}{near}")
    return {name: turns[name] for name in dict.fromkeys((given.reference, *names))}


def _way(meshes: tuple[int, ...]) -> str:
    if not meshes:
        return "definition"
    return f"mesh{'es' if len(meshes) > 1 else ''} {', '.join(map(str, meshes))}"


def _quoted(arbor: str) -> str:
    return f'"{arbor}"'


def _signed(turns: Fraction) -> str:
    return f"{-turns} times backwards" if turns < 0 else f"{turns} times"


def _arbor(name: str, turned: Fraction, goal: Goal | None) -> ArborFigures:
    if goal is None:
        return ArborFigures(name, turned, None, None, None)
    error, slow = deviation(1 / abs(turned), 1 / goal.high, 1 / goal.low)
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
            text = f"is {float(error) * 100:.4g} % off, at most {float(min(caps)) * 100:.4g} %"
            yield Finding("error", goal.of, text)


def _sense_finding(where: str, of: str, per: str, backwards: bool, wanted: str) -> Finding:
    turning = {"reverse": "against", "same": "the same way as"}
    text = f"{_quoted(of)} turns {turning['reverse' if backwards else 'same']} {_quoted(per)}, not {turning[wanted]} it"
    return Finding("sense", where, text, hint="every mesh reverses: one third gear more or less turns it about")
