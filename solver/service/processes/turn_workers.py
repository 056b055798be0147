"""The workers of one job, on as many slots as it has: those beyond are paused, and go on later. Points that others wait
for take turns too: each has a first one, so that short points are not behind long ones."""

from __future__ import annotations

import contextlib
import os
import signal
import threading
import time
from dataclasses import dataclass
from itertools import count
from math import isnan, nan
from multiprocessing import connection
from multiprocessing.context import ForkServerContext, ForkServerProcess
from typing import Any

from solver.batch.sweep.work import Task
from solver.batch.sweep.workers import LocalWorkers, Outcome, work
from solver.search.order.shared import Progress
from solver.search.stop import count_pauses
from solver.service.processes.forked import leave_server, shared_server
from solver.service.processes.turns import FIRST_S, TURN_S

MOST_PAUSED = 4  # points of one job that wait in memory for others that have not begun


def work_in_turns(
    tasks: connection.Connection, answer: connection.Connection, pauses: Any, known: Any, group: int
) -> None:
    """The whole life of a worker. pauses: how long it was paused, which its runner writes [s]; known: least error found
    and bound [percent], which it writes itself; group: of its runner's processes."""
    os.setpgid(0, group)
    leave_server()
    count_pauses(lambda: float(pauses.value))

    def tell(progress: Progress) -> None:
        known[0] = nan if progress.best_error is None else progress.best_error * 100
        known[1] = progress.bound_error * 100

    work(tasks, answer, tell)


@dataclass
class _Turn:
    """since: when it went on last; paused: when it was paused, None while it runs. Seconds on the monotonic clock."""

    since: float
    paused: float | None = None


