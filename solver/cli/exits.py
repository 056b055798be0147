"""How a command ends: its exit codes, and a wrong word."""

from __future__ import annotations

EXIT_OK, EXIT_FAULT, EXIT_INPUT, EXIT_INFEASIBLE, EXIT_LIMIT, EXIT_BUSY = 0, 1, 2, 3, 4, 75


class Usage(Exception):
    """A wrong word on the command line: shown in one line, exit code 2."""
