"""Jobs being solved: which have a runner, and how many slots each has, as their turns come. Every method is called
under the lock that is shared with the jobs, but for those that say otherwise."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from solver.batch.sweep.table import PointState
from solver.service.jobs.job import Job
from solver.service.limits import ServiceLimits
from solver.service.processes.running import RunnerProcess
from solver.service.processes.turns import Order, Turns

END_S = 2.5  # so long [s] runners have at the end of the service, to keep what is found
GRACE_S = 1.0  # and so long [s] to be gone after that


class Rota:
    """told: called with a job and what its runner says; ended: with a job and how its runner ended, or why none could
    be begun; changed: with a job that has one now; all under the lock. announce: after each of these, without it."""

    def __init__(
        self,
        limits: ServiceLimits,
        lock: threading.Condition,
        changed: Callable[[Job], None],
        told: Callable[[Job, dict[str, Any]], None],
        ended: Callable[[Job, int | OSError], None],
        announce: Callable[[str], None],
    ) -> None:
        self._limits, self._lock = limits, lock
        self._changed, self._told, self._ended, self._announce = changed, told, ended, announce
        self._turns = Turns(limits.workers, limits.places, lambda: has_room(limits.memory_mb))
        self._jobs: dict[str, Job] = {}
        self._running: dict[str, RunnerProcess] = {}

    def enter(self, job: Job) -> None:
        """A job is to be solved."""
        self._jobs[job.record.id] = job
        self._turns.enter(job.record.id, job.record.sender, job.record.total > 1)
        self._lock.notify_all()

    def leave(self, job: Job) -> None:
        """It is not to be solved any more."""
        self._turns.leave(job.record.id)
        self._jobs.pop(job.record.id, None)
        self._lock.notify_all()

    def stop(self, job: Job) -> None:
        """Have the runner of a job end, with what is found so far."""
        running = self._running.get(job.record.id)
        if running is not None:
            running.end("stop")

    def take_turns(self) -> None:
        """Do what is to be done now, or wait until something is. Without the lock."""
        with self._lock:
            orders = self._turns.decide(time.monotonic())
            changed = [job for order in orders if (job := self._obey(order)) is not None]
            if not orders:
                self._lock.wait(self._turns.due())
        for job in changed:
            self._announce(job.record.id)

    def _obey(self, order: Order) -> Job | None:
        """The job, where it has changed."""
        job, running = self._jobs[order.job], self._running.get(order.job)
        if running is None:
            return self._begin(job, order.slots) if order.slots else None
        if order.leave:
            running.end(order.leave)
        running.slots(order.slots)
        return None

    def _begin(self, job: Job, slots: int) -> Job:
        job.last, job.starts, job.solving = {}, job.starts + 1, True
        job.began = job.began or datetime.now(UTC)
        try:
            self._running[job.record.id] = RunnerProcess(
                job.folder, job.record.kind, self._limits, job.record.again, slots,
                lambda told: self._heard(job, told), lambda code: self._gone(job, code),
            )  # fmt: skip
        except OSError as fault:
            threading.Thread(target=self._gone, args=(job, fault), daemon=True).start()
        self._changed(job)
        return job

    def _heard(self, job: Job, told: dict[str, Any]) -> None:
        """Without the lock."""
        with self._lock:
            if "points" in told:
                left = sum(number for state, number in told["points"].items() if not PointState(state).terminal)
                at = told["points"].get(PointState.SOLVING, 0)
                self._turns.wish(job.record.id, min(told["most"], left), at)
                self._lock.notify_all()
            self._told(job, told)
        self._announce(job.record.id)

    def _gone(self, job: Job, how: int | OSError) -> None:
        """Its runner has ended. Without the lock."""
        with self._lock:
            self._running.pop(job.record.id, None)
            job.solving = False
            self._turns.ended(job.record.id)
            self._ended(job, how)
            self._lock.notify_all()
        self._announce(job.record.id)

    def end(self) -> list[RunnerProcess]:
        """Have every runner end, with what is found so far; returns at once, with those that are about to."""
        running = list(self._running.values())
        for one in running:
            one.end("stop")
        return running


def wait_for(running: list[RunnerProcess]) -> None:
    """Wait for these to end, and end those that do not. Nothing is lost by that but what they were at."""
    until = time.monotonic() + END_S
    for one in running:
        one.join(max(0.0, until - time.monotonic()))
    for one in running:
        one.kill()
    until = time.monotonic() + GRACE_S
    for one in running:
        one.join(max(0.0, until - time.monotonic()))


def has_room(megabytes: int) -> bool:
    """Whether the machine has so much memory to give [MiB]; where it does not tell (but on Linux), it is taken to."""
    try:
        lines = Path("/proc/meminfo").read_text(encoding="ascii").splitlines()
    except OSError:
        return True
    told = dict(line.split(":", 1) for line in lines)
    return int(told.get("MemAvailable", f"{megabytes << 10}").split()[0]) >> 10 >= megabytes
