"""The command `sweep`: progress, what came of it, how far a run is, what a run would be."""

from __future__ import annotations

import json
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from os import cpu_count
from pathlib import Path
from typing import Any

from solver.batch.store.lock import holder
from solver.batch.store.output import refuse_for_sweep, refuse_no_folder
from solver.batch.store.parts import damaged as damaged_parts
from solver.batch.store.parts import from_stream
from solver.batch.sweep.cluster import ClusterLost, ClusterWorkers
from solver.batch.sweep.estimate import ONE_S, Trial, likely, tried
from solver.batch.sweep.file import Point, Sweep, load_sweep_file, short
from solver.batch.sweep.run import damage, is_sweep, load_sweep
from solver.batch.sweep.runner import Event
from solver.batch.sweep.sweeps import Ending, opened, run_sweep
from solver.batch.sweep.table import JOBS, JobTable, PointState, is_interrupted
from solver.batch.sweep.workers import LocalWorkers, Workers
from solver.cli import signals
from solver.cli.counted import counts_text, finished_text, without_solution
from solver.cli.exits import EXIT_INPUT, EXIT_LIMIT, EXIT_OK
from solver.cli.numbers import percent
from solver.cli.run import but_stored, interruptible, lost_pipes_told
from solver.cli.screen import Lines, Screen
from solver.cli.tables import Paper, plain_table
from solver.cli.words import SweepWords
from solver.design.errors import so_many
from solver.words.settings import plain_value, settings_text
from solver.words.shown import pasted

TOP = 10
_FIELDS_APART = 5


def run_file(words: SweepWords) -> int:
    """Solve a sweep file, or go on with it; the exit code. Raises as `opened` and `run_sweep`, and
    OutputError."""
    sweep = named_sweep(words.file, words.name)
    refuse_for_sweep(words.results / sweep.name)
    slots = words.workers or sweep.limits.workers or cpu_count() or 1
    cluster = words.cluster
    pool: Callable[[], Any] = (lambda: ClusterWorkers(cluster, slots)) if cluster else (lambda: LocalWorkers(slots))

    def note(line: str) -> None:
        print(line, file=sys.stderr)

    with (
        lost_pipes_told(),
        opened(sweep, words.results, note, words.extend, words.again, words.mend) as (folder, table),
        ExitStack() as stack,
    ):
        with signals.ending(f"stored in {folder}"):
            workers = stack.enter_context(pool())
        try:
            ending, signum = _solve(folder, table, sweep, workers)
        except ClusterLost as fault:
            print(fault, file=sys.stderr)
            return EXIT_LIMIT
    with signals.ending(f"stored in {folder}"):
        try:
            print_ending(Paper(sys.stdout), sweep, ending)
            sys.stdout.flush()
        except OSError as fault:
            raise but_stored(fault, f"in {folder}") from None
        print(f"stored in {folder}", file=sys.stderr)
    if signum is not None:
        return 128 + signum
    unsolved = sum(number for state, number in ending.counts.items() if state != PointState.SOLVED)
    return EXIT_LIMIT if unsolved else EXIT_OK


def named_sweep(path: Path, name: str | None) -> Sweep:
    """The sweep of a file, its run called otherwise where a name is given. Raises DesignError and OSError."""
    from dataclasses import replace

    sweep = load_sweep_file(path)
    if sweep.alike:
        print(f"{so_many(sweep.alike, 'point')} left out: the same as another", file=sys.stderr)
    return sweep if name is None else replace(sweep, name=name)


def _solve(folder: Path, table: JobTable, sweep: Sweep, workers: Workers) -> tuple[Ending, int | None]:
    counts = table.counts()
    begun = sum(number for state, number in counts.items() if state.terminal)
    if begun and begun < len(sweep.points):
        print(f"going on: {begun} of {so_many(len(sweep.points), 'point')} are finished", file=sys.stderr)
    with _progress(len(sweep.points), begun) as tell:
        return interruptible(lambda interrupt: run_sweep(folder, table, sweep, workers, tell, interrupt))


