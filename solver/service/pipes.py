"""What the helper processes of the service have in common: they live as long as somebody holds the other end of their
standard input, and say what they have to say, a JSON document a line, on what was their standard output."""

from __future__ import annotations

import contextlib
import json
import os
import queue
import subprocess
import threading
import time
from collections.abc import Callable
from typing import Any, TextIO

from solver.processes import helper

HURRY_S = 0.4
NICE = 10


def begin(module: str, *words: str) -> subprocess.Popen[bytes]:
    """A helper process, in a session of its own so that Ctrl-C in a terminal reaches the service alone."""
    return subprocess.Popen(
        helper(module, *words),
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        start_new_session=True,
    )


def end(process: subprocess.Popen[bytes]) -> None:
    """End a helper process at once, and close what was open to it."""
    process.kill()
    process.wait()
    for stream in (process.stdin, process.stdout):
        if stream is not None:
            with contextlib.suppress(OSError):  # what it was not yet told is not wanted any more
                stream.close()


def own_output() -> TextIO:
    """This process's standard output, which from now on is nobody else's: what libraries and children print goes to
    standard error."""
    stream = os.fdopen(os.dup(1), "w", encoding="utf-8", buffering=1)
    os.dup2(2, 1)
    return stream


def say(stream: TextIO, told: dict[str, Any]) -> None:
    """One line. Nobody may be there any more to read it."""
    with contextlib.suppress(OSError):
        stream.write(json.dumps(told, ensure_ascii=True) + "\n")
        stream.flush()


def give_way() -> None:
    """Let the server go first, which has to answer while every core is at work."""
    with contextlib.suppress(OSError):
        os.nice(NICE)


def watch_input(line: Callable[[bytes], None], gone: Callable[[], None]) -> None:
    """Read standard input in a thread: `line` for each line, `gone` when the other end is closed; HURRY_S [s] after
    that, this process is ended, whatever it does."""

    def watch() -> None:
        rest = b""
        while chunk := os.read(0, 1 << 16):
            *lines, rest = (rest + chunk).split(b"\n") if b"\n" in chunk else (rest + chunk,)
            for one in lines:
                line(one)
        gone()
        time.sleep(HURRY_S)
        os._exit(1)

    threading.Thread(target=watch, name="input", daemon=True).start()


def lines_of_input() -> queue.SimpleQueue[bytes | None]:
    """The lines of standard input as they come, None at its end; see `watch_input`."""
    lines: queue.SimpleQueue[bytes | None] = queue.SimpleQueue()
    watch_input(lines.put, lambda: lines.put(None))
    return lines
