"""A sweep from its file to its finished run: open or resume, take over what is known, solve the rest, make tables."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from solver.batch.store import parts
from solver.batch.store.errors import StoreError
from solver.batch.store.files import remove_half_written, replace_whole
from solver.batch.store.identity import answer_version
from solver.batch.store.lock import held
from solver.batch.sweep.file import Sweep
from solver.batch.sweep.known import known_elsewhere
from solver.batch.sweep.run import MANIFEST, SWEEP_SCHEMA, damage, write_manifest
from solver.batch.sweep.runner import ASK_S, GRACE_S, Event, run_points
from solver.batch.sweep.table import JOBS, JobTable, PointState
from solver.batch.sweep.workers import Workers
from solver.design.errors import DesignError, single, so_many
from solver.search.stop import Deadline, FirstOf, NoStop, StopRule

SWEEP, BASE = "sweep.toml", "base.toml"
_ASIDE = ".damaged"


@dataclass(frozen=True)
class Ending:
    """How one call of a sweep ended. interrupted: points that are stopped only until the next call; why: None where
    every point is finished, else as `run_points` says it."""

    folder: Path
    counts: dict[PointState, int]
    interrupted: int
    why: str | None

    @property
    def left(self) -> int:
        """How many points the next call goes on with."""
        return self.interrupted + sum(number for state, number in self.counts.items() if not state.terminal)

    @property
    def complete(self) -> bool:
        return not self.left


@contextmanager
def opened(
    sweep: Sweep,
    results: Path,
    note: Callable[[str], None],
    extend: bool = False,
    again: bool = False,
    mend: bool = False,
) -> Iterator[tuple[Path, JobTable]]:
    """The folder and the table of a sweep's run, locked, made or resumed: what was interrupted waits again, and what
    other runs know is taken over.

    extend: take a file that has changed since; again: solve stopped and failed points once more; mend: put damaged
    files aside. note: told what was done besides. Raises Busy, DesignError where the file has changed, StoreError where
    files are damaged, OSError.
    """
    folder = results / sweep.name
    folder.mkdir(parents=True, exist_ok=True)
    with held(folder):
        remove_half_written(folder)
        table = _table(folder, note, mend)
        try:
            changed = _agree(folder, table, sweep, extend)
            _judge_files(folder, table, note, mend)
            table.go_on()
            if again:
                states = (PointState.STOPPED, PointState.FAILED)
                table.wait_again(point["id"] for point in table.points(*states, columns=("id",)))
            if table.counts()[PointState.WAITING] + table.counts()[PointState.SOLVING]:
                _take_over(results, folder, table, note)
                changed = True
            if changed:
                (folder / MANIFEST).unlink(missing_ok=True)
            yield folder, table
        finally:
            table.close()


def run_sweep(
    folder: Path,
    table: JobTable,
    sweep: Sweep,
    workers: Workers,
    tell: Callable[[Event], None],
    stop: StopRule | None = None,
    grace_s: float = GRACE_S,
    ask_s: float = ASK_S,
) -> Ending:
    """Solve what waits of an opened sweep, and make its tables once every point is finished. Raises as `run_points`."""
    rule: StopRule = stop or NoStop()
    if sweep.limits.total_s is not None:
        rule = FirstOf(rule, Deadline(sweep.limits.total_s))
    why = run_points(folder, table, workers, rule, tell, sweep.limits.point_s, sweep.limits.memory_mb, grace_s, ask_s)
    ending = Ending(folder, table.counts(), table.interrupted(), why)
    if ending.complete and not (folder / MANIFEST).exists():
        finish(folder, table, sweep.title)
    return ending


def finish(folder: Path, table: JobTable, title: str) -> None:
    """Make `points.parquet`, `solutions.parquet`, `report.parquet` and the manifest of a run that is complete."""
    files = parts.compact(folder, table.points(), {"title": title, "answer_version": answer_version()})
    manifest = {
        "schema": SWEEP_SCHEMA,
        "title": title,
        "finished": datetime.now(UTC).isoformat(timespec="seconds"),
        "points": {str(state): number for state, number in table.counts().items() if number},
        "answer_version": answer_version(),
        **parts.provenance(),
        "files": {**files, **table.files()},
    }
    write_manifest(folder, manifest)


# -- opening -----------------------------------------------------------------------------------------------------------


def _table(folder: Path, note: Callable[[str], None], mend: bool) -> JobTable:
    try:
        return JobTable(folder)
    except StoreError as fault:
        if not mend:
            raise StoreError(f"{fault}; {_mending('solves again what no other file holds')}") from None
    for name in (JOBS, f"{JOBS}-journal", f"{JOBS}-wal", f"{JOBS}-shm"):
        if (folder / name).exists():
            (folder / name).replace(folder / (name + _ASIDE))
    note(f"{folder / JOBS}: damaged, put aside")
    return JobTable(folder)


def _mending(what: str) -> str:
    return f"--mend puts it aside and {what}"


def _agree(folder: Path, table: JobTable, sweep: Sweep, extend: bool) -> bool:
    """Enter a new sweep's points; refuse one that has changed since its points were begun. Whether they are other ones
    than before."""
    before = [point["id"] for point in table.points(columns=("id",))]
    if before != [point.id for point in sweep.points]:
        counts = table.counts()
        begun = sum(number for state, number in counts.items() if state.terminal)
        if begun and not extend:
            finished = "finished or interrupted" if table.interrupted() else "finished"
            raise _changed(folder, table, sweep, f"{begun} of its {so_many(len(before), 'point')} are {finished}")
    about = {
        "title": sweep.title,
        "meaning": json.dumps(sweep.meaning(), ensure_ascii=False),
        "answer_version": answer_version(),
    }
    if before != [point.id for point in sweep.points] or any(table.about(key) != text for key, text in about.items()):
        table.describe(sweep.points, answer_version(), about)
    for name, text in ((SWEEP, sweep.text), (BASE, sweep.base_text)):
        if text is not None and (not (folder / name).exists() or (folder / name).read_text(encoding="utf-8") != text):
            replace_whole(folder / name, text.encode())
    return before != [point.id for point in sweep.points]


def _changed(folder: Path, table: JobTable, sweep: Sweep, begun: str) -> DesignError:
    before, now = json.loads(table.about("meaning") or "{}"), sweep.meaning()
    keys = [key for key in {**before, **now} if before.get(key) != now.get(key)]
    if not keys:
        what = "the code that answers has changed since"
    else:
        shown = [f"{key.removeprefix('base.')} {_word(before, key)} → {_word(now, key)}" for key in keys[:6]]
        what = "changed since: " + "; ".join(shown) + (f"; and {len(keys) - 6} more" if len(keys) > 6 else "")
    return single(
        "",
        None,
        f"{what}. {begun}; --extend keeps them and solves what is new, --name NAME begins another run",
        str(folder),
    )


def _word(data: dict[str, object], key: str) -> str:
    return json.dumps(data[key], ensure_ascii=False) if key in data else "(none)"


def _judge_files(folder: Path, table: JobTable, note: Callable[[str], None], mend: bool) -> None:
    """Refuse, or put aside, what is not as it was written; remove parts that were never entered."""
    listed = table.files()
    (folder / parts.PARTS).mkdir(exist_ok=True)
    remove_half_written(folder / parts.PARTS)
    for path in (folder / parts.PARTS).glob("*.parquet"):
        if f"{parts.PARTS}/{path.name}" not in listed:
            path.unlink()
    wrong = parts.damaged(folder, listed)
    tables = {name: told for name, told in damage(folder).items() if name not in wrong}
    if (wrong or tables) and not mend:
        lines = [f"{folder / name}: {told}; {_mending('solves its points again')}" for name, told in wrong.items()]
        lines += [
            f"{folder / name}: {told}; {_mending('makes it anew from the parts')}" for name, told in tables.items()
        ]
        raise StoreError(*lines)
    for name, told in wrong.items():
        number = table.without_part(parts.number_of(name), [name])
        note(f"{folder / name}: {told}; put aside, {so_many(number, 'point')} to be solved again")
    for name, told in tables.items():
        note(f"{folder / name}: {told}; put aside, made anew")
    for name in (*wrong, *tables):
        if (folder / name).exists():
            (folder / name).replace(folder / (name + _ASIDE))
    if wrong or tables:
        (folder / MANIFEST).unlink(missing_ok=True)


def _take_over(results: Path, folder: Path, table: JobTable, note: Callable[[str], None]) -> None:
    """Enter what the other runs in the same folder have proven."""
    waiting = {point["id"] for point in table.points(PointState.WAITING, PointState.SOLVING, columns=("id",))}
    table.void_leases()
    taken: dict[str, int] = {}
    for point, run, result in known_elsewhere(results, folder, waiting):
        if table.adopt(point, result):
            taken[run] = taken.get(run, 0) + 1
    for run, number in taken.items():
        note(f"{so_many(number, 'point')} taken over from {run}")
