"""The jobs of a service: submitted, durable, solved by runners as their turns come, stopped, listed, read.

Each job is a run folder as `ringwright sweep` makes it, with a `job.json` beside; the folder of all is the one truth,
and what is kept here in memory follows from it. Thread-safe.
"""

from __future__ import annotations

import os
import secrets
import shutil
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Literal, TypeVar

import pyarrow as pa

from solver.answer.document import SolutionAnswer
from solver.batch.store.errors import StoreError
from solver.batch.store.files import flush_folder, remove_half_written, replace_whole
from solver.batch.store.lock import held
from solver.batch.sweep.peek import solutions_in
from solver.batch.sweep.sweeps import SWEEP
from solver.batch.sweep.table import PointState, waiting_again
from solver.design.design import Design
from solver.design.errors import so_many
from solver.service.errors import NoSuchJob, NotNow, TooMany
from solver.service.jobs.job import Job, JobView
from solver.service.jobs.rota import Rota, wait_for
from solver.service.jobs.senders import Senders
from solver.service.kept.documents import Form, Kind
from solver.service.kept.entered import best_so_far, states
from solver.service.kept.packs import Packs
from solver.service.kept.record import Over, Record, read_record, write_record
from solver.service.kept.results import Ranked, RankQuery, Results, ResultsCache, told_of
from solver.service.limits import ServiceLimits
from solver.service.processes.checkers import Checked, Checkers
from solver.service.processes.forked import warm_server
from solver.service.processes.running import ending

T = TypeVar("T")
JOBS, NEW, STARTS, SHEETS = "jobs", "new", "starts", "sheets"
MOST_STARTS = 3
# A job that was not over may have changed so often, at most, since the service was started last: versions begin beyond
# that at the next start, so that none is given twice.
_OF_A_START = 1_000_000_000
_STOPPED = "a user stopped it"


