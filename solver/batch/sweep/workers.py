"""Workers: where points are solved. The runner knows this small interface only; here is the one on this machine.

One process for each solve, so that a crash, or memory that runs out, ends that point alone. They are forked from a
server that has loaded the solver once (`multiprocessing`, forkserver) and die with the runner, however it ends.
"""

from __future__ import annotations

import ctypes
import errno
import multiprocessing
import os
import pickle
import resource
import signal
import sys
import threading
import time
import traceback
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from multiprocessing import connection, forkserver, resource_tracker
from multiprocessing.context import ForkServerContext, ForkServerProcess
from typing import Any, Protocol, Self

from solver.batch.sweep.memory import allow_more
from solver.batch.sweep.table import Finished
from solver.batch.sweep.work import Task, UnderWay, solve_point
from solver.processes import SafeChildren
from solver.search.order.shared import Progress

_PRELOADED = ["solver.batch.sweep.warm"]
_CHUNK = 1 << 16
ANSWER_S = 0.35  # so long [s] a search has to end by itself once it was asked to


@dataclass(frozen=True)
class Outcome:
    """How a task ended: with a result, or with what was lost and why. strikes: how many workers that cost; again:
    whether another try could end otherwise."""

    key: int
    result: Finished | None
    reason: str = ""
    strikes: int = 1
    again: bool = True


@dataclass(frozen=True)
class Undone:
    """What a worker tells of a task that it could not do. again: as in `Outcome`."""

    reason: str
    again: bool = True


class Workers(Protocol):
    """Where tasks are solved, several at a time. A task may be delivered more than once: its fence takes care."""

    def free(self) -> int:
        """How many more tasks can be started at once."""

    def start(self, task: Task) -> None: ...

    def wait(self, seconds: float) -> list[Outcome]:
        """What has ended, after so many seconds [s] at the latest."""

    def drop(self, key: int) -> None:
        """Nobody waits for this task any more."""

    def ask(self, key: int) -> bool:
        """Have this task end soon, with what it has found so far; False where that cannot be asked. Nothing else is
        started after it."""

    def paused(self, key: int) -> float:
        """How long this task was not worked on since it was started, although it could have been [s]."""

    def close(self) -> None:
        """End everything that is still at work."""


# -- in the worker -----------------------------------------------------------------------------------------------------


def die_with_server() -> None:
    """Have the system kill this process with the server it was forked from (Linux)."""
    if sys.platform == "linux":
        set_death_signal = 1  # PR_SET_PDEATHSIG, prctl(2)
        ctypes.CDLL(None).prctl(set_death_signal, signal.SIGKILL)


def _die_with_runner() -> None:
    """Have this process end with the server it was forked from, which ends when the runner does; and watch the runner's
    end of a pipe as well."""
    die_with_server()
    runner = multiprocessing.parent_process()
    assert runner is not None
    sentinel = runner.sentinel

    def watch() -> None:
        connection.wait([sentinel])
        os._exit(1)

    threading.Thread(target=watch, daemon=True, name="runner-watch").start()


def work(
    tasks: connection.Connection, answer: connection.Connection, progress: Callable[[Progress], None] | None = None
) -> None:
    """The whole life of a worker: one task, its result or fault through the pipe, the end. progress: called now and
    then meanwhile."""
    _die_with_runner()
    try:
        task: Task = tasks.recv()
    except EOFError:  # nothing is left to do
        return
    with suppress(_LeftBehind):
        _Solve(task, tasks, answer, progress).run()
        return
    threading.Event().wait()  # the other thread ends this process


class _LeftBehind(BaseException):
    """Raised in the main thread, wherever it is, where the other one answers in its place."""