@dataclass
class _Progress:
    total: int
    done: int
    began: float = field(default_factory=time.monotonic)
    first: int = 0
    best: float | None = None
    lost: int = 0

    def take(self, event: Event) -> None:
        self.done += event.state.terminal
        self.lost += event.result is None
        if event.result is not None and event.result.record["solutions"]:
            error = from_stream(event.result.rows)["worst_error_pct"][0].as_py()
            self.best = error if self.best is None else min(self.best, error)

    def __str__(self) -> str:
        seconds, solved = time.monotonic() - self.began, self.done - self.first
        words = [f"{self.done} of {so_many(self.total, 'point')}"]
        if solved and seconds > 0:
            words.append(f"{solved / seconds:.1f} a second")
            words.append(f"about {duration((self.total - self.done) * seconds / solved)} left")
        if self.best is not None:
            words.append(f"best so far {percent(self.best)} %")
        if self.lost:
            words.append(f"workers lost {self.lost}")
        return ", ".join(words)


@contextmanager
def _progress(total: int, done: int) -> Iterator[Callable[[Event], None]]:
    """Shows how far it is, on one line of a terminal; silent elsewhere."""
    state = _Progress(total, done, first=done)
    if not sys.stderr.isatty():
        yield state.take
        return
    with signals.line_of_progress(), Screen(sys.stderr).status(str(state)) as line:

        def tell(event: Event) -> None:
            state.take(event)
            line.update(str(state))

        yield tell


def duration(seconds: float) -> str:
    """A time for a reader: "40 s", "12 min", "3 h 20 min"."""
    if seconds < 90:
        return f"{max(1, round(seconds))} s"
    minutes = round(seconds / 60)
    return f"{minutes} min" if minutes < 90 else f"{minutes // 60} h {minutes % 60} min"


# -- what came of it -------------------------------------------------------------------------------------------------


def print_ending(paper: Paper, sweep: Sweep, ending: Ending) -> None:
    """The best points, how many there are of each state, and why some were not solved."""
    run = load_sweep(ending.folder)
    _print_best(paper, sweep.title, run.points)
    paper.line(counts_text(ending.counts, len(without_solution(run.points))))
    print_unsolved(paper, ending.folder, run.points)
    if ending.why is not None:
        why = "interrupted" if ending.why == "interrupt" else f"limits.total_s = {sweep.limits.total_s:g} is over"
        paper.line(f"{why}: {so_many(ending.left, 'point')} left; the same command goes on with them")


def _print_best(paper: Paper, title: str, points: list[dict[str, Any]]) -> None:
    found = [point for point in points if point["best_worst_error_pct"] is not None]
    found.sort(key=lambda point: (point["best_worst_error_pct"], point["best_parts"], point["ordinal"]))
    if not found:
        paper.line(f"{title}: no point has a solution")
        return
    settings = [json.loads(point["settings"]) for point in found[:TOP]]
    fields = list(dict.fromkeys(path for one in settings for path in one))
    apart = len(fields) <= _FIELDS_APART
    varied = _headings(fields) if apart else ["what is varied"]
    figures = ("error %", "parts", "jigs", "teeth")
    table = plain_table(
        Lines(title, "Best points"), ("point", *figures, "proven", *varied), left=("point", "proven", *varied)
    )
    for point, told in zip(found, settings, strict=False):
        words = [plain_value(told[path]) if path in told else "" for path in fields]
        table.add_row(
            short(point["point_id"]),
            percent(point["best_worst_error_pct"]),
            *(str(point[f"best_{key}"]) for key in figures[1:]),
            "yes" if point["proven"] else "no",
            *(words if apart else [settings_text(point["settings"])]),
        )
    paper.print(table)


def _headings(fields: list[str]) -> list[str]:
    """The last word of each dotted field, all of it where two would be alike."""
    last = [path.rsplit(".", 1)[-1] for path in fields]
    return [word if last.count(word) == 1 else path for word, path in zip(last, fields, strict=True)]


