"""The command `rank`: stored solutions filtered, ordered, and given out as a table, CSV, JSON, Parquet or a plot."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pyarrow.parquet as pq

from solver.answer.standing import LISTS
from solver.batch.chosen import names_begun
from solver.batch.listing import CSV_COLUMNS, csv_of, json_of
from solver.batch.ranking import COLUMN, PICKED, Shelf, Shelved, answered, most_of, shelved, sound, where_of
from solver.batch.store.errors import StoreError
from solver.batch.store.output import OutputError, output, refuse_output
from solver.batch.units import UnclearUnit, limit_in_mm
from solver.cli.exits import EXIT_LIMIT, EXIT_OK, Usage
from solver.cli.line import tell
from solver.cli.source import solve_file, tell_limits
from solver.cli.stored import print_stored
from solver.cli.tables import Paper
from solver.cli.words import RankWords
from solver.design.errors import so_many, suggestion
from solver.sheets.draw.scatter import scatter

_POINTS = {"infeasible": "proven to have none", "unknown": "stopped by a limit"}
_TOLD = 5  # runs of which it is said that they have no solution
_INTERRUPTED = "interrupted: nothing was ranked"


@dataclass(frozen=True)
class RankChoice:
    """What the words of the command line ask for. most: greatest value by rank key, and the unit of a length that was
    told with one; form: "table", "csv" or "json"."""

    by: Sequence[str]
    most: dict[str, tuple[float, str | None]]
    where: Sequence[tuple[str, str]]
    front: Sequence[str]
    top: int
    form: str
    parquet: Path | None
    plot: Path | None
    force: bool = False
    points: Sequence[str] = ()


def choice_of(words: RankWords) -> RankChoice:
    """What the words mean. Raises Usage."""
    limits = {}
    for word in words.most or []:
        try:
            key, limit, unit = most_of(word)
        except ValueError:
            raise Usage(f"--most {word}: needs a number; write it like error=1.5") from None
        if key in limits:
            raise Usage(f"--most {word}: {key} has a limit already")
        limits[_key("--most", word, key)] = limit, unit
    said = []
    for word in words.where or []:
        try:
            said.append(where_of(word))
        except ValueError:
            raise Usage(
                f"--where {word}: needs a field of the design file and a value; write it like bodies.set=saturn"
            ) from None
    if words.as_csv and words.as_json:
        raise Usage("--csv, --json: choose one")
    form = "csv" if words.as_csv else "json" if words.as_json else "table"
    by, front = _keys("--by", words.by), _keys("--front", words.front) if words.front else []
    return RankChoice(
        by, limits, said, front, words.top, form, words.parquet, words.plot, words.force, words.point or ()
    )


def _keys(option: str, told: str) -> list[str]:
    keys = [_key(option, told, word.strip()) for word in told.split(",")]
    if len(set(keys)) < len(keys):
        raise Usage(f"{option} {told}: names a rank key twice")
    return keys


def _key(option: str, told: str, word: str) -> str:
    if word not in COLUMN:
        near = suggestion(word, COLUMN) or "; the keys are " + ", ".join(COLUMN)
        raise Usage(f'{option} {told}: "{word}" is no rank key{near}')
    return word


def run_rank(runs: Sequence[Path], choice: RankChoice) -> int:
    """Rank the solutions of stored runs, and of design files, which are solved first; the exit code. What is no sound
    run is named, and the rest is ranked.

    Raises StoreError where none is sound, Usage and OSError."""
    written = {option: path for option, path in (("--parquet", choice.parquet), ("--plot", choice.plot)) if path}
    for option, path in written.items():
        refuse_output(option, path, choice.force)
    if len({os.path.realpath(path) for path in written.values()}) < len(written):
        raise OutputError(f"--parquet, --plot: both {choice.plot}; choose two names")
    found, wrong = sound(runs, _Reading(len(runs)).read)
    if not found:
        raise StoreError(*wrong)
    for line in wrong:
        print(line, file=sys.stderr)
    for line in _barren(found) if choice.form == "table" else ():
        print(f"note: {line}", file=sys.stderr)
    shelf = Shelf(found)
    limits, new = _limits(shelf, choice), shelf.figure("new_gears")
    most_new = limits.pop("new_gears", np.inf)
    asked = shelf.within(limits, choice.where, _points(shelf, choice.points))
    rows = asked[new[asked] <= most_new]
    tell(f"ordering {so_many(len(rows), 'solution')}")
    if "new_gears" in (*choice.by, *choice.front, *choice.most):
        _tell_uncounted(int(np.isinf(new[asked]).sum()), "new_gears" in choice.most)
    chosen = shelf.front(rows, choice.front) if choice.front else rows
    chosen = shelf.ordered(chosen, choice.by)[: choice.top]
    if choice.parquet is not None:
        with (
            output("--parquet", choice.parquet, choice.force) as stream,
            pq.ParquetWriter(stream, PICKED, write_page_checksum=True) as writer,
        ):
            for table in shelf.tables(chosen):
                writer.write_table(table)
        print(f"written to {choice.parquet}", file=sys.stderr)
    if choice.plot is not None:
        points = zip(shelf.figure("parts")[rows], shelf.figure("error")[rows], shelf.titles(rows), strict=True)
        drawn = scatter([(int(parts), error, title) for parts, error, title in points])
        with output("--plot", choice.plot, choice.force) as stream:
            stream.write(drawn.encode())
        print(f"drawn as {choice.plot}", file=sys.stderr)
    if choice.form == "csv":
        sys.stdout.writelines(csv_of(shelf.tables(chosen, CSV_COLUMNS), shelf.units(chosen)))
    elif choice.form == "json":
        sys.stdout.writelines(json_of(shelf.tables(chosen)))
    elif len(chosen):
        print_stored(Paper(sys.stdout), shelf.table(chosen).to_pylist(), shelf.units(chosen))
    else:
        unsaid = ", ".join(shelf.unsaid(choice.where))
        told = f"; no design says {unsaid}, asked for by --where" if unsaid else ""
        print(f"no stored solution is within these limits{told}", file=sys.stderr)
    return EXIT_LIMIT if wrong else EXIT_OK


def _tell_uncounted(count: int, limited: bool) -> None:
    """Say of how many of the solutions asked for it was not counted what is to be made, since that is not asked for
    there."""
    what = "left out" if limited else "put last"
    if count:
        told = so_many(count, "solution")
        print(f"note: no new_gears were counted for {told}, {what}: the design does not ask for it", file=sys.stderr)


def _barren(runs: Sequence[Shelved]) -> Iterator[str]:
    """Which runs, or how many of their points, have no solution to rank, and what is known of these."""
    without = [run for run in runs if sum(run.barren.values())]
    for run in without[:_TOLD]:
        if set(run.designs) == {""}:
            yield f"{run.run}: {LISTS[next(iter(run.barren))]}"
            continue
        words = ", ".join(f"{count} {_POINTS.get(known, known)}" for known, count in sorted(run.barren.items()))
        none = so_many(sum(run.barren.values()), "point")
        yield f"{run.run}: {none} of {len(run.designs)} without a solution: {words}"
    if len(without) > _TOLD:
        yield f"{so_many(len(without) - _TOLD, 'more run')} without a solution, or with points that have none"


def _limits(shelf: Shelf, choice: RankChoice) -> dict[str, float]:
    """The greatest values, lengths in millimetres. Raises Usage."""
    try:
        return {
            key: limit_in_mm(limit, unit, shelf.units(np.arange(len(shelf)))) if key == "envelope" else limit
            for key, (limit, unit) in choice.most.items()
        }
    except UnclearUnit as fault:
        raise Usage(f"--most envelope={fault}") from None


class _Reading:
    """Reads runs one after the other, and tells how far it is."""

    def __init__(self, runs: int) -> None:
        self.runs, self.begun, self.points, self.solutions = runs, 0, 0, 0

    def read(self, path: Path) -> Shelved:
        """As `_read`."""
        self.begun += 1
        so_far = f"; so far {so_many(self.points, 'point')}, {so_many(self.solutions, 'solution')}"
        tell(f"reading {path}, {self.begun} of {so_many(self.runs, 'run')}{so_far if self.points else ''}")
        found = _read(path)
        self.points, self.solutions = self.points + len(found.designs), self.solutions + len(found.deciding)
        tell(f"{so_many(self.points, 'point')} read, {so_many(self.solutions, 'solution')}")
        return found


def _read(path: Path) -> Shelved:
    """The solutions of a stored run, or of a file that is solved. Raises StoreError, DesignError and OSError."""
    if path.is_dir() or not path.exists():
        return shelved(path)
    text, _, answer = solve_file(path, _INTERRUPTED)
    tell_limits(path, answer)
    return answered(str(path), text, answer)


def _points(shelf: Shelf, begun: Sequence[str]) -> set[str] | None:
    """The points that are meant; None where all are. Raises StoreError and Usage."""
    if not begun:
        return None
    names = [point for run in shelf.runs for point in run.designs if point]
    if not names:
        raise Usage("--point: chooses among the points of a sweep, and none is given")
    return set(names_begun(begun, names))
