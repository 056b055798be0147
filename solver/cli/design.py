"""The command `design`: the design file of what is stored."""

from __future__ import annotations

from pathlib import Path

from solver.batch.store.output import refuse_output
from solver.cli.exits import EXIT_OK, Usage
from solver.cli.source import PointChoice, stored
from solver.cli.written import write_design


def run_design(source: Path, chosen: PointChoice, out: Path | None, force: bool) -> int:
    """Write the design file of a stored run or of a point of a sweep, as it was stored, which this version reads as the
    same design; the exit code. Raises Usage, StoreError, DesignError and OSError."""
    if out is not None:
        refuse_output("--out", out, force)
    if source.is_file():
        raise Usage(f"{source}: a file, and no stored run; copy it")
    write_design(stored(source, chosen).text, out, force)
    return EXIT_OK
