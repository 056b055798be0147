"""Starting the command in a process of its own, as a user does."""

from __future__ import annotations

import io
import json
import os
import signal
import subprocess
import sys
import time
import traceback
import warnings
from multiprocessing import forkserver
from pathlib import Path
from tempfile import TemporaryFile

ROOT = Path(__file__).resolve().parents[1]
CONFIGS = ROOT / "runs" / "configs"

# Large enough that no machine is done with it at once: third gears in plenty on eighteen rings.
LONG = """
title = "A long search"
[bodies]
set = "planets"
sense = "either"
[rings]
inner_teeth = 18
tooth_step = 6
blanks = 9
addendum = 0
[arbors]
wheel_teeth = {min = 4, max = 60}
pinion_teeth = {min = 4, max = 60}
third_gears = 8
third_teeth = {min = 4, max = 60}
[fit]
clearance = 0
[search]
time_limit_s = 100000
"""


def quoted(text: str) -> str:
    """A string of TOML."""
    return json.dumps(text, ensure_ascii=False)


def two_bodies(title: str, inner: str, outer: str) -> str:
    """A design that is solved at once, with a title and two names of one's choice."""
    return f"""
title = {quoted(title)}
[[bodies.list]]
name = {quoted(inner)}
period = 1
[[bodies.list]]
name = {quoted(outer)}
period = "2.01"
[rings]
inner_teeth = 24
tooth_step = 6
[fit]
frame = {{shape = "square", side = 640}}
[search]
keep = 2
"""


def start(*words: str, cwd: Path, **options: object) -> subprocess.Popen[str]:
    """`python -m solver WORDS` in `cwd`, with its output in pipes."""
    usual = {
        "env": {**os.environ, "PYTHONPATH": str(ROOT), "OPENBLAS_NUM_THREADS": "1"},
        "stdout": subprocess.PIPE,
        "stderr": subprocess.PIPE,
        "text": True,
    }
    return subprocess.Popen([sys.executable, "-m", "solver", *words], cwd=cwd, **{**usual, **options})


def until_it_searches(process: subprocess.Popen[str]) -> None:
    """Wait until a process that was begun by `start` is inside its search (Linux): beside its first thread and the one
    that listens to signals it has a third one then."""
    while process.poll() is None:
        if len(list(Path(f"/proc/{process.pid}/task").iterdir())) > 2:
            return
        time.sleep(0.01)
    raise AssertionError("the search was over before it could be interrupted")


def run_afresh(*words: str, cwd: Path) -> tuple[int, str, str]:
    """Exit code, standard output and standard error of the command, as a user begins it."""
    process = start(*words, cwd=cwd)
    out, err = process.communicate(timeout=300)
    return process.returncode, out, err


def run(*words: str, cwd: Path) -> tuple[int, str, str]:
    """The same, in a copy of this process: see `forked`."""
    code, out, err = forked(*words, cwd=cwd)
    return code, out.decode(), err.decode()


def forked(
    *words: str, cwd: Path, closed: tuple[int, ...] = (), full: tuple[int, ...] = (), encoding: str = "utf-8",
    errors: str = "strict",
) -> tuple[int, bytes, bytes]:  # fmt: skip
    """As `run_afresh`, in a copy of this process, which has the solver loaded: a tenth of the time.

    closed, full: which of 0, 1 and 2 it is begun without, or write to a device that is full; encoding and errors: of
    its standard output.
    """
    with TemporaryFile() as out, TemporaryFile() as err:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", DeprecationWarning)  # a copy with one thread is what is wanted
            child = os.fork()
        if not child:
            _be_command(words, cwd, (out.fileno(), err.fileno()), closed, full, encoding, errors)
        _, status = os.waitpid(child, 0)
        out.seek(0)
        err.seek(0)
        return os.waitstatus_to_exitcode(status), out.read(), err.read()


def _be_command(words, cwd, files, closed, full, encoding, errors) -> None:
    code = 99
    try:
        signal.alarm(600)  # a command that does not end fails its test
        forkserver._forkserver.__init__()  # a server that this process has begun is no child of the copy
        os.chdir(cwd)
        os.dup2(files[0], 1)
        os.dup2(files[1], 2)
        for number in full:
            os.dup2(os.open("/dev/full", os.O_WRONLY), number)
        for number in closed:
            os.close(number)
        sys.stdout = None if 1 in closed else io.TextIOWrapper(io.FileIO(1, "w", closefd=False), encoding, errors)
        sys.stderr = None if 2 in closed else io.TextIOWrapper(io.FileIO(2, "w", closefd=False), "utf-8", "strict")
        sys.argv = ["ringwright", *words]
        from solver.__main__ import main

        main()
    except SystemExit as end:
        code = end.code or 0
    except BaseException:  # noqa: BLE001 - told to the test
        traceback.print_exc()
    finally:
        os._exit(code)