class _Solve:
    """A task that is solved in the main thread; another one hears when it is to end, and answers what is known so far
    where the search does not end in time. One of them answers."""

    def __init__(
        self, task: Task, tasks: connection.Connection, answer: connection.Connection,
        progress: Callable[[Progress], None] | None,
    ) -> None:  # fmt: skip
        self._task, self._tasks, self._answer = task, tasks, answer
        self._under_way = UnderWay(progress)
        self._answering = threading.Lock()
        self._before = resource.getrlimit(resource.RLIMIT_DATA)

    def run(self) -> None:
        threading.Thread(target=self._listen, daemon=True, name="asked").start()
        if self._task.memory_mb is not None:
            allow_more(self._task.memory_mb)
        told = self._told(lambda: solve_point(self._task, self._under_way))
        if not self._answering.acquire(blocking=False):
            threading.Event().wait()  # for the same
        self._say(told)

    def _told(self, find: Callable[[], Finished]) -> Finished | Undone:
        try:
            told = find()
            resource.setrlimit(resource.RLIMIT_DATA, self._before)
        except Exception as fault:  # noqa: BLE001 - told to the runner, which counts it and goes on with the rest
            # First of all: to tell of it takes a little memory as well.
            resource.setrlimit(resource.RLIMIT_DATA, self._before)
            return _fault(fault, self._task)
        return told

    def _say(self, told: Finished | Undone) -> None:
        with os.fdopen(os.dup(self._answer.fileno()), "wb") as stream:
            pickle.dump(told, stream)

    def _listen(self) -> None:
        try:
            self._tasks.recv_bytes()
        except (EOFError, OSError):  # the runner is gone, and soon this process
            return
        self._under_way.end()
        time.sleep(ANSWER_S)
        while not self._under_way.begun:
            time.sleep(ANSWER_S)
        if self._answering.acquire(blocking=False):
            main = threading.main_thread().ident or 0
            ctypes.pythonapi.PyThreadState_SetAsyncExc(ctypes.c_ulong(main), ctypes.py_object(_LeftBehind))
            self._say(self._told(self._under_way.so_far))
            os._exit(0)


def _fault(fault: Exception, task: Task) -> Undone:
    """What is told of a fault. Where memory has run out, other faults may have followed from that."""
    cause: BaseException | None = fault
    while cause is not None:
        if isinstance(cause, MemoryError) or _is_shortage(cause):
            return Undone(f"memory too small{_allowed(task.memory_mb)}", False)
        cause = cause.__cause__ or cause.__context__
    return Undone(f"{type(fault).__name__}: {fault} ({_where(fault)})")


_EXAMPLE_MB = 30  # the README's first design, proven a second time: measured, see tests/test_sweeps.py


def _allowed(megabytes: int | None) -> str:
    told = f": {megabytes} MB were allowed beside the solver itself, of which the README's example needs {_EXAMPLE_MB}"
    return "" if megabytes is None else told


def _is_shortage(fault: BaseException) -> bool:
    """Whether the system has refused memory in other words."""
    no_thread = isinstance(fault, RuntimeError) and "can't start new thread" in str(fault)
    return no_thread or (isinstance(fault, OSError) and fault.errno == errno.ENOMEM)


def _where(fault: BaseException) -> str:
    last = traceback.extract_tb(fault.__traceback__)[-1]
    return f"{os.path.basename(last.filename)}, line {last.lineno}"


# -- in the runner -----------------------------------------------------------------------------------------------------

_STARTING = threading.RLock()  # starting a process looks after all others, and must not meet one that is waited for


def fork_server(loaded: list[str]) -> ForkServerContext:
    """The context whose processes are forked from a server that has loaded these modules; it is begun if need be."""
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(loaded)
    with SafeChildren(), deaf():
        forkserver.ensure_running()
    return context


def begun(process: ForkServerProcess) -> ForkServerProcess:
    """The same, started."""
    with _STARTING, _without_main(), SafeChildren(), deaf():
        process.start()
    return process


def ended(process: ForkServerProcess) -> int:
    """The exit code of a process that is about to end, or has been killed; nothing is left of it then."""
    with _STARTING:
        process.join()
        code = process.exitcode or 0
        process.close()
    return code


@dataclass
class Worker:
    """A process for one task. told: what it has answered so far."""

    process: ForkServerProcess
    tasks: connection.Connection
    pipe: connection.Connection
    told: bytearray = field(default_factory=bytearray)

    def end(self) -> None:
        self.process.kill()
        self.code()

    def code(self) -> int:
        """Its exit code, once it has ended."""
        self.tasks.close()
        self.pipe.close()
        return ended(self.process)


