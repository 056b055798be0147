"""The command `explain`: why nothing fits a design, and the least loosening that is enough."""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence
from pathlib import Path

from solver.cli.exits import EXIT_LIMIT, EXIT_OK
from solver.cli.line import words_line


def run_explain(source: Path, named: Sequence[str], best: int | None, as_json: bool) -> int:
    """Explain the design of a file, of a stored run or of a point of a sweep; the exit code. Raises Usage, StoreError,
    DesignError and OSError."""
    with words_line("reading the file") as tell:  # shown before what takes longer to load
        from solver.cli.run import interruptible
        from solver.cli.source import PointChoice, text_of
        from solver.files.load import parse_design
        from solver.files.text import data_of
        from solver.search.stop import Deadline, FirstOf, Termination
        from solver.search.why.explain import PATIENCE_S, Explaining

        text, name = text_of(source, PointChoice(named, best))
        limit = parse_design(text, name).time_limit_s
        explaining = Explaining(data_of(text, name), name, tell)
        explanation, signum = interruptible(
            lambda interrupt: explaining.run(FirstOf(interrupt, Deadline(limit)), PATIENCE_S),
            lambda: explaining.so_far(Termination.INTERRUPT),
        )
    from solver.cli.other_tables import print_explanation
    from solver.cli.tables import Paper

    if as_json:
        sys.stdout.write(json.dumps(explanation.plain(), indent=1, ensure_ascii=False) + "\n")
    else:
        print_explanation(Paper(sys.stdout), explanation)
    sys.stdout.flush()
    if signum is not None:
        return 128 + signum
    return EXIT_OK if explanation.termination is Termination.PROVED else EXIT_LIMIT
