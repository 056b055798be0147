"""The process that solves one job.

It says {"points", "best", "most", "known"} as they change (most: slots that it could use at a time; known: least error
and bound of what is under way, percent), then one of {"over"},
{"left", "interrupted"} (a limit of the sweep ended it, or the server; so many of the points that wait had to end early)
and {"failed"}.
It is told {"slots"}, how many it has from now on, and {"leave"}: "now", to give back what it is at, "soon", after the
points that it is at, or "stop", with what these have found so far. Without the server it does not stay either.
"""

from __future__ import annotations

import json
import sys
import threading
import time
from pathlib import Path
from typing import TYPE_CHECKING, Any

from solver.search.stop import NoStop, Termination, count_pauses

if TYPE_CHECKING:
    from solver.batch.sweep.runner import Event
    from solver.batch.sweep.sweeps import Ending
    from solver.batch.sweep.table import JobTable
    from solver.service.processes.forked import PipeEnd
    from solver.service.processes.turn_workers import TurnWorkers

TELL_S = 0.1  # changes are told so often at most [s]
KNOWN_S = 0.5  # and so often [s] what is known of points under way
ASK_S = 4.0  # so long [s] workers have to say what they have found; on a busy machine they are the last in the line
LET_GO_S, LOOK_S = 20.0, 0.1  # so long it waits for another runner to let go of the job, and looks so often [s]


def run(link: PipeEnd, folder: str, kind: str, limits: dict[str, Any], again: bool, slots: int) -> None:
    """Run one job to its end."""
    from solver.batch.store.errors import Busy, StoreError
    from solver.design.errors import DesignError

    turns = _Turns(slots)
    link.watch(turns.heard, turns.ended.set)
    until = time.monotonic() + LET_GO_S
    try:
        while True:
            try:
                link.say(_run(Path(folder), kind, limits, again, turns, link))
                return
            except Busy:  # the runner of a service that was killed just now is about to end
                if turns.ended.is_set():
                    link.say({"left": "", "interrupted": 0})
                    return
                if time.monotonic() > until:
                    raise
            time.sleep(LOOK_S)
    except (Busy, DesignError, StoreError, OSError) as fault:
        link.say({"failed": _said(fault, folder)})


class _Turns:
    """What the server has said, also before there are workers that can be told."""

    def __init__(self, slots: int) -> None:
        self.ended = threading.Event()
        self._lock = threading.Lock()
        self._slots, self._soon, self._stopped = slots, False, False
        self._workers: TurnWorkers | None = None

    def heard(self, told: dict[str, Any]) -> None:
        """In a thread of its own."""
        if told.get("leave") == "now":
            self.ended.set()
        with self._lock:
            if told.get("leave") == "stop":
                self._stopped = True
            self._slots = told.get("slots", self._slots)
            self._soon = self._soon or told.get("leave") == "soon"
            if self._workers is not None:
                self._tell(self._workers)
            if self._stopped:
                self.ended.set()

    def workers(self, ahead: int) -> TurnWorkers:
        from solver.service.processes.turn_workers import TurnWorkers

        with self._lock:
            self._workers = TurnWorkers(self._slots, ahead)
            self._tell(self._workers)
        return self._workers

    def _tell(self, workers: TurnWorkers) -> None:
        workers.allow(self._slots)
        if self._soon:
            workers.let_go()
        if self._stopped:
            workers.want()


def _said(fault: Exception, folder: str) -> str:
    """What is wrong, for somebody who sees neither the folder nor the command line."""
    told = str(fault).replace(f"{folder}/", "").replace(folder, "the job's folder")
    return told.replace("ringwright sweep --mend", "resuming the job").replace("--mend", "resuming the job")


def _run(folder: Path, kind: Any, told: dict[str, Any], again: bool, turns: _Turns, link: PipeEnd) -> dict[str, Any]:
    from dataclasses import replace

    from solver.batch.sweep.sweeps import opened, run_sweep
    from solver.service.kept.entered import entered
    from solver.service.limits import ServiceLimits

    limits = ServiceLimits(**told)
    sweep = entered(folder, kind, limits, mend=again)
    most = min(sweep.limits.workers or limits.workers, limits.workers, len(sweep.points))
    wished = sweep.limits
    within = {
        "point_s": min(wished.point_s or limits.solve_seconds, limits.solve_seconds),
        "memory_mb": min(wished.memory_mb or limits.memory_mb, limits.memory_mb),
    }
    sweep = replace(sweep, limits=wished.model_copy(update=within))

    def note(line: str) -> None:
        print(line, file=sys.stderr)

    with opened(sweep, folder.parent, note, extend=True, again=again, mend=again) as (_, table):
        with turns.workers(min(most, len(sweep.points) - 1)) as workers:
            count_pauses(workers.rested)
            progress = _Teller(folder, table, turns, workers, most, link)
            progress.tell()
            ending = run_sweep(folder, table, sweep, workers, progress.take, progress, ask_s=ASK_S)
        return _told(ending, progress, wished.total_s)


def _told(ending: Ending, progress: _Teller, total_s: float | None) -> dict[str, Any]:
    told = progress.state()
    if ending.complete:
        return {**told, "over": {"failed": progress.failed}}
    left = f"limits.total_s = {total_s:g} is over" if ending.why == "time" else ""
    return {**told, "left": left, "interrupted": ending.interrupted}


class _Teller(NoStop):
    """Tells what has changed, and is the stop rule of the run: it is asked again and again, so that what was kept back
    for a moment is told soon. failed: why the first point failed, if one did."""

    def __init__(
        self, folder: Path, table: JobTable, turns: _Turns, workers: TurnWorkers, most: int, link: PipeEnd
    ) -> None:
        from solver.service.kept.entered import best_so_far

        self._table, self._turns, self._workers, self._most, self._link = table, turns, workers, most, link
        self._last, self._said = 0.0, ""
        self._looked = 0.0
        self._known: tuple[float | None, float | None] = (None, None)
        self.best = best_so_far(folder)

    @property
    def failed(self) -> str | None:
        from solver.batch.sweep.table import PointState

        return next((point["reason"] for point in self._table.points(PointState.FAILED, columns=("reason",))), None)

    def take(self, event: Event) -> None:
        from solver.batch.store.parts import from_stream

        if event.result is not None and event.result.record["solutions"]:
            errors = from_stream(event.result.rows)["worst_error_pct"].to_pylist()
            self.best = min(errors) if self.best is None else min(self.best, *errors)
        self()

    def state(self) -> dict[str, Any]:
        """What was interrupted waits: it is solved again."""
        from solver.batch.sweep.table import PointState, waiting_again

        counts = self._table.counts()
        points = waiting_again(counts, self._table.interrupted() if counts[PointState.STOPPED] else 0)
        return {"points": points, "best": self.best, "most": self._most}

    def known(self) -> list[float | None]:
        now = time.monotonic()
        if now - self._looked >= KNOWN_S:
            self._looked, self._known = now, self._workers.known()
        return list(self._known)

    def tell(self) -> None:
        told = {**self.state(), "known": self.known()}
        self._last = time.monotonic()
        if json.dumps(told) != self._said:
            self._said = json.dumps(told)
            self._link.say(told)

    def __call__(self) -> Termination | None:
        if time.monotonic() - self._last >= TELL_S:
            self.tell()
        return Termination.INTERRUPT if self._turns.ended.is_set() or self._workers.left else None
