"""The command `serve`: checks what it needs, and serves."""

from __future__ import annotations

import sys
from contextlib import ExitStack
from pathlib import Path

from solver.batch.store.output import refuse_for_service
from solver.cli import signals
from solver.cli.run import EXIT_OK, lost_pipes_told
from solver.service.errors import need_extra
from solver.service.limits import Limits


def run_serve(
    host: str,
    port: int,
    data: Path,
    names: tuple[str, ...],
    token_file: Path | None,
    access_log: bool,
    proxies: tuple[str, ...],
    limits: Limits,
) -> int:
    """Serve until told to end; the exit code. Raises ServiceError, Busy, StoreError and OSError."""
    need_extra()
    refuse_for_service(data)
    from solver.service.http.server import Choice, serve

    def tell(address: str) -> None:
        here.enter_context(signals.elsewhere())  # until now one ends it at once; from here on the server ends itself
        print(f"Ringwright is at {address} (Ctrl-C ends it)", file=sys.stderr, flush=True)

    with lost_pipes_told(), ExitStack() as here:
        serve(Choice(host, port, data, names, token_file, access_log, proxies, limits), tell)
    return EXIT_OK