def print_unsolved(paper: Paper, folder: Path, points: list[dict[str, Any]]) -> None:
    """Stopped and failed points with their reasons; and how to ask why a point has no solution."""
    nothing = without_solution(points)
    if nothing:
        first = short(nothing[0]["point_id"])
        several = "the first of them" if len(nothing) > 1 else "it"
        paper.line(f"why {several} has no solution: ringwright explain {pasted(folder)} --point {first}")
    for point in [one for one in points if one["state"] in (PointState.STOPPED, PointState.FAILED)][:TOP]:
        label = f"{short(point['point_id'])} ({settings_text(point['settings'])})"
        paper.line(f"{point['state']}: {label}: {point['reason']}")


# -- without solving -------------------------------------------------------------------------------------------------


def print_status(words: SweepWords) -> int:
    """How far a run is: by its folder or by its sweep file. Raises StoreError, DesignError, OSError."""
    path = words.file
    folder = path if is_sweep(path) else words.results / (words.name or path.stem)
    if folder != path:
        refuse_no_folder(f"--results {words.results}", words.results)
    run = load_sweep(folder)
    paper = Paper(sys.stdout)
    paper.line(f"{run.title}: {folder}")
    wrong = damage(folder)
    table = JobTable(folder, read_only=True) if (folder / JOBS).exists() else None
    if table is not None:
        try:
            paper.line(counts_text(table.counts(), len(without_solution(run.points))))
            wrong.update(damaged_parts(folder, table.files()))
        finally:
            table.close()
    print_unsolved(paper, folder, run.points)
    who = holder(folder)
    paper.line(f"at work: {who}" if who else finished_text(run.points) if run.finished else "nobody is at work on it")
    for file, told in wrong.items():
        paper.line(f"{folder / file}: {told}")
    return EXIT_INPUT if wrong else EXIT_OK


def print_plan(words: SweepWords) -> int:
    """How many points a sweep has, and how long it may take, judged by some of them."""
    sweep = named_sweep(words.file, words.name)
    refuse_for_sweep(words.results / sweep.name)
    paper = Paper(sys.stdout)
    slots = words.workers or sweep.limits.workers or cpu_count() or 1
    paper.line(f"{sweep.title}: {so_many(len(sweep.points), 'point')}, {so_many(slots, 'worker')}")
    folder = words.results / sweep.name
    done: set[str] = set()
    if is_sweep(folder):
        run = load_sweep(folder)
        finished = (point for point in run.points if PointState(point["state"]).terminal and not is_interrupted(point))
        done = {point["point_id"] for point in finished}
    left = [point for point in sweep.points if point.id not in done]
    if len(left) < len(sweep.points):
        paper.line(f"{len(sweep.points) - len(left)} are finished already")
    if not left:
        return EXIT_OK
    with lost_pipes_told(), LocalWorkers(slots) as workers:
        trials, signum = interruptible(
            lambda stop: tried(left, workers, stop, sweep.limits.point_s, sweep.limits.memory_mb)
        )
    if signum is not None:
        return 128 + signum
    print_estimate(paper, sweep, left, slots, trials)
    return EXIT_OK


def print_estimate(paper: Paper, sweep: Sweep, left: Sequence[Point], slots: int, trials: Sequence[Trial]) -> None:
    """What the trials took, and what all points that are left may take."""
    seconds, cut = [trial.seconds for trial in trials], sum(trial.cut for trial in trials)
    paper.line(
        f"{so_many(len(trials), 'point')} tried, from all over the sweep: {min(seconds):.2g} to {max(seconds):.2g} s"
        + (f"; {cut} of them not solved within {ONE_S:g} s" if cut else "")
    )
    least, most = (duration(one) for one in likely(trials, len(left), slots))
    between = f"about {least}" if least == most else f"between {least} and {most}"
    limits = sum(min(point.time_limit_s, sweep.limits.point_s or point.time_limit_s) for point in left) / slots
    paper.line(f"{between} for {so_many(len(left), 'point')}")
    paper.line(f"at most {duration(limits)}, if every one takes its time limit" + _one_call(sweep))


def _one_call(sweep: Sweep) -> str:
    total = sweep.limits.total_s
    return "" if total is None else f"; one call of the sweep ends after {duration(total)} (limits.total_s)"
