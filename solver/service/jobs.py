"""The jobs of a service: submitted, durable, solved one after the other by runners, stopped, listed, read.

Each job is a run folder as `ringwright sweep` makes it, with a `job.json` beside; the folder of all is the one truth,
and what is kept here in memory follows from it. Thread-safe.
"""

from __future__ import annotations

import os
import secrets
import shutil
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Literal

import pyarrow as pa
from pydantic import BaseModel, ConfigDict, Field

from solver.batch.errors import StoreError
from solver.batch.files import flush_folder, remove_half_written
from solver.batch.lock import held
from solver.batch.sweeps import SWEEP
from solver.batch.table import PointState
from solver.design.design import Design
from solver.search.answer import SolutionAnswer
from solver.service.checkers import Checked, Checkers
from solver.service.documents import Form, Kind
from solver.service.entered import states
from solver.service.errors import NoSuchJob, NotNow, TooMany
from solver.service.limits import Limits
from solver.service.record import Over, Record, read_record, write_record
from solver.service.results import Ranked, RankQuery, Results, ResultsCache, told_of
from solver.service.running import Running, ending

JOBS, NEW = "jobs", "new"
MOST_STARTS = 3
# A job that was not over may have changed so often, at most, since its record was written: versions grow by as much
# when a service is started, so that none is given twice.
_UNWRITTEN = 1_000_000_000

State = Literal["waiting", "solving", "complete", "stopped", "failed"]


class JobView(BaseModel):
    """A job as it is now. points: how many are in each state; solutions: how many were found, null until it is over;
    proven: whether every point is solved, so that what is said of it is proven, also that there is no solution;
    version: grows with every change."""

    model_config = ConfigDict(frozen=True, title="Job")

    id: str = Field(pattern="^[0-9a-f]{16}$")
    kind: Kind
    title: str
    state: State
    reason: str | None
    submitted: str
    points: dict[PointState, int]
    total: int
    finished: int
    best_worst_error_pct: float | None
    solutions: int | None
    proven: bool
    version: int

    @property
    def over(self) -> bool:
        return self.state in ("complete", "stopped", "failed")


@dataclass
class _Job:
    record: Record
    folder: Path
    points: dict[str, int]
    version: int
    best: float | None = None
    starts: int = 0
    running: Running | None = None
    stopping: bool = False
    last: dict[str, Any] = field(default_factory=dict)

    @property
    def state(self) -> State:
        if self.record.over is not None:
            return self.record.over.state
        return "solving" if self.running is not None else "waiting"

    def view(self) -> JobView:
        over = self.record.over
        points = dict(self.points if over is None else over.points)
        terminal = (PointState.SOLVED, PointState.STOPPED, PointState.FAILED)
        return JobView(
            id=self.record.id,
            kind=self.record.kind,
            title=self.record.title,
            state=self.state,
            reason=None if over is None else over.reason,
            submitted=self.record.submitted,
            points={state: points.get(state, 0) for state in PointState},
            total=self.record.total,
            finished=sum(points.get(state, 0) for state in terminal),
            best_worst_error_pct=self.best if over is None else over.best_worst_error_pct,
            solutions=None if over is None else over.solutions,
            proven=points.get(PointState.SOLVED, 0) == self.record.total,
            version=self.version,
        )


