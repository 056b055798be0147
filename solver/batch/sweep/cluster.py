"""Workers on many machines, through Dask, behind the same interface as those on this one; the job table is the truth.

The scheduler may deliver a task more than once, and a worker may come late; the fence of the lease makes both harmless.
The extra `cluster` brings what is needed: `pip install 'ringwright[cluster]'`, on every machine the same release.
"""

from __future__ import annotations

import logging
import queue
import re
import sys
import time
import uuid
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import Any

from solver.batch.store.errors import ClusterError
from solver.batch.store.identity import answer_version
from solver.batch.sweep.table import Finished
from solver.batch.sweep.work import Task, solve_point
from solver.batch.sweep.workers import Outcome, deaf
from solver.processes import SafeChildren

LOCAL = "local"


class ClusterLost(ClusterError):
    """A cluster that was there when the sweep began."""


@contextmanager
def _quiet() -> Iterator[None]:
    """Have the tracker of Python's multiprocessing, where it is begun in here, say nothing of the semaphores that it
    clears away behind whoever was ended by an interrupt."""
    told = ["ignore:resource_tracker"]
    sys.warnoptions.extend(told)
    try:
        yield
    finally:
        del sys.warnoptions[-len(told) :]


class OtherCode(RuntimeError):
    """A worker whose code would answer otherwise than the runner's."""


def solve_there(task: Task, version: str) -> Finished:
    """What a worker of the cluster does. Raises OtherCode where its code is not the runner's."""
    if answer_version() != version:
        raise OtherCode("the code on the worker is not that of the runner; install the same release on both")
    return solve_point(task)


class ClusterWorkers:
    """The workers of a Dask cluster, one task for each of their threads. Give workers one thread each, so that a crash
    ends one point alone."""

    def __init__(self, address: str, slots: int) -> None:
        """Connect to the scheduler at `address`, or begin a cluster of `slots` processes on this machine where it is
        "local". Raises ClusterError."""
        try:
            from distributed import Client, LocalCluster
        except ImportError:
            raise ClusterError("--cluster needs the package distributed: pip install 'ringwright[cluster]'") from None
        logging.getLogger("distributed").setLevel(logging.CRITICAL)  # what is lost is told below, in our words
        if address != LOCAL and not re.fullmatch(r"\S*[^\s:]:\d+", address):
            raise ClusterError(f"--cluster {address}: must be the scheduler's address, like tcp://hall:8786, or local")
        self._cluster: Any = None
        try:
            if address == LOCAL:
                with _quiet(), SafeChildren(), deaf():
                    self._cluster = LocalCluster(  # type: ignore[no-untyped-call]
                        n_workers=slots,
                        threads_per_worker=1,
                        dashboard_address=":0",
                        silence_logs=logging.CRITICAL,
                    )
            self._client: Any = Client(  # type: ignore[no-untyped-call]
                self._cluster or address, timeout=10, set_as_default=False
            )
        except (OSError, ValueError) as fault:
            raise ClusterError(f"--cluster {address}: {fault}") from None
        self._name = address
        self._futures: dict[int, Any] = {}
        self._done: queue.SimpleQueue[int] = queue.SimpleQueue()
        self._run = uuid.uuid4().hex[:8]

    def __enter__(self) -> ClusterWorkers:
        return self

    def __exit__(self, *_: Any) -> None:
        self.close()

    def free(self) -> int:
        with self._there():
            threads: int = sum(self._client.nthreads().values())
        return threads - len(self._futures)

    @contextmanager
    def _there(self) -> Iterator[None]:
        """Says what it means where the scheduler is gone."""
        lost = f"{self._name}: the scheduler does not answer any more; call again to go on"
        if self._client.status != "running":
            raise ClusterLost(lost)
        try:
            yield
        except OSError as fault:
            raise ClusterLost(lost) from fault

    def start(self, task: Task) -> None:
        with self._there():
            self._submit(task)

    def _submit(self, task: Task) -> None:
        future = self._client.submit(
            solve_there, task, answer_version(), key=f"point-{self._run}-{task.key}", pure=False
        )
        self._futures[task.key] = future
        future.add_done_callback(lambda _: self._done.put(task.key))

    def wait(self, seconds: float) -> list[Outcome]:
        with self._there():
            pass
        outcomes: list[Outcome] = []
        end = time.monotonic() + seconds
        while True:
            try:
                key = self._done.get(timeout=0 if outcomes else max(0.0, end - time.monotonic()))
            except queue.Empty:
                return outcomes
            future = self._futures.pop(key, None)
            if future is not None:
                with self._there():
                    outcomes.append(_outcome(key, future))

    def drop(self, key: int) -> None:
        future = self._futures.pop(key, None)
        if future is not None and self._client.status == "running":
            future.cancel(force=True)

    def ask(self, key: int) -> bool:
        return False

    def paused(self, key: int) -> float:
        return 0.0

    def close(self) -> None:
        for key in list(self._futures):
            self.drop(key)
        with suppress(OSError, TimeoutError):
            self._client.close()
        if self._cluster is not None:
            self._cluster.close()


def _outcome(key: int, future: Any) -> Outcome:
    from distributed.scheduler import KilledWorker

    if future.status == "finished":
        return Outcome(key, future.result())
    if future.status != "error":
        return Outcome(key, None, "the cluster lost it", strikes=0)
    fault = future.exception()
    if isinstance(fault, KilledWorker):
        return Outcome(key, None, "its worker was lost", fault.allowed_failures + 1)
    return Outcome(key, None, f"{type(fault).__name__}: {fault}")
