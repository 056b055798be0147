"""What a command is given to work on, whichever it is: a stored run, a point of a stored sweep, or a design file, which
is solved first where solutions are needed."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from solver.answer.document import Answer, SolutionAnswer, Status, proven_twice
from solver.answer.standing import LISTS
from solver.cli import signals
from solver.cli.exits import EXIT_INFEASIBLE, EXIT_LIMIT, EXIT_OK, Usage
from solver.cli.run import progress_line
from solver.design.design import Design
from solver.design.errors import DesignError, so_many
from solver.files.load import parse_design
from solver.words.shown import pasted

if TYPE_CHECKING:
    from solver.batch.sweep.run import SweepRun  # which takes a while to load


@dataclass(frozen=True)
class PointChoice:
    """Which points of a sweep are meant. named: beginnings of their names; best: the number of the best one, from 1."""

    named: Sequence[str] = ()
    best: int | None = None


@dataclass(frozen=True)
class Source:
    """A design, and what is known of it: its solutions, best first, and the ranks of those on its front.

    name: what messages call it; text: its design file; status: of the answer, or how far a point is; again: all that is
    proven of it was proven a second time; point: the name of a sweep's point, else empty; code: how a command ends that
    needs a solution, where there is none."""

    name: str
    text: str
    design: Design
    solutions: Sequence[SolutionAnswer]
    front: Sequence[int] | None
    status: str
    again: bool
    point: str = ""
    code: int = EXIT_OK

    def solution(self, rank: int) -> SolutionAnswer:
        """The solution of that rank. Raises Usage."""
        found = next((one for one in self.solutions if one.rank == rank), None)
        if found is None:
            raise Usage(f"--rank {rank}: {self.name} has {so_many(len(self.solutions), 'solution')}")
        return found


# -- what is stored ----------------------------------------------------------------------------------------------------


def stored(folder: Path, chosen: PointChoice) -> Source:
    """A stored run, or one point of a stored sweep. Raises Usage, StoreError and DesignError."""
    from solver.batch.sweep.run import is_sweep, load_sweep

    if not is_sweep(folder):
        _refuse_choice(folder, chosen)
        return _run(folder)
    if chosen.named and chosen.best is not None:
        raise Usage("--point, --best: choose one")
    if len(chosen.named) != 1 and chosen.best is None:
        raise Usage(f"{folder}: a sweep; choose one of its points with --point ID or --best N")
    from solver.batch.chosen import named_points

    run = load_sweep(folder)
    point = named_points(run, chosen.named)[0] if chosen.best is None else _best(run, chosen.best)
    return _point(run, point)


def _refuse_choice(source: Path, chosen: PointChoice) -> None:
    for option, told in (("--point", bool(chosen.named)), ("--best", chosen.best is not None)):
        if told:
            raise Usage(f"{option}: chooses among the points of a sweep, and {source} is none")


def _best(run: SweepRun, number: int) -> dict[str, Any]:
    """The best point of that number, which is told."""
    from solver.batch.chosen import best_points
    from solver.batch.sweep.file import short
    from solver.words.settings import settings_text

    points = best_points(run)
    if number > len(points):
        raise Usage(f"--best {number}: {run.folder} has {so_many(len(points), 'point')} with a solution")
    point = points[number - 1]
    told = settings_text(point["settings"]) or point["title"]
    print(f"note: --best {number} is point {short(point['point_id'])}: {told}", file=sys.stderr)
    return point


def _run(folder: Path) -> Source:
    from solver.batch.as_stored import as_stored

    design, run = as_stored(folder)
    again = proven_twice(one["outcome"] for one in run.record.get("proofs", ()))
    return Source(str(folder), run.design_text, design, run.solutions, run.record["front"], run.record["status"], again)


def _point(run: SweepRun, point: dict[str, Any]) -> Source:
    import pyarrow.compute as pc

    rows = run.solutions.filter(pc.equal(run.solutions["point_id"], point["point_id"])).to_pylist()
    return _with_rows(run, point, rows)


def _with_rows(run: SweepRun, point: dict[str, Any], rows: Sequence[dict[str, Any]]) -> Source:
    """A point with its rows of `solutions.parquet`. Raises StoreError and DesignError."""
    from solver.batch.store.errors import StoreError
    from solver.batch.store.runs import solution_from_row
    from solver.batch.sweep.file import short

    name = f"{run.folder}: point {short(point['point_id'])}"
    design = parse_design(point["design"], name)
    if design.sha256() != point["config_sha256"]:
        raise StoreError(f"{name}: was stored by another version, which reads its design otherwise; solve it again")
    try:
        solutions = [solution_from_row({key: row[key] for key in row if key != "point_id"}) for row in rows]
    except (LookupError, TypeError, AttributeError, ValueError) as fault:
        raise StoreError(f"{name}: cannot be read: {' '.join(str(fault).split())}") from None
    again = proven_twice(one["outcome"] for one in json.loads(point["proofs"] or "[]"))
    status = point["status"] or point["state"]
    return Source(name, point["design"], design, solutions, point["front"], status, again, point["point_id"])


# -- what a command takes ----------------------------------------------------------------------------------------------


def text_of(source: Path, chosen: PointChoice) -> tuple[str, str]:
    """The text of a design, and what messages call it; nothing is solved. Raises Usage, StoreError, DesignError and
    OSError."""
    from solver.files.text import read_text

    if source.is_dir():
        found = stored(source, chosen)
        return found.text, found.name
    _refuse_choice(source, chosen)
    return read_text(source), str(source)


def solved(source: Path, chosen: PointChoice, interrupted: str, refuse: Callable[[Design], None]) -> Source:
    """A design with its solutions; of a file for which there are none, why is told, and `code` says how the command
    ends. interrupted: what is said where a signal ends the search, which gives nothing then: half a search is no ground
    to build on; refuse: raises DesignError before anything is done. Raises Usage, StoreError, DesignError and
    OSError."""
    if not source.is_dir():
        _refuse_choice(source, chosen)
        text, design, answer = solve_file(source, interrupted, refuse)
        tell_limits(source, answer)
        return _answered(source, text, design, answer)
    from solver.batch.store.errors import StoreError

    found = stored(source, chosen)
    _refusing(refuse, found.design, found.name)
    if not found.solutions:
        raise StoreError(_without(source, found))
    return found


def _without(folder: Path, found: Source) -> str:
    """That what is stored has no solution, what is known of that, and what to do."""
    name, of = f"{found.name}{'' if found.point else ':'}", pasted(folder)
    if found.point:
        from solver.batch.sweep.file import short

        of += f" --point {short(found.point)}"
    if found.status == Status.INFEASIBLE:
        return f"{name} is proven to have no solution; ringwright explain {of} says why"
    return f"{name} has no solution: {LISTS.get(found.status, f'the point is {found.status}')}"


def tell_limits(file: Path, answer: Answer) -> None:
    """Say on standard error why a file has no solutions, or that they may not be the best."""
    if not answer.solutions and answer.status is Status.INFEASIBLE:
        print(f"{file}: proven that nothing fits; ringwright explain {pasted(file)} says why", file=sys.stderr)
    elif not answer.solutions:
        print(f"{file}: stopped by a limit before a solution was found", file=sys.stderr)
    elif not answer.proven:
        print("note: a limit stopped the search; these may not be the best solutions", file=sys.stderr)


def solve_file(
    file: Path, interrupted: str, refuse: Callable[[Design], None] | None = None
) -> tuple[str, Design, Answer]:
    """The text of a design file, its design and its answer. Raises DesignError and OSError."""
    from solver.answer.solve import solve
    from solver.files.text import read_text

    text = read_text(file)
    design = parse_design(text, str(file))
    if refuse is not None:
        _refusing(refuse, design, str(file))
    with signals.ending(interrupted), progress_line(design.units) as progress:
        return text, design, solve(design, progress=progress)


def _refusing(refuse: Callable[[Design], None], design: Design, name: str) -> None:
    try:
        refuse(design)
    except DesignError as fault:
        raise fault.in_file(name) from None


def _answered(file: Path, text: str, design: Design, answer: Answer) -> Source:
    without = EXIT_INFEASIBLE if answer.status is Status.INFEASIBLE else EXIT_LIMIT
    again = proven_twice(one.outcome for one in answer.proofs or ())
    code = EXIT_OK if answer.solutions else without
    return Source(str(file), text, design, answer.solutions, answer.front, answer.status, again, code=code)


def sources(source: Path, named: Sequence[str]) -> Iterator[Source]:
    """What is to be proven again: a run, these points of a sweep or all that were solved, or a file. Raises Usage,
    StoreError, DesignError and OSError."""
    if source.is_dir():
        from solver.batch.sweep.run import is_sweep

        if is_sweep(source):
            yield from _points(source, named)
        else:
            yield stored(source, PointChoice(named))
        return
    _refuse_choice(source, PointChoice(named))
    text, design, answer = solve_file(source, "")
    if not answer.proven:
        print("note: a limit stopped the search; what it found is put to the proof all the same", file=sys.stderr)
    yield _answered(source, text, design, answer)


def one_source(source: Path, named: Sequence[str], option: str) -> Source:
    """The same, where there has to be one: that there are others is said before any of them is read. option: what asks.
    Raises as `sources`."""
    from solver.batch.sweep.run import is_sweep

    if not source.is_dir() or not is_sweep(source):
        (found,) = sources(source, named)
        return found
    run, points = _chosen(source, named)
    if len(points) != 1:
        raise Usage(f"{option}: of one answer, and {source} has {len(points)}; choose one with --point")
    return _point(run, points[0])


def _chosen(folder: Path, named: Sequence[str]) -> tuple[SweepRun, list[dict[str, Any]]]:
    """A sweep, and these of its points, or all that were solved."""
    from solver.batch.chosen import named_points
    from solver.batch.sweep.run import load_sweep
    from solver.batch.sweep.table import PointState

    run = load_sweep(folder)
    if named:
        return run, named_points(run, named)
    return run, [point for point in run.points if point["state"] == PointState.SOLVED]


def _points(folder: Path, named: Sequence[str]) -> Iterator[Source]:
    run, points = _chosen(folder, named)
    if named:
        for point in points:
            yield _point(run, point)
        return
    rows: dict[str, list[dict[str, Any]]] = {}
    for row in run.solutions.to_pylist():
        rows.setdefault(row["point_id"], []).append(row)
    for point in points:
        yield _with_rows(run, point, rows.get(point["point_id"], []))