class Jobs:
    """All jobs of one folder. Use it as a context: it holds the folder's lock, and leaving it ends every runner."""

    def __init__(self, data: Path, limits: Limits | None = None) -> None:
        self.limits = limits or Limits()
        self.data = data
        self._folder, self._new = data / JOBS, data / NEW
        self._lock = threading.Condition()
        self._storing = threading.Lock()
        self._jobs: dict[str, _Job] = {}  # in the order of their submission
        self._views: dict[str, JobView] = {}
        self._listeners: list[Callable[[str], None]] = []
        self._order = 0
        self._closing = False
        self._checkers = Checkers(self.limits)
        self._cache = ResultsCache()
        self._lanes = threading.Thread(target=self._give_out, name="lanes", daemon=True)

    def __enter__(self) -> Jobs:
        """Read what is there, and go on with it. Raises Busy where another service holds the folder, OSError and
        StoreError where it cannot be used."""
        self._held = self._opened()
        self._held.__enter__()
        return self

    def __exit__(self, *_: Any) -> None:
        self.close()
        self._held.__exit__(None, None, None)

    @contextmanager
    def _opened(self) -> Iterator[None]:
        self.data.mkdir(parents=True, exist_ok=True)
        with held(self.data):
            shutil.rmtree(self._new, ignore_errors=True)
            self._new.mkdir(exist_ok=True)
            self._folder.mkdir(exist_ok=True)
            flush_folder(self.data)
            self._read()
            self._lanes.start()
            yield

    def _read(self) -> None:
        """Take in every job of the folder; a folder without a record was never answered for."""
        found = []
        for folder in self._folder.iterdir():
            remove_half_written(folder)
            record = read_record(folder)
            if record is None:
                shutil.rmtree(folder)
            else:
                found.append((record, folder))
        for record, folder in sorted(found, key=lambda pair: pair[0].order):
            self._jobs[record.id] = self._taken_in(record, folder)
            self._order = max(self._order, record.order)
        for job in self._jobs.values():
            self._views[job.record.id] = job.view()

    @staticmethod
    def _taken_in(record: Record, folder: Path) -> _Job:
        if record.over is not None:
            return _Job(record, folder, record.over.points, record.version)
        record = record.model_copy(update={"version": record.version + _UNWRITTEN})
        write_record(folder, record)
        try:
            points = states(folder)
        except StoreError:  # its runner will say what is wrong
            points = {PointState.WAITING: record.total}
        return _Job(record, folder, points, record.version)

    def close(self) -> None:
        """End every runner and give back what they are at. Returns within four seconds."""
        with self._lock:
            self._closing = True
            running = [job.running for job in self._jobs.values() if job.running is not None]
            self._lock.notify_all()
        for one in running:
            one.end()
        self._checkers.close()
        until = time.monotonic() + 2.5
        for one in running:
            if not one.join(max(0.0, until - time.monotonic())):
                one.kill()
                one.join(1.0)
        if self._lanes.is_alive():
            self._lanes.join(1.0)

    # -- submitting --------------------------------------------------------------------------------------------------

    def check(self, text: str, kind: Kind | None = None, form: Form = "toml") -> Checked:
        """Validate, and no more. Raises DesignError and TooSlow."""
        return self._checkers.check(text, form, kind, self._folder, None)

    def submit(self, text: str, kind: Kind | None = None, form: Form = "toml") -> tuple[JobView, bool]:
        """Take a design or a sweep; it is on the disk when this returns. Whether it is new: what means the same is one
        job. Raises DesignError, TooSlow, TooMany where too many jobs are open, and StoreError and OSError where it
        cannot be stored."""
        into = self._new / f"{os.getpid()}-{secrets.token_hex(8)}"
        try:
            checked = self._checkers.check(text, form, kind, self._folder, into)
            with self._storing:
                with self._lock:
                    known = self._views.get(checked.job)
                    open_jobs = sum(not view.over for view in self._views.values())
                if known is not None:
                    return known, False
                if open_jobs >= self.limits.most_jobs:
                    raise TooMany(
                        f"{open_jobs} jobs are open, and at most {self.limits.most_jobs} are taken; wait for one to "
                        "end, or stop one",
                        self.limits.most_jobs,
                    )
                return self._store(checked, into), True
        finally:
            shutil.rmtree(into, ignore_errors=True)

    def _store(self, checked: Checked, into: Path) -> JobView:
        self._order += 1
        now = datetime.now(UTC).isoformat(timespec="seconds")
        record = Record(
            schema="ringwright.job/1", id=checked.job, kind=checked.kind, title=checked.title, submitted=now,
            order=self._order, total=checked.points,
        )  # fmt: skip
        folder = self._folder / checked.job
        write_record(into, record)
        into.rename(folder)
        flush_folder(self._folder)
        with self._lock:
            job = _Job(record, folder, {PointState.WAITING: record.total}, record.version)
            self._jobs[record.id] = job
            view = self._views[record.id] = job.view()
            self._lock.notify_all()
        self._announce(record.id)
        return view

    # -- reading -----------------------------------------------------------------------------------------------------

    def listing(self, offset: int = 0, limit: int = 50) -> tuple[list[JobView], int]:
        """Jobs, newest first, and how many there are."""
        every = list(self._views.values())  # at one stroke: who reads does not wait for who writes to the disk
        return every[::-1][offset : offset + limit], len(every)

    def view(self, job: str) -> JobView:
        """Raises NoSuchJob."""
        view = self._views.get(job)
        if view is None:
            raise NoSuchJob(f"there is no job {job[:64]}")
        return view

    def text(self, job: str) -> str:
        """The design or sweep file of a job. Raises NoSuchJob and OSError."""
        return (self._found(job).folder / SWEEP).read_text(encoding="utf-8")

    def points(self, job: str) -> list[dict[str, Any]]:
        """Every point: name, settings, state, reason, status, and the figures of its best solution. Raises NoSuchJob
        and StoreError."""
        return self._results(job).points

    def ranked(self, job: str, query: RankQuery) -> Ranked:
        """Its solutions, filtered and ordered. Raises NoSuchJob and StoreError."""
        return self._results(job).ranked(query)

    def figures(self, job: str, query: RankQuery) -> pa.Table:
        """Point, rank and the figures of the same. Raises as `ranked`."""
        return self._results(job).figures(query)

    def answer(self, job: str, key: str, made: Callable[[Results], bytes]) -> bytes:
        """What is made of a job's results, or was made before under that key. Raises NoSuchJob and StoreError."""
        results = self._results(job)
        return results.answer(key, lambda: made(results))

    def kept(self, job: str, key: str) -> bytes | None:
        """What `answer` would return, where it was made before; at once. Raises NoSuchJob."""
        view, found = self.view(job), self._found(job)
        results = self._cache.kept(found.folder, found.record.order, view.version, view.over)
        return None if results is None else results.kept(key)

    def solution(self, job: str, point: str, rank: int) -> tuple[Design, SolutionAnswer]:
        """A design and its solution of that rank. Raises NoSuchJob, NoSuchSolution, NotNow, StoreError."""
        return self.stored_solution(job, point, rank)[:2]

    def stored_solution(self, job: str, point: str, rank: int) -> tuple[Design, SolutionAnswer, dict[str, Any]]:
        """The same, and as it is stored, with run and settings. Raises as `solution`."""
        return self._results(job).solution(point, rank)

    def solution_document(self, job: str, point: str, rank: int) -> dict[str, Any]:
        """The same as a row of `Ranked.rows`. Raises as `solution`."""
        return told_of(self.stored_solution(job, point, rank)[2])

    def folder(self, job: str) -> Path:
        """The run folder of a job. Raises NoSuchJob."""
        return self._found(job).folder

    def _results(self, name: str) -> Results:
        view, found = self.view(name), self._found(name)
        return self._cache.of(found.folder, found.record.order, view.version, view.over)

    def _found(self, job: str) -> _Job:
        found = self._jobs.get(job)
        if found is None:
            raise NoSuchJob(f"there is no job {job[:64]}")
        return found

    # -- changing ----------------------------------------------------------------------------------------------------

    def listen(self, listener: Callable[[str], None]) -> None:
        """Call `listener` with a job's name whenever it has changed, from any thread."""
        self._listeners.append(listener)

    def stop(self, name: str) -> JobView:
        """End the work on a job, and keep what is found. Raises NoSuchJob, NotNow where it is over already, and OSError
        where that cannot be kept."""
        with self._lock:
            job = self._found(name)
            if job.state == "stopped":
                return self._views[name]
            if job.record.over is not None:
                raise NotNow(f"the job is {job.state}; only one that waits or is being solved can be stopped")
            self._keep(job, stopped=True)
            if job.running is None:
                self._end(job, "stopped", "a user stopped it")
            elif not job.stopping:
                job.stopping = True
                job.running.end()
            view = self._views[name]
        self._announce(name)
        return view

    def resume(self, name: str) -> JobView:
        """Go on with a job that was stopped, has failed, or has points that a limit stopped. Raises NoSuchJob, NotNow
        where nothing is left to do, OSError, and TooMany."""
        with self._lock:
            job = self._found(name)
            over = job.record.over
            if over is None:
                if job.stopping or job.record.stopped:
                    raise NotNow("the job is being stopped; resume it when it is")
                return self._views[name]
            unsolved = over.points.get(PointState.STOPPED, 0) + over.points.get(PointState.FAILED, 0)
            if over.state == "complete" and not unsolved:
                raise NotNow("the job is complete, and every point is solved")
            open_jobs = sum(not view.over for view in self._views.values())
            if open_jobs >= self.limits.most_jobs:
                raise TooMany(f"{open_jobs} jobs are open, and at most {self.limits.most_jobs} are taken",
                              self.limits.most_jobs)  # fmt: skip
            job.best, job.points, job.starts = over.best_worst_error_pct, dict(over.points), 0
            self._keep(job, stopped=False, over=None, again=over.state != "stopped")
            self._changed(job)
            self._lock.notify_all()
            view = self._views[name]
        self._announce(name)
        return view

    def remove(self, name: str) -> None:
        """Remove a job and all that was found. Raises NoSuchJob, NotNow while it is being solved, and OSError."""
        with self._storing, self._lock:
            job = self._found(name)
            if job.running is not None:
                raise NotNow("the job is being solved; stop it first")
            aside = self._new / f"removed-{name}-{secrets.token_hex(4)}"
            job.folder.rename(aside)
            flush_folder(self._folder)
            del self._jobs[name], self._views[name]
        self._cache.forget(job.folder, job.record.order)
        shutil.rmtree(aside, ignore_errors=True)
        self._announce(name)

    def _keep(self, job: _Job, **changes: Any) -> None:
        """Write what has changed of the job's record; nothing is changed where that fails."""
        record = job.record.model_copy(update={**changes, "version": job.version + 1})
        write_record(job.folder, record)
        job.record = record

    def _changed(self, job: _Job) -> None:
        """Show the job as it is now, under the lock; what looks the same has not changed."""
        if job.view() != self._views.get(job.record.id):
            job.version += 1
            self._views[job.record.id] = job.view()

    def _end(self, job: _Job, state: Literal["complete", "stopped", "failed"], reason: str | None,
             solutions: int | None = None) -> None:  # fmt: skip
        """The job is over, under the lock."""
        points = {**job.points}
        points[PointState.WAITING] = points.get(PointState.WAITING, 0) + points.pop(PointState.SOLVING, 0)
        over = Over(state=state, reason=reason, points={str(state): number for state, number in points.items()},
                    best_worst_error_pct=job.best, solutions=solutions)  # fmt: skip
        try:
            self._keep(job, over=over, again=False, stopped=state == "stopped")
        except OSError:  # the disk is full; a service that starts again finds out once more
            job.record = job.record.model_copy(update={"over": over})
        job.stopping = False
        self._changed(job)

    def _announce(self, name: str) -> None:
        for listener in self._listeners:
            listener(name)

    # -- solving -----------------------------------------------------------------------------------------------------

    def _give_out(self) -> None:
        """The two lanes: single designs do not wait behind a sweep."""
        while True:
            with self._lock:
                job = self._next()
                while job is None and not self._closing:
                    self._lock.wait()
                    job = self._next()
                if self._closing:
                    return
                assert job is not None
                self._begin(job)
                name = job.record.id
            self._announce(name)

    def _next(self) -> _Job | None:
        """The first job that waits, in the first lane that is not full, under the lock."""
        for kind, most in (("design", self.limits.designs), ("sweep", 1)):
            mine = [job for job in self._jobs.values() if job.record.kind == kind and job.record.over is None]
            if sum(job.running is not None for job in mine) < most:
                waiting = next((job for job in mine if job.running is None), None)
                if waiting is not None:
                    return waiting
        return None

    def _begin(self, job: _Job) -> None:
        job.last, job.starts = {}, job.starts + 1
        try:
            job.running = Running(
                job.folder, job.record.kind, self.limits, job.record.again,
                lambda told: self._told(job, told), lambda code: self._ended(job, code),
            )  # fmt: skip
        except OSError as fault:
            self._end(job, "failed", f"its runner cannot be begun: {fault.strerror}")
        else:
            self._changed(job)

    def _told(self, job: _Job, told: dict[str, Any]) -> None:
        with self._lock:
            if "points" in told:
                job.points, job.best = told["points"], told["best"]
            job.last = told
            self._changed(job)
        self._announce(job.record.id)

    def _ended(self, job: _Job, code: int) -> None:
        with self._lock:
            job.running = None
            last = job.last
            if "over" in last:
                self._end(job, "complete", None, last["over"]["solutions"])
            elif job.record.stopped:
                self._end(job, "stopped", "a user stopped it")
            elif last.get("left"):
                self._end(job, "stopped", last["left"])
            elif "failed" in last:
                self._end(job, "failed", last["failed"])
            elif not self._closing and job.starts >= MOST_STARTS:
                self._end(job, "failed", f"its runner {ending(code)}, {MOST_STARTS} times in a row")
            else:
                self._changed(job)
            self._lock.notify_all()
        self._announce(job.record.id)
