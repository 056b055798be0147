"""The command `ringwright`, which `python -m solver` is too.

What is done here comes before anything else is loaded, in this order: a signal ends the command quietly; nothing is
imported from the working folder; standard output and standard error take whatever is written.
"""

from __future__ import annotations

# What `signal` is made of, which takes milliseconds to load, in which Ctrl-C would be a traceback.
import _signal  # type: ignore[import-not-found]
import gc
import os

COLLECT = 100_000  # new objects between two looks for garbage; what is loaded at the beginning is none
_SIGNALS = [getattr(_signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(_signal, name)]


def main() -> None:
    """The command; ends the process."""
    for number in _SIGNALS:
        if number == _signal.SIGINT or _signal.getsignal(number) != _signal.SIG_IGN:  # as nohup wishes
            _signal.signal(number, lambda signum, _: os._exit(128 + signum))
    if hasattr(_signal, "SIGPIPE"):  # as any filter, it is ended when nobody reads its output any more
        _signal.signal(_signal.SIGPIPE, _signal.SIG_DFL)
    gc.set_threshold(COLLECT)
    from solver.processes import leave_working_folder

    leave_working_folder()
    from solver.cli import signals, streams

    streams.begin()
    signals.begin()
    from solver.cli.faults import run

    run()


if __name__ == "__main__":
    main()
