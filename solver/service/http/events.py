"""The stream of a job's progress (server-sent events): one source for each job, and any number of readers who wait on
it."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator

from solver.service.errors import NoSuchJob
from solver.service.jobs.job import JobView
from solver.service.jobs.jobs import Jobs

HEARTBEAT_S = 15.0
RETRY_MS = 1000
_HEARTBEAT = b": still here\n\n"


class Feed:
    """Tells readers in the event loop what changes in threads."""

    def __init__(self, jobs: Jobs) -> None:
        self._jobs = jobs
        self._loop: asyncio.AbstractEventLoop | None = None
        self._changed: dict[str, asyncio.Future[None]] = {}
        self._frames: dict[str, tuple[int, bytes]] = {}
        self._closed = False
        jobs.listen(self._from_thread)

    def _from_thread(self, job: str) -> None:
        loop = self._loop
        if loop is not None and not loop.is_closed():
            try:
                loop.call_soon_threadsafe(self._wake, job)
            except RuntimeError:  # it was closed just now
                return

    def _wake(self, job: str) -> None:
        future = self._changed.pop(job, None)
        if future is not None and not future.done():
            future.set_result(None)

    def close(self) -> None:
        """End every stream, without saying that its job is over."""
        self._closed = True
        for job in list(self._changed):
            self._wake(job)

    async def stream(self, view: JobView, seen: int) -> AsyncIterator[bytes]:
        """What has changed of a job since version `seen`, until it is over."""
        self._loop = asyncio.get_running_loop()
        job = view.id
        yield f"retry: {RETRY_MS}\n\n".encode()
        while not self._closed:
            try:
                view = self._jobs.view(job)
            except NoSuchJob:  # removed meanwhile
                break
            if view.version > seen:
                seen = view.version
                yield self._frame(view)
                continue  # it may have changed while that was sent
            if view.over:
                break
            future = self._changed.get(job)
            if future is None:
                future = self._changed[job] = self._loop.create_future()
            if not (await asyncio.wait({future}, timeout=HEARTBEAT_S))[0]:
                yield _HEARTBEAT
        if not self._closed:
            self._frames.pop(job, None)
            yield _event("end", view)

    def _frame(self, view: JobView) -> bytes:
        kept = self._frames.get(view.id)
        if kept is None or kept[0] != view.version:
            kept = self._frames[view.id] = (view.version, _event("progress", view))
        return kept[1]


def _event(name: str, view: JobView) -> bytes:
    return f"event: {name}\nid: {view.version}\ndata: {view.model_dump_json()}\n\n".encode()
