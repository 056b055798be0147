"""A design file as what a command gives: into a file, or to standard output."""

from __future__ import annotations

import sys
from pathlib import Path

from solver.batch.store.output import output
from solver.words.shown import pasted


def write_design(text: str, out: Path | None, force: bool = False) -> None:
    """Write the text of a design file, as it is, and say what comes next where it was written; out: None for standard
    output. Raises OutputError and OSError."""
    if out is not None:
        with output("--out", out, force) as stream:
            stream.write(text.encode())
        print(f"wrote {out}; next: ringwright solve {pasted(out)}", file=sys.stderr)
    elif sys.stdout.isatty():
        print(text, end="")
    else:  # a file: in UTF-8, whatever the encoding of terminals is
        sys.stdout.flush()
        sys.stdout.buffer.write(text.encode())
    sys.stdout.flush()
