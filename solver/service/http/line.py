"""The line in which those stand who want sheets: a few packs are made at a time, each once, and the rest wait."""

from __future__ import annotations

from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from dataclasses import dataclass, field

from anyio import CapacityLimiter, Lock, to_thread

from solver.service.kept.packs import Packs
from solver.service.processes.sheets import Full

AT_A_TIME, MOST_WAITING = 2, 32


@dataclass
class _One:
    """A pack that is wanted: by how many, and who makes it."""

    alone: Lock = field(default_factory=Lock)
    wanted: int = 0


class SheetsLine:
    """For the event loop. packs: those that were made before."""

    def __init__(self, packs: Packs) -> None:
        self._packs = packs
        self._making = CapacityLimiter(AT_A_TIME)
        self._wanted: dict[str, _One] = {}
        self._waiting = 0

    async def pack(self, job: str, key: str, make: Callable[[], bytes]) -> bytes:
        """The pack of that key, made where it is not kept, when its turn comes. Raises Full where too many wait, and
        whatever `make` does."""
        kept = await to_thread.run_sync(self._packs.of, job, key)
        if kept is not None:
            return kept
        if self._waiting >= MOST_WAITING:
            raise Full(f"{MOST_WAITING} wait for sheets already, and no more may; try again soon")
        self._waiting += 1
        try:
            async with self._alone(key):
                kept = await to_thread.run_sync(self._packs.of, job, key)
                if kept is None:
                    kept = await to_thread.run_sync(make, limiter=self._making)
                    await to_thread.run_sync(self._packs.keep, job, key, kept)
                return kept
        finally:
            self._waiting -= 1

    @asynccontextmanager
    async def _alone(self, key: str) -> AsyncIterator[None]:
        """Whoever wants the same waits for who makes it, and takes no place of those who make."""
        one = self._wanted.setdefault(key, _One())
        one.wanted += 1
        try:
            async with one.alone:
                yield
        finally:
            one.wanted -= 1
            if not one.wanted:
                del self._wanted[key]
