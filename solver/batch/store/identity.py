"""What a point is called: a hash of the design it asks for and of the code that answers.

A finished point is never solved again, so its name must change with everything its answer can depend on, and with
nothing else.
"""

from __future__ import annotations

import hashlib
from functools import cache

from solver.batch.store.provenance import sources_sha256, versions

# The packages that the answer to a design follows from; stores, tables, sheets and commands are not among them.
ANSWERING = ("constraints", "solver/design", "solver/search", "solver/check")
SHORT = 12


@cache
def answer_version() -> str:
    """Hash of everything but the design that an answer can depend on: the sources of ANSWERING, ortools, numpy."""
    parts = (sources_sha256(ANSWERING), *(f"{name} {versions()[name]}" for name in ("ortools", "numpy")))
    return hashlib.sha256("\n".join(parts).encode()).hexdigest()


def named(config_sha256: str, version: str | None = None) -> str:
    """The name, 64 hexadecimal digits, of the point whose design has that hash.

    version: of the code that answers; this code's unless told.
    """
    return hashlib.sha256(f"{config_sha256}\n{version or answer_version()}".encode()).hexdigest()