class LocalWorkers:
    """Processes on this machine, `slots` at a time, and as many that are begun already and wait for the next task. Use
    it as a context; leaving it ends all of them."""

    def __init__(self, slots: int) -> None:
        self.slots = slots
        self._context = self._server()
        self._running: dict[int, Worker] = {}
        self._spare: list[Worker] = []
        self._wakes: list[connection.Connection] = []  # what else ends a wait

    def _server(self) -> ForkServerContext:
        return fork_server(_PRELOADED)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: Any) -> None:
        self.close()

    def free(self) -> int:
        return self.slots - len(self._running)

    def start(self, task: Task) -> None:
        while task.key not in self._running:
            worker = self._spare.pop(0) if self._spare else self._begun()
            try:
                worker.tasks.send(task)
            except OSError:  # it was ended while it waited
                worker.end()
            else:
                self._running[task.key] = worker
        while len(self._spare) < self.slots:
            self._spare.append(self._begun())

    def _begun(self) -> Worker:
        """A process that waits for its task."""
        theirs, tasks = self._context.Pipe(duplex=False)
        pipe, answer = self._context.Pipe(duplex=False)
        process = begun(self._process(theirs, answer))
        theirs.close()
        answer.close()
        os.set_blocking(pipe.fileno(), False)
        return Worker(process, tasks, pipe)

    def _process(self, tasks: connection.Connection, answer: connection.Connection) -> ForkServerProcess:
        return self._context.Process(target=work, args=(tasks, answer), name="point")

    def pids(self) -> dict[int, int]:
        """The process at work on each task."""
        return {key: running.process.pid or 0 for key, running in self._running.items()}

    def wait(self, seconds: float) -> list[Outcome]:
        by_pipe: dict[Any, int] = {running.pipe: key for key, running in self._running.items()}
        ready = connection.wait([*by_pipe, *self._wakes], seconds if by_pipe else min(seconds, 0.05))
        keys = [by_pipe[one] for one in ready if one in by_pipe]
        return [self._ended(key) for key in keys if self._read(self._running[key])]

    @staticmethod
    def _read(running: Worker) -> bool:
        """Take in what the pipe holds; whether that was the last. Never waits: a worker may be paused half way."""
        while True:
            try:
                chunk = os.read(running.pipe.fileno(), _CHUNK)
            except BlockingIOError:
                return False
            if not chunk:
                return True
            running.told += chunk

    def _ended(self, key: int) -> Outcome:
        running = self._running.pop(key)
        code = running.code()
        if code != 0:
            return Outcome(key, None, f"its worker {_ending(code)}")
        told = pickle.loads(running.told)
        return Outcome(key, None, told.reason, again=told.again) if isinstance(told, Undone) else Outcome(key, told)

    def drop(self, key: int) -> None:
        running = self._running.pop(key, None)
        if running is not None:
            running.end()

    def ask(self, key: int) -> bool:
        with suppress(OSError):  # it has just ended
            self._running[key].tasks.send_bytes(b"")
        return True

    def paused(self, key: int) -> float:
        return 0.0

    def close(self) -> None:
        for key in list(self._running):
            self.drop(key)
        while self._spare:
            self._spare.pop().end()


def _ending(code: int) -> str:
    if code < 0:
        with suppress(ValueError):
            return f"was ended by {signal.Signals(-code).name}"
    return f"ended with exit code {code}"


@contextmanager
def deaf() -> Iterator[None]:
    """Let what is started here never hear the signals that a terminal, or a service manager, sends to all: the runner
    alone decides what they mean. None that comes to the runner meanwhile is lost."""
    signals = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)
    before = signal.pthread_sigmask(signal.SIG_BLOCK, signals)
    try:
        resource_tracker.ensure_running()  # which takes two of them off the mask where it is begun
        signal.pthread_sigmask(signal.SIG_BLOCK, signals)
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


@contextmanager
def _without_main() -> Iterator[None]:
    """Start a worker that does not run the caller's own script once more: it needs nothing of it."""
    main = sys.modules["__main__"]
    spec, path = main.__spec__, main.__dict__.pop("__file__", None)
    main.__spec__ = None
    try:
        yield
    finally:
        main.__spec__ = spec
        if path is not None:
            main.__file__ = path
