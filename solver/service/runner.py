"""The process that solves one job: `python -m solver.service.runner FOLDER KIND LIMITS [again]`.

A JSON document a line on its standard output: {"points", "best"} as they change, then one of {"over"}, {"left"} (a
limit of the sweep ended it) and {"failed"}. "end" on standard input, or SIGTERM, has it give back what it is at; when
the other end of standard input is gone, the server is, and it does not stay either.
"""

from __future__ import annotations

import json
import signal
import sys
import threading
import time
from pathlib import Path
from typing import TYPE_CHECKING, Any, TextIO

from solver.search.stop import NoStop
from solver.service.pipes import give_way, own_output, say, watch_input

if TYPE_CHECKING:
    from solver.batch.runner import Event
    from solver.batch.sweeps import Ending
    from solver.batch.table import JobTable

TELL_S = 0.1  # changes are told so often at most [s]
LET_GO_S, LOOK_S = 20.0, 0.1  # so long it waits for another runner to let go of the job, and looks so often [s]


def main(words: list[str]) -> int:
    """Run one job to its end; the exit code says nothing that was not told."""
    ended = threading.Event()
    watch_input(lambda _: ended.set(), ended.set)
    signal.signal(signal.SIGTERM, lambda *_: ended.set())
    give_way()
    out = own_output()
    folder, kind, limits, *flags = words
    from solver.batch.errors import StoreError
    from solver.batch.lock import Busy
    from solver.design.errors import DesignError

    until = time.monotonic() + LET_GO_S
    try:
        while True:
            try:
                say(out, _run(Path(folder), kind, json.loads(limits), "again" in flags, ended, out))
                return 0
            except Busy:  # the runner of a service that was killed just now is about to end
                if ended.is_set() or time.monotonic() > until:
                    raise
            time.sleep(LOOK_S)
    except (Busy, DesignError, StoreError, OSError) as fault:
        say(out, {"failed": _said(fault, folder)})
        return 1


def _said(fault: Exception, folder: str) -> str:
    """What is wrong, for somebody who sees neither the folder nor the command line."""
    told = str(fault).replace(f"{folder}/", "").replace(folder, "the job's folder")
    return told.replace("ringwright sweep --mend", "resuming the job").replace("--mend", "resuming the job")


def _run(
    folder: Path, kind: Any, told: dict[str, Any], again: bool, ended: threading.Event, out: TextIO
) -> dict[str, Any]:
    from dataclasses import replace

    from solver.batch.sweeps import opened, run_sweep
    from solver.batch.workers import LocalWorkers
    from solver.service.entered import entered
    from solver.service.limits import Limits

    limits = Limits(**told)
    sweep = entered(folder, kind, limits, mend=again)
    slots = min(sweep.limits.workers or limits.workers, limits.workers) if kind == "sweep" else 1
    wished = sweep.limits
    within = {
        "point_s": min(wished.point_s or limits.solve_seconds, limits.solve_seconds),
        "memory_mb": min(wished.memory_mb or limits.memory_mb, limits.memory_mb),
    }
    sweep = replace(sweep, limits=wished.model_copy(update=within))

    def note(line: str) -> None:
        print(line, file=sys.stderr)

    with opened(sweep, folder.parent, note, extend=True, again=again, mend=again) as (_, table):
        progress = _Progress(folder, table, ended, out)
        progress.tell()
        with LocalWorkers(slots) as workers:
            ending = run_sweep(folder, table, sweep, workers, progress.take, progress)
        return _told(folder, ending, progress, wished.total_s)


def _told(folder: Path, ending: Ending, progress: _Progress, total_s: float | None) -> dict[str, Any]:
    import pyarrow.parquet as pq

    from solver.batch.store import SOLUTIONS

    points = {str(state): number for state, number in ending.counts.items()}
    told = {"points": points, "best": progress.best}
    if ending.complete:
        return {**told, "over": {"solutions": pq.read_metadata(folder / SOLUTIONS).num_rows}}
    return {**told, "left": f"limits.total_s = {total_s:g} is over" if ending.why == "time" else ""}


class _Progress(NoStop):
    """Tells what has changed, and is the stop rule of the run: it is asked again and again, so that what was kept back
    for a moment is told soon."""

    def __init__(self, folder: Path, table: JobTable, ended: threading.Event, out: TextIO) -> None:
        self._table, self._ended, self._out = table, ended, out
        self._last, self._said = 0.0, ""
        self.best = _best_so_far(folder)

    def take(self, event: Event) -> None:
        from solver.batch.parts import from_stream

        if event.result is not None and event.result.record["solutions"]:
            errors = from_stream(event.result.rows)["worst_error_pct"].to_pylist()
            self.best = min(errors) if self.best is None else min(self.best, *errors)
        self()

    def tell(self) -> None:
        points = {str(state): number for state, number in self._table.counts().items()}
        told = {"points": points, "best": self.best}
        self._last = time.monotonic()
        if json.dumps(told) != self._said:
            self._said = json.dumps(told)
            say(self._out, told)

    def __call__(self) -> str | None:
        if time.monotonic() - self._last >= TELL_S:
            self.tell()
        return "interrupt" if self._ended.is_set() else None


def _best_so_far(folder: Path) -> float | None:
    import pyarrow.compute as pc

    from solver.batch.sweep_run import load_sweep

    best: float | None = pc.min(load_sweep(folder).solutions["worst_error_pct"]).as_py()
    return best


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
