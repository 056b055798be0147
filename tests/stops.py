"""Stop rules for tests."""

from __future__ import annotations

from solver.search.stop import NoStop


class AfterCalls(NoStop):
    """Stops when it has been asked so often: a limit that does not look at the clock."""

    def __init__(self, calls: int) -> None:
        self.left = calls

    def __call__(self) -> str | None:
        self.left -= 1
        return "work" if self.left < 0 else None
