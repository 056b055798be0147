"""How much memory a process may use for one design, beside what the solver itself holds."""

from __future__ import annotations

import resource
from pathlib import Path


def allow_more(megabytes: int) -> tuple[int, int]:
    """Allow this process so much more data memory [MiB] than it has by now. Returns the limits that it had, to be set
    again before of a shortage is told: to tell of it takes memory as well."""
    before = resource.getrlimit(resource.RLIMIT_DATA)
    resource.setrlimit(resource.RLIMIT_DATA, (_held_bytes() + (megabytes << 20), before[1]))
    return before


def _held_bytes() -> int:
    """How much data memory this process has by now [bytes], as RLIMIT_DATA counts it; 0 where the system does not tell.
    What the solver has loaded and reserved (one library reserves a gigabyte, of which it uses little) is no need of a
    point's."""
    try:
        lines = Path("/proc/self/status").read_text(encoding="ascii").splitlines()
    except OSError:
        return 0
    return next((int(line.split()[1]) << 10 for line in lines if line.startswith("VmData:")), 0)
