"""The command `serve`: checks what it needs, and serves."""

from __future__ import annotations

import sys
from contextlib import ExitStack

from solver.batch.store.output import refuse_for_service
from solver.cli import signals
from solver.cli.exits import EXIT_OK
from solver.cli.run import lost_pipes_told
from solver.cli.words import ServeWords
from solver.service.errors import need_extra
from solver.service.limits import ServiceLimits


def run_serve(words: ServeWords) -> int:
    """Serve until told to end; the exit code. Raises ServiceError, Busy, StoreError and OSError."""
    need_extra()
    refuse_for_service(words.data)
    from solver.service.http.server import Setup, serve

    def tell(address: str) -> None:
        here.enter_context(signals.elsewhere())  # until now one ends it at once; from here on the server ends itself
        print(f"Ringwright is at {address} (Ctrl-C ends it)", file=sys.stderr, flush=True)

    setup = Setup(
        words.host, words.port, words.data, tuple(words.name or ()), words.token_file, words.access_log,
        tuple(words.proxy or ()), _limits(words),
    )  # fmt: skip
    with lost_pipes_told(), ExitStack() as here:
        serve(setup, tell)
    return EXIT_OK


def _limits(words: ServeWords) -> ServiceLimits:
    told = {
        "most_points": words.most_points, "most_jobs": words.most_jobs, "solve_seconds": words.solve_seconds,
        "memory_mb": words.solve_memory, **({} if words.workers is None else {"workers": words.workers}),
    }  # fmt: skip
    return ServiceLimits(**told)  # type: ignore[arg-type]
