"""The command `explain`: why nothing fits a design, and the least loosening that is enough."""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from solver.cli.exits import EXIT_LIMIT, EXIT_OK, Usage
from solver.cli.line import words_line
from solver.cli.numbers import percent
from solver.cli.written import write_design
from solver.design.errors import so_many

if TYPE_CHECKING:
    from solver.search.why.explanation import Explanation, Loosening  # which takes a while to load


def run_explain(source: Path, named: Sequence[str], best: int | None, as_json: bool, take: int | None) -> int:
    """Explain the design of a file, of a stored run or of a point of a sweep; the exit code. take: instead print the
    design file with the loosening of that number, from 1. Raises Usage, StoreError, DesignError and OSError."""
    if take is not None and as_json:
        raise Usage("--take, --json: choose one")
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
    from solver.cli.summary import reason_text
    from solver.cli.tables import Paper

    stopped = explanation.termination is not Termination.PROVED
    missing = take is not None and stopped and take > len(explanation.loosenings)
    if missing:
        told = reason_text(explanation.termination)
        found = _so_many_loosenings(explanation)
        print(f"--take {take}: not finished: {told}; explain finds {found} of {name} so far", file=sys.stderr)
    elif take is not None:
        print_taken(text, name, explanation, take)
    elif as_json:
        sys.stdout.write(json.dumps(explanation.plain(), indent=1, ensure_ascii=False) + "\n")
    else:
        print_explanation(Paper(sys.stdout), explanation)
    sys.stdout.flush()
    if signum is not None:
        return 128 + signum
    return EXIT_LIMIT if missing or (stopped and take is None) else EXIT_OK


def print_taken(text: str, name: str, explanation: Explanation, number: int) -> None:
    """Print the design file with a loosening, and say on standard error what it is. Raises Usage."""
    from solver.files.edited import edited

    found = edited(text, _chosen(explanation, name, number).data, name)
    print(f"note: {taken_words(explanation.loosenings[number - 1])}", file=sys.stderr)
    write_design(found, None)


def _chosen(explanation: Explanation, name: str, number: int) -> Loosening:
    if explanation.feasible:
        raise Usage(f"--take {number}: {name} has a solution as it stands; there is nothing to loosen")
    if number > len(explanation.loosenings):
        raise Usage(f"--take {number}: explain finds {_so_many_loosenings(explanation)} of {name}")
    return explanation.loosenings[number - 1]


def _so_many_loosenings(explanation: Explanation) -> str:
    return so_many(len(explanation.loosenings), "loosening") if explanation.loosenings else "no loosening"


def taken_words(loosening: Loosening) -> str:
    """What is loosened, and what has been proven to fit then."""
    words = ", ".join(f"{field} {now} → {then}" for _, field, now, then in loosening.changes)
    error = loosening.worst_error_pct
    best = "" if error is None else f", at best with an error of {percent(error)} %"
    return f"{words}: this has a solution{best}"
