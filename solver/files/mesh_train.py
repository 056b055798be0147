"""Reads a train of meshes: arbors, the gears between them, what is stated, and what each arbor should do."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from solver.design.design import Body
from solver.design.errors import show, single, suggestion
from solver.design.train_data import Goal, Mesh, MeshTrain, State
from solver.files.bodies import bodies_of
from solver.files.schema import BodiesTable
from solver.files.train_schema import MeshEntry, MeshTrainFile
from solver.words.shown import seen


def mesh_train(file: MeshTrainFile, name: str) -> MeshTrain:
    """A file's train of meshes. Raises DesignError."""
    table = file.train
    if not table.meshes:
        raise single("train.meshes", None, "is empty; give at least one mesh")
    meshes = tuple(_mesh(entry, f"train.meshes[{index}]") for index, entry in enumerate(table.meshes))
    arbors = _arbors(table.meshes)
    reference = table.reference or arbors[0]
    _known(reference, arbors, "train.reference")
    for index, state in enumerate(table.states):
        for key, arbor in (("of", state.of), ("per", state.per)):
            _known(arbor, arbors, f"train.states[{index}].{key}")
    states = tuple(State(state.of, state.per, state.turns, state.sense) for state in table.states)
    goals: list[Goal] = []
    notes: list[str] = []
    if file.bodies is not None:
        goals, notes = _body_goals(file.bodies, table.reference_period, arbors, reference)
    elif table.reference_period is not None:
        raise single("train.reference_period", table.reference_period, "says nothing without [bodies]")
    for index, entry in enumerate(table.turns):
        path = f"train.turns[{index}].of"
        _known(entry.of, arbors, path)
        if entry.of in [goal.of for goal in goals]:
            raise single(path, entry.of, "is told twice how it should turn")
        cap = entry.max_error_pct / 100 if entry.max_error_pct is not None else None
        goals.append(Goal(entry.of, entry.turns, entry.turns, entry.sense, reference, cap))
    limited = "max_error_pct" in file.search.model_fields_set
    max_error = file.search.max_error_pct / 100 if limited else None
    return MeshTrain(name, file.title, reference, meshes, states, tuple(goals), max_error, tuple(notes))


def _arbors(meshes: Sequence[MeshEntry]) -> list[str]:
    """The names of the arbors in order. Raises DesignError where two of them look the same."""
    known: dict[str, str] = {}
    for index, mesh in enumerate(meshes):
        for key, name in (("driver", mesh.driver), ("driven", mesh.driven)):
            other = known.setdefault(seen(name), name)
            if other != name:
                allowed = f"cannot be told from {show(other)}: names must differ in more than space or hidden signs"
                raise single(f"train.meshes[{index}].{key}", name, allowed)
    return list(known.values())


def _mesh(entry: MeshEntry, path: str) -> Mesh:
    if len(entry.teeth) != 2:
        allowed = "must be two tooth counts: the driver's gear, then the driven one"
        raise single(f"{path}.teeth", entry.teeth, allowed)
    if entry.driver == entry.driven:
        raise single(f"{path}.driven", entry.driven, "is the driver itself; two gears of one arbor do not mesh")
    idlers, thirds = (entry.thirds, ()) if isinstance(entry.thirds, int) else (len(entry.thirds), entry.thirds)
    return Mesh(entry.driver, entry.driven, (entry.teeth[0], entry.teeth[1]), idlers, thirds, entry.ratio)


def _known(arbor: str, arbors: list[str], path: str) -> None:
    if arbor not in arbors:
        near = suggestion(arbor, arbors) or "; the arbors are " + ", ".join(map(show, arbors))
        raise single(path, arbor, f"no mesh has such an arbor{near}")


def _body_goals(
    table: BodiesTable, stated: Fraction | None, arbors: list[str], reference: str
) -> tuple[list[Goal], list[str]]:
    """How the arbors that bear a body's name should turn, and which bodies are on none. stated: the period of the
    reference arbor, where the file gives it."""
    if table.reference != "first":
        allowed = "does not belong here: turns are for one of train.reference; leave it out"
        raise single("bodies.reference", table.reference, allowed)
    bodies = bodies_of(table)
    there = [body for body in bodies if body.name in arbors]
    if not there:
        raise single("bodies", None, f"no arbor bears the name of a body: they are {', '.join(map(show, arbors))}")
    missing = [body.name for body in bodies if body.name not in arbors]
    notes = [f"on no arbor, and left out: {', '.join(missing)}"] if missing else []
    period = _reference_period(there, stated, reference)
    goals = []
    for body in there:
        sense = "either" if body is there[0] else body.sense
        goals.append(Goal(body.name, period / body.high, period / body.low, sense, there[0].name, body.cap))
    return goals, notes


def _reference_period(bodies: list[Body], stated: Fraction | None, reference: str) -> Fraction:
    own = next((body for body in bodies if body.name == reference), None)
    if own is None:
        if stated is not None:
            return stated
        allowed = (
            f"is missing: how long does {show(reference)} take for a turn, in the unit of the bodies' periods? "
            "(or give the reference arbor the name of its body)"
        )
        raise single("train.reference_period", None, allowed)
    if stated is not None:
        raise single("train.reference_period", stated, f"{show(reference)} has its period in [bodies] already")
    if own.low != own.high:
        raise single("train.reference", reference, "has a period range; the reference needs one period")
    return own.low
