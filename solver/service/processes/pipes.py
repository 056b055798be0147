"""Helper processes of the service that are programs of their own: they live as long as somebody holds the other end of
their standard input, and give way to the server."""

from __future__ import annotations

import contextlib
import os
import subprocess
import threading
import time

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


def give_way() -> None:
    """Let the server go first, which has to answer while every core is at work."""
    with contextlib.suppress(OSError):
        os.nice(NICE)


def end_with_input() -> None:
    """Have this process end soon after the other end of its standard input is closed, whatever it does."""

    def watch() -> None:
        while os.read(0, 1 << 16):
            continue
        time.sleep(HURRY_S)
        os._exit(1)

    threading.Thread(target=watch, name="input", daemon=True).start()
