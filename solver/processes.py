"""How processes begin: none imports from the working folder, where designs lie that others have written.

With -m and -c Python puts the working folder first on `sys.path`, and so do the processes that multiprocessing begins:
a json.py there, or an old copy of this package, would run in place of what is meant. This module is imported before
any other that could lie there too, so it needs nothing but what Python itself has loaded.
"""

from __future__ import annotations

import _thread
import os
import sys

_SAFE = "PYTHONSAFEPATH"  # as -P, for every process that is begun with it in its environment
_PATH = "PYTHONPATH"


def leave_working_folder() -> None:
    """Take the working folder that Python has put first from this process's `sys.path`, and keep it from those of all
    processes begun from here on. What PYTHONPATH names is its owner's wish, and stays."""
    os.environ[_SAFE] = "1"
    if sys.flags.safe_path or not sys.path or sys.path[0] not in ("", _working_folder()):
        return
    del sys.path[0]
    root = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))
    if root == _working_folder() and _home_of("constraints") != root:
        # `python -m solver` in a checkout that is not installed: it is what is meant to run, with rules of its own.
        sys.path.insert(0, root)
        import constraints  # noqa: F401

        del sys.path[0]
        sys.path.append(root)
        os.environ[_PATH] = os.pathsep.join([*filter(None, [os.environ.get(_PATH)]), root])


def _home_of(package: str) -> str | None:
    """The folder that a package would be imported from."""
    from importlib.util import find_spec

    found = find_spec(package)
    return None if found is None or found.origin is None else os.path.dirname(os.path.dirname(found.origin))


def _working_folder() -> str | None:
    try:
        return os.getcwd()
    except OSError:  # it was removed
        return None


def helper(module: str, *words: str) -> list[str]:
    """The command that runs a module in a process of its own."""
    return [sys.executable, "-P", "-m", module, *words]


class SafeChildren:
    """A context in which processes that multiprocessing begins do not import from the working folder either. Several
    threads may be in it; the last one to leave puts back what was before."""

    _lock = _thread.allocate_lock()
    _inside = 0
    _before: str | None = None

    def __enter__(self) -> None:
        cls = type(self)
        with self._lock:
            if not cls._inside:
                cls._before = os.environ.get(_SAFE)
                os.environ[_SAFE] = "1"
            cls._inside += 1

    def __exit__(self, *_: object) -> None:
        cls = type(self)
        with self._lock:
            cls._inside -= 1
            if not cls._inside:
                if cls._before is None:
                    del os.environ[_SAFE]
                else:
                    os.environ[_SAFE] = cls._before