class Jobs:
    """All jobs of one folder. Use it as a context: it holds the folder's lock, and leaving it ends every runner."""

    def __init__(self, data: Path, limits: ServiceLimits | None = None) -> None:
        self.limits = limits or ServiceLimits()
        self.data = data
        self._folder, self._new = data / JOBS, data / NEW
        self._lock = threading.Condition()
        self._storing = threading.Lock()
        self._jobs: dict[str, Job] = {}  # in the order of their submission
        self._views: dict[str, JobView] = {}
        self._listeners: list[Callable[[str], None]] = []
        self._order = 0
        self._closing = False
        self._checkers = Checkers(self.limits)
        self._cache = ResultsCache()
        self.packs = Packs(data / SHEETS)
        self._senders = Senders()
        self._solving = Rota(self.limits, self._lock, self._changed, self._told, self._ended, self._announce)
        self._turns = threading.Thread(target=self._take_turns, name="turns", daemon=True)

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
            warm_server()  # loads while the jobs are read
            shutil.rmtree(self._new, ignore_errors=True)
            self._new.mkdir(exist_ok=True)
            self._folder.mkdir(exist_ok=True)
            with self._lock:
                self._read()
            self._turns.start()
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
        version = self._first_version(max((record.version for record, _ in found), default=0))
        for record, folder in sorted(found, key=lambda pair: pair[0].order):
            self._jobs[record.id] = self._taken_in(record, folder, version)
            self._order = max(self._order, record.order)
        for job in self._jobs.values():
            self._views[job.record.id] = job.view()
        self._senders.begin(max((record.sender for record, _ in found), default=0) + 1)
        for job in self._jobs.values():
            if job.record.stopped and job.record.over is None:
                self._end(job, "stopped", _STOPPED)
            elif job.record.over is None:
                self._solving.enter(job)

    def _first_version(self, last: int) -> int:
        """The first version of all jobs that go on, beyond all that were told before. last: of those that are written
        down."""
        path = self.data / STARTS
        try:
            starts = int(path.read_text(encoding="ascii"))
        except (FileNotFoundError, ValueError):
            starts = 0
        starts = max(starts, last // _OF_A_START) + 1
        replace_whole(path, f"{starts}\n".encode())
        return starts * _OF_A_START

    @staticmethod
    def _taken_in(record: Record, folder: Path, version: int) -> Job:
        if record.over is not None:
            return Job(record, folder, record.over.points, record.version)
        job = Job(record, folder, {PointState.WAITING: record.total}, version)
        with suppress(StoreError):  # its runner will say what is wrong
            if record.total > 1:  # a single one is not worth the look
                job.points = states(folder)
            job.best = best_so_far(folder)
        return job

    def close(self) -> None:
        """End every runner, and keep what is found, also of points that are under way. Returns within four seconds."""
        with self._lock:
            self._closing = True
            running = self._solving.end()
            self._lock.notify_all()
        self._checkers.close()
        wait_for(running)
        if self._turns.is_alive():
            self._turns.join(1.0)

    # -- submitting --------------------------------------------------------------------------------------------------

    def check(self, text: str, kind: Kind | None = None, form: Form = "toml") -> Checked:
        """Validate, and no more. Raises DesignError and TooSlow."""
        return self._checkers.check(text, form, kind, self._folder, None)

    def submit(
        self, text: str, kind: Kind | None = None, form: Form = "toml", sender: str = ""
    ) -> tuple[JobView, bool]:
        """Take a design or a sweep; it is on the disk when this returns. Whether it is new: what means the same is one
        job. sender: the address that it came from; senders take turns.

        Raises DesignError, TooSlow, TooMany where too many jobs are open, and StoreError and OSError where it cannot be
        stored."""
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
                return self._store(checked, into, self._senders.number(sender)), True
        finally:
            shutil.rmtree(into, ignore_errors=True)

    def _store(self, checked: Checked, into: Path, sender: int) -> JobView:
        self._order += 1
        now = datetime.now(UTC).isoformat(timespec="seconds")
        record = Record(
            schema="ringwright.job/1", id=checked.job, kind=checked.kind, title=checked.title, submitted=now,
            order=self._order, total=checked.points, sender=sender,
        )  # fmt: skip
        folder = self._folder / checked.job
        write_record(into, record)
        into.rename(folder)
        flush_folder(self._folder)
        with self._lock:
            job = Job(record, folder, {PointState.WAITING: record.total}, record.version)
            self._jobs[record.id] = job
            view = self._views[record.id] = job.view()
            self._solving.enter(job)
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

    def told(self, job: str, made: Callable[[Results], T]) -> T:
        """What is made of a job's results. Raises NoSuchJob and StoreError."""
        return made(self._results(job))

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

    def twice(self, job: str) -> frozenset[str]:
        """Points of which all that is proven was proven a second time. Raises NoSuchJob."""
        return self._results(job).twice

    def solution_document(self, job: str, point: str, rank: int) -> dict[str, Any]:
        """The same as a row of `Ranked.rows`. Raises as `solution`."""
        return told_of(self.stored_solution(job, point, rank)[2])

    def forget_answers(self, job: str) -> None:
        """Make anew what is told of a job, of which more is kept now than before. Raises NoSuchJob."""
        found = self._found(job)
        self._cache.forget(found.folder, found.record.order)

    def folder(self, job: str) -> Path:
        """The run folder of a job. Raises NoSuchJob."""
        return self._found(job).folder

    def _results(self, name: str) -> Results:
        view, found = self.view(name), self._found(name)
        return self._cache.of(found.folder, found.record.order, view.version, view.over)

    def _found(self, job: str) -> Job:
        found = self._jobs.get(job)
        if found is None:
            raise NoSuchJob(f"there is no job {job[:64]}")
        return found

    # -- changing ----------------------------------------------------------------------------------------------------

    def listen(self, listener: Callable[[str], None]) -> None:
        """Call `listener` with a job's name whenever it has changed, from any thread."""
        self._listeners.append(listener)

    def stop(self, name: str) -> JobView:
        """End the work on a job, and keep what is found, also of points that are under way. Raises NoSuchJob, NotNow
        where it is over already, and OSError where that cannot be kept."""
        with self._lock:
            job = self._found(name)
            if job.state == "stopped":
                return self._views[name]
            if job.record.over is not None:
                raise NotNow(f"the job is {job.state}; only one that waits or is being solved can be stopped")
            self._keep(job, stopped=True)
            if not job.solving:
                self._end(job, "stopped", _STOPPED)
            elif not job.stopping:
                job.stopping = True
                self._solving.stop(job)
                self._changed(job)
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
            job.best, job.starts, job.began = over.best_worst_error_pct, 0, None
            job.points = waiting_again(over.points, over.interrupted)
            self._keep(job, stopped=False, over=None, again=over.state != "stopped")
            self._changed(job)
            self._solving.enter(job)
            view = self._views[name]
        self._announce(name)
        return view

    def remove(self, name: str) -> None:
        """Remove a job and all that was found. Raises NoSuchJob, NotNow while it is being solved, and OSError."""
        with self._storing, self._lock:
            job = self._found(name)
            if job.solving:
                raise NotNow("the job is being solved; stop it first")
            aside = self._new / f"removed-{name}-{secrets.token_hex(4)}"
            job.folder.rename(aside)
            flush_folder(self._folder)
            del self._jobs[name], self._views[name]
            self._solving.leave(job)
        self._cache.forget(job.folder, job.record.order)
        self.packs.forget(name)
        shutil.rmtree(aside, ignore_errors=True)
        self._announce(name)

    def _keep(self, job: Job, **changes: Any) -> None:
        """Write what has changed of the job's record; nothing is changed where that fails."""
        record = job.record.model_copy(update={**changes, "version": job.version + 1})
        write_record(job.folder, record)
        job.record = record

    def _changed(self, job: Job) -> None:
        """Show the job as it is now, under the lock; what looks the same has not changed."""
        if job.view() != self._views.get(job.record.id):
            job.version += 1
            self._views[job.record.id] = job.view()

    def _end(self, job: Job, state: Literal["complete", "stopped", "failed"], reason: str | None,
             interrupted: int = 0) -> None:  # fmt: skip
        """The job is over, under the lock. interrupted: how many of the points that wait were ended under way."""
        points = {**job.points}
        points[PointState.WAITING] = points.get(PointState.WAITING, 0) + points.pop(PointState.SOLVING, 0)
        solutions = None
        with suppress(StoreError):  # a damaged table may be why it is over
            solutions = solutions_in(job.folder)
        over = Over(state=state, reason=reason, points=waiting_again(points, -interrupted),
                    best_worst_error_pct=job.best, solutions=solutions, interrupted=interrupted,
                    seconds=job.seconds())  # fmt: skip
        try:
            self._keep(job, over=over, again=False, stopped=state == "stopped")
        except OSError:  # the disk is full; a service that starts again finds out once more
            job.record = job.record.model_copy(update={"over": over})
        job.stopping = False
        self._solving.leave(job)
        self._changed(job)

    def _announce(self, name: str) -> None:
        for listener in self._listeners:
            listener(name)

    # -- solving -----------------------------------------------------------------------------------------------------

    def _take_turns(self) -> None:
        self._checkers.ready()
        while not self._closing:
            self._solving.take_turns()

    def _told(self, job: Job, told: dict[str, Any]) -> None:
        """What its runner says, under the lock."""
        if "points" in told:
            job.points, job.best = told["points"], told["best"]
        job.last = told
        self._changed(job)

    def _ended(self, job: Job, how: int | OSError) -> None:
        """Its runner has ended, under the lock."""
        last = job.last
        if isinstance(how, OSError):
            self._end(job, "failed", f"its runner cannot be begun: {how.strerror or how}")
        elif "over" in last:
            self._complete(job, **last["over"])
        elif job.record.stopped or last.get("left"):
            reason = _STOPPED if job.record.stopped else last["left"]
            self._end(job, "stopped", reason, interrupted=last.get("interrupted", 0))
        elif "failed" in last:
            self._end(job, "failed", last["failed"])
        elif not self._closing and "left" not in last and job.starts >= MOST_STARTS:
            self._end(job, "failed", f"its runner {ending(how)}, {MOST_STARTS} times in a row")
        else:
            job.starts = 0 if "left" in last else job.starts
            self._changed(job)

    def _complete(self, job: Job, failed: str | None) -> None:
        """Every point is finished. failed: why the first one failed that did."""
        if job.record.kind == "design" and failed is not None:
            self._end(job, "failed", failed)
        else:
            number = job.points.get(PointState.FAILED, 0)
            said = None if failed is None else f"{so_many(number, 'point')} failed, the first of them: {failed}"
            self._end(job, "complete", said)
