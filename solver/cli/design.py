"""The command `design`: the design file of what is stored."""

from __future__ import annotations

import sys
from pathlib import Path

from solver.batch.store.output import output, refuse_output
from solver.cli.exits import EXIT_OK, Usage
from solver.cli.source import PointChoice, stored
from solver.words.shown import pasted


def run_design(source: Path, chosen: PointChoice, out: Path | None, force: bool) -> int:
    """Write the design file of a stored run or of a point of a sweep, as it was stored, which this version reads as the
    same design; the exit code. Raises Usage, StoreError, DesignError and OSError."""
    if out is not None:
        refuse_output("--out", out, force)
    if source.is_file():
        raise Usage(f"{source}: a file, and no stored run; copy it")
    text = stored(source, chosen).text
    if out is not None:
        with output("--out", out, force) as stream:
            stream.write(text.encode())
        print(f"wrote {out}; next: ringwright solve {pasted(out)}", file=sys.stderr)
    elif sys.stdout.isatty():
        print(text, end="")
    else:  # a file: as it is, in UTF-8, whatever the encoding of terminals is
        sys.stdout.flush()
        sys.stdout.buffer.write(text.encode())
    sys.stdout.flush()
    return EXIT_OK