class TurnWorkers(LocalWorkers):
    """`allow` and `let_go` may be called from any thread, all else from one."""

    def __init__(self, slots: int, ahead: int) -> None:
        """slots: that it has at first; ahead: processes that wait ready for the next points."""
        super().__init__(ahead)
        self._turns: dict[int, _Turn] = {}
        self._pauses: dict[str, Any] = {}
        self._known: dict[str, Any] = {}
        self._number = count()
        heard, self._hear = self._context.Pipe(duplex=False)
        self._wakes.append(heard)
        self._lock = threading.Lock()
        self._allowed, self._leaving, self._asked, self._wanted = slots, False, False, False
        self._rested, self._rests = 0.0, None if slots else time.monotonic()

    def _server(self) -> ForkServerContext:
        return shared_server()

    def _process(self, tasks: connection.Connection, answer: connection.Connection) -> ForkServerProcess:
        name = f"point {next(self._number)}"
        self._pauses[name] = self._context.RawValue("d", 0.0)
        self._known[name] = self._context.RawArray("d", [nan, nan])
        words = (tasks, answer, self._pauses[name], self._known[name], os.getpid())
        return self._context.Process(target=work_in_turns, args=words, name=name)

    # -- told by others ----------------------------------------------------------------------------------------------

    def allow(self, slots: int) -> None:
        """So many slots from now on."""
        with self._lock:
            now = time.monotonic()
            if self._rests is not None:
                self._rested += now - self._rests
            self._allowed, self._rests = slots, None if slots else now
        self._hear.send_bytes(b"")

    def want(self) -> None:
        """Whoever ends the run waits for what was found so far."""
        self._wanted = True

    def let_go(self) -> None:
        """Begin no more points."""
        self._leaving = True
        self._hear.send_bytes(b"")

    def rested(self) -> float:
        """How long it had no slot, all together [s]."""
        with self._lock:
            return self._rested + (0.0 if self._rests is None else time.monotonic() - self._rests)

    def known(self) -> tuple[float | None, float | None]:
        """The least error that those under way have found, and below which there is none; of several none is told
        [percent]."""
        told = [list(self._known[worker.process.name]) for worker in self._running.values()]
        best = min((one for one, _ in told if not isnan(one)), default=None)
        bound = told[0][1] if len(told) == 1 and not isnan(told[0][1]) else None
        return best, bound

    @property
    def left(self) -> bool:
        """Whether it was to begin no more points, and is done with those that it had begun."""
        return self._leaving and not self._running

    # -- asked by the runner -----------------------------------------------------------------------------------------

    def free(self) -> int:
        """Points that may be begun: on slots that nobody has, or in place of one that has had its first turn."""
        if self._leaving:
            return 0
        spare = self._allowed - len(self._going())
        if spare > 0:
            return spare
        return int(spare == 0 and len(self._still()) < MOST_PAUSED and self._ripe(FIRST_S) is not None)

    def start(self, task: Task) -> None:
        ripe = self._ripe(FIRST_S)
        if len(self._going()) >= self._allowed and ripe is not None:
            self._pause(ripe)
        super().start(task)
        self._turns[task.key] = _Turn(time.monotonic())

    def wait(self, seconds: float) -> list[Outcome]:
        self._arrange()
        outcomes = super().wait(seconds)
        (heard,) = self._wakes
        while heard.poll():
            heard.recv_bytes()
        return outcomes

    def ask(self, key: int) -> bool:
        """One that is paused goes on for that. Where nobody has wished for what was found so far, none is asked."""
        if not self._wanted:
            return False
        self._asked = True
        if self._turns[key].paused is not None:
            self._go_on(key)
        return super().ask(key)

    def paused(self, key: int) -> float:
        turn, worker = self._turns[key], self._running[key]
        now = 0.0 if turn.paused is None else time.monotonic() - turn.paused
        return float(self._pauses[worker.process.name].value) + now

    def drop(self, key: int) -> None:
        super().drop(key)
        self._turns.pop(key, None)

    def _ended(self, key: int) -> Outcome:
        if self._turns[key].paused is not None:  # it was at its very end
            self._go_on(key)
        name = self._running[key].process.name
        del self._turns[key]
        outcome = super()._ended(key)
        del self._pauses[name], self._known[name]
        return outcome

    # -- turns -------------------------------------------------------------------------------------------------------

    def _going(self) -> list[int]:
        """Those that run, the one that has for longest first."""
        return sorted((key for key, turn in self._turns.items() if turn.paused is None), key=self._since)

    def _still(self) -> list[int]:
        """Those that are paused, the one that is for longest first."""
        return [key for _, key in sorted((turn.paused, key) for key, turn in self._turns.items() if turn.paused)]

    def _since(self, key: int) -> float:
        return self._turns[key].since

    def _ripe(self, seconds: float) -> int | None:
        """The one that has been running for longest, and at least so long [s]."""
        going = self._going()
        return going[0] if going and time.monotonic() - self._since(going[0]) >= seconds else None

    def _arrange(self) -> None:
        """Pause what has no slot any more, and let the next ones go on; but none that was asked to end."""
        if self._asked:
            return
        going = self._going()
        for key in going[: max(len(going) - self._allowed, 0)]:
            self._pause(key)
        for key in self._still()[: max(self._allowed - len(self._going()), 0)]:
            self._go_on(key)
        while (ripe := self._ripe(TURN_S)) is not None and (still := self._still()) and self._allowed:
            self._pause(ripe)
            self._go_on(still[0])

    def _pause(self, key: int) -> None:
        self._turns[key].paused = time.monotonic()
        self._signal(key, signal.SIGSTOP)

    def _go_on(self, key: int) -> None:
        turn, now = self._turns[key], time.monotonic()
        assert turn.paused is not None
        self._pauses[self._running[key].process.name].value += now - turn.paused
        turn.since, turn.paused = now, None
        self._signal(key, signal.SIGCONT)

    def _signal(self, key: int, number: signal.Signals) -> None:
        pid = self._running[key].process.pid
        assert pid is not None
        with contextlib.suppress(ProcessLookupError):  # it has just ended
            os.kill(pid, number)
