"""Processes of the service that are forked from one which has loaded everything: there at once, and with little memory
of their own. The server is at one end of a pipe, and they live as long as it is; both say JSON documents."""

from __future__ import annotations

import contextlib
import json
import multiprocessing
import os
import signal
import sys
import threading
import time
from collections.abc import Callable
from multiprocessing import connection, forkserver
from multiprocessing.context import ForkServerContext
from typing import Any

from solver.batch.sweep.workers import begun, die_with_server, ended, fork_server
from solver.service.processes.pipes import HURRY_S

_LOADED = ["solver.service.processes.loaded"]


def warm_server() -> ForkServerContext:
    """The context of all these processes; what they are forked from is begun if need be."""
    return fork_server(_LOADED)


def shared_server() -> ForkServerContext:
    """The same for a process that was itself forked so: its own ones come from the same server.

    The standard library says that this is so, and begins another server all the same: it looks for the process of the
    first one, which only its parent has. Where this is found out otherwise one day, the process begins its own."""
    server: Any = forkserver._forkserver
    if getattr(server, "_forkserver_address", None) and getattr(server, "_forkserver_alive_fd", None) is not None:
        server.ensure_running = lambda: None
        return multiprocessing.get_context("forkserver")
    return warm_server()


def leave_server() -> None:
    """Have the server, whose end is also that of this process, not live on for its sake: it may be paused when all
    others are gone."""
    server: Any = forkserver._forkserver
    alive = getattr(server, "_forkserver_alive_fd", None)
    if alive is not None:
        server._forkserver_alive_fd = None
        os.close(alive)


class PipeEnd:
    """The end of the pipe in such a process."""

    def __init__(self, pipe: connection.Connection) -> None:
        self._pipe = pipe

    def say(self, told: dict[str, Any]) -> None:
        """Nobody may be there any more to hear it."""
        with contextlib.suppress(OSError):
            self._pipe.send_bytes(json.dumps(told).encode())

    def watch(self, heard: Callable[[dict[str, Any]], None], gone: Callable[[], None]) -> None:
        """Call `heard` with each document that comes, in a thread, and `gone` when the server is; HURRY_S [s] after
        that this process is ended, whatever it does."""

        def watch() -> None:
            with contextlib.suppress(EOFError, OSError):
                while True:
                    heard(json.loads(self._pipe.recv_bytes()))
            gone()
            time.sleep(HURRY_S)
            os._exit(1)

        threading.Thread(target=watch, name="link", daemon=True).start()


class Forked:
    """The server's end of one such process. Thread-safe, but for two that hear at once."""

    def __init__(self, what: Callable[..., None], *words: Any) -> None:
        """Begin `what(PipeEnd, *words)`. Raises OSError."""
        context = warm_server()
        self._pipe, theirs = context.Pipe()
        process = context.Process(target=_live, args=(theirs, what, words), name=what.__module__)
        try:
            self._process = begun(process)
        except EOFError:
            self._pipe.close()
            raise OSError("the process that all others are forked from has ended") from None
        except BaseException:
            self._pipe.close()
            raise
        finally:
            theirs.close()
        self.pid = self._process.pid or 0
        self._code: int | None = None

    def say(self, told: dict[str, Any]) -> None:
        """Raises OSError where it has ended."""
        self._pipe.send_bytes(json.dumps(told).encode())

    def hear(self, seconds: float | None = None) -> dict[str, Any] | None:
        """What it says next, None where it says nothing for so long [s]. Raises EOFError where it has ended."""
        try:
            if not self._pipe.poll(seconds):
                return None
            told: dict[str, Any] = json.loads(self._pipe.recv_bytes())
        except OSError:
            raise EOFError from None
        return told

    def gone(self) -> bool:
        """Of one that has been asked nothing: whether it has ended all the same."""
        return self._pipe.poll(0)

    def kill(self) -> None:
        """End it at once, and what it has begun; also what is paused of that."""
        if self._code is None:
            with contextlib.suppress(ProcessLookupError, PermissionError):
                os.kill(self.pid, signal.SIGKILL)
            with contextlib.suppress(ProcessLookupError, PermissionError):
                os.killpg(self.pid, signal.SIGKILL)

    def code(self) -> int:
        """Its exit code, once it has ended; to be asked when it has, or has been killed. Whatever it has left behind is
        ended."""
        if self._code is None:
            code = ended(self._process)
            self._pipe.close()
            if code != 0:  # in good order it has ended all of it itself
                with contextlib.suppress(ProcessLookupError, PermissionError):
                    os.killpg(self.pid, signal.SIGKILL)
            self._code = code
        return self._code


def _live(pipe: connection.Connection, what: Callable[..., None], words: tuple[Any, ...]) -> None:
    """The whole life of such a process. It is a group of its own, which Ctrl-C in a terminal does not reach."""
    os.setpgid(0, 0)
    die_with_server()
    os.dup2(2, 1)  # what libraries print goes to standard error
    what(PipeEnd(pipe), *words)
    sys.stderr.flush()
