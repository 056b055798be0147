"""The runner: gives the points of a run to workers, takes what they find out, and writes parts on the way."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from solver.batch.store.lock import this_runner
from solver.batch.store.parts import write_part
from solver.batch.sweep.table import Finished, JobTable, Lease, PointState
from solver.batch.sweep.work import Task
from solver.batch.sweep.workers import Outcome, Workers
from solver.search.stop import StopRule

MOST_STRIKES = 3
PART_POINTS = 256
PART_BYTES = 1 << 20
GRACE_S = 20.0
ASK_S = 1.2
_LOOK_S = 0.2


@dataclass(frozen=True)
class Event:
    """Something that happened to a point: its state now, and its result where it has one."""

    point: str
    state: PointState
    reason: str | None
    result: Finished | None


def run_points(
    folder: Path,
    table: JobTable,
    workers: Workers,
    stop: StopRule,
    tell: Callable[[Event], None],
    point_s: float | None = None,
    memory_mb: int | None = None,
    grace_s: float = GRACE_S,
    ask_s: float = ASK_S,
) -> str | None:
    """Solve every waiting point. Returns why it stopped early ("time", "interrupt"), or None when none waits any
    more. What is under way is asked then for what it has found so far.

    The caller holds the run's lock. point_s [s]: limit for each point, beside the design's own; grace_s [s]: how much
    longer than its limit and a quarter a worker may be silent; ask_s [s]: how long they have to answer when they are
    asked to end. Raises StoreError and OSError where nothing can be kept;
    then, as at every end, no worker is left and what was leased waits again.
    """
    return _Runner(folder, table, workers, stop, tell, point_s, memory_mb, grace_s, ask_s).run()


class _Runner:
    def __init__(
        self,
        folder: Path,
        table: JobTable,
        workers: Workers,
        stop: StopRule,
        tell: Callable[[Event], None],
        point_s: float | None,
        memory_mb: int | None,
        grace_s: float,
        ask_s: float,
    ) -> None:
        self._folder, self._table, self._workers, self._stop, self._tell = folder, table, workers, stop, tell
        self._point_s, self._memory_mb, self._grace_s, self._ask_s = point_s, memory_mb, grace_s, ask_s
        self._leases: dict[int, tuple[Lease, float]] = {}
        self._loose = (0, 0)
        self._holder = this_runner()

    def run(self) -> str | None:
        self._table.void_leases()
        self._loose = self._table.loose_size()
        try:
            while not (why := self._stop()):
                self._give_out()
                if not self._leases and not self._table.counts()[PointState.WAITING]:
                    break  # none leased while some wait: there is no worker at the moment
                for outcome in self._workers.wait(_LOOK_S):
                    self._give_out()
                    self._take(outcome)
                self._expire()
                if self._loose[0] >= PART_POINTS or self._loose[1] >= PART_BYTES:
                    self.write_loose()
            if why:
                self._ask()
        finally:
            for key in list(self._leases):
                self._workers.drop(key)
        for lease, _ in self._leases.values():
            self._table.release(lease)
        self.write_loose()
        return why

    def _ask(self) -> None:
        """Have what is under way end, and take what it has found so far. Who does not answer, or is lost over it, gives
        its point back."""
        asked = {key for key in self._leases if self._workers.ask(key)}
        until = time.monotonic() + self._ask_s
        while asked and (left := until - time.monotonic()) > 0:
            for outcome in self._workers.wait(min(left, _LOOK_S)):
                asked.discard(outcome.key)
                if outcome.result is not None:
                    self._take(outcome)

    def _give_out(self) -> None:
        """As many points as there are free workers; one that has cost a worker is tried alone, so that it can be told
        from those that were lost with it."""
        while self._workers.free() > 0 and not any(lease.strikes for lease, _ in self._leases.values()):
            lease = self._table.lease(self._holder, self._point_s, self._grace_s, struck=not self._leases)
            if lease is None:
                return
            self._leases[lease.fence] = (lease, time.monotonic() + lease.seconds)
            self._workers.start(Task(lease.fence, lease.text, lease.time_limit_s, self._memory_mb))

    def _take(self, outcome: Outcome) -> None:
        """A result, or the loss of a worker. What is no longer leased comes late and changes nothing."""
        if outcome.key not in self._leases:
            return
        lease, _ = self._leases.pop(outcome.key)
        if outcome.result is None:
            lost = outcome.strikes if lease.strikes else min(1, outcome.strikes)
            lost = lost if outcome.again else MOST_STRIKES
            self._strike(lease, outcome.reason, PointState.FAILED, lost)
        elif self._table.finish(lease, outcome.result):
            points, size = self._loose
            self._loose = points + 1, size + len(outcome.result.rows)
            self._tell(Event(lease.point, outcome.result.state, outcome.result.reason, outcome.result))

    def _expire(self) -> None:
        now = time.monotonic()
        for key, (lease, end) in list(self._leases.items()):
            if now > end + self._workers.paused(key):
                del self._leases[key]
                self._workers.drop(key)
                reason = f"no answer {lease.seconds:.0f} s after it was begun, with {lease.time_limit_s:g} s allowed"
                self._strike(lease, reason, PointState.STOPPED)

    def _strike(self, lease: Lease, reason: str, last: PointState, lost: int = 1) -> None:
        state = self._table.strike(lease, reason, MOST_STRIKES, last, lost)
        if state is not None:
            self._tell(Event(lease.point, state, reason, None))

    def write_loose(self) -> None:
        """Put finished points that are in no part yet into new ones."""
        while loose := self._table.loose(PART_POINTS, PART_BYTES):
            number = self._table.next_part()
            self._table.bound(number, [point["id"] for point in loose], write_part(self._folder, number, loose))
        self._loose = 0, 0
