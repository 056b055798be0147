"""The command `prove`: what an answer claims, put to CP-SAT a second time from the rules alone."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

from solver.answer.document import ProofAnswer, ProofOutcome
from solver.answer.prove import Proofs, prove
from solver.cli import line
from solver.cli.exits import EXIT_FAULT, EXIT_LIMIT, EXIT_OK
from solver.cli.run import interruptible
from solver.cli.source import Source, sources
from solver.cli.summary import proof_text
from solver.cli.tables import Paper, solution_table
from solver.search.stop import Deadline, FirstOf


def run_prove(source: Path, point: Sequence[str], seconds: float, as_json: bool) -> int:
    """Prove a stored answer, or that of a design file, a second time; the exit code. Raises StoreError, DesignError,
    OSError and Usage."""
    code, told = EXIT_OK, []
    for answer in sources(source, point):
        if answer.point and not as_json:
            print(f"point {answer.point}: {answer.design.title}")
        proofs, signum = _proven(answer, Deadline(seconds), None if as_json else _tell)
        told.append(_plain(answer, proofs))
        if proofs.better is not None and not as_json:
            print("a fault of ours, unless the answer was not proven: this one is better, and the judge passes it")
            Paper(sys.stdout).print(solution_table(proofs.better))
        if signum is not None:
            return 128 + signum
        code = max(code, _code(proofs), key=(EXIT_OK, EXIT_LIMIT, EXIT_FAULT).index)
    if as_json:
        sys.stdout.write(json.dumps(told if len(told) != 1 else told[0], indent=1, ensure_ascii=False) + "\n")
    sys.stdout.flush()
    return code


def _proven(
    answer: Source, limit: Deadline, tell: Callable[[ProofAnswer, float], None] | None
) -> tuple[Proofs, int | None]:
    """The proofs of an answer, and the signal that came, if any."""
    return interruptible(
        lambda interrupt: prove(
            answer.design, answer.solutions, answer.front, FirstOf(interrupt, limit), tell, line.tell
        )
    )


def _tell(proof: ProofAnswer, seconds: float) -> None:
    print(f"{proof_text(proof)}; {seconds:.2f} s", flush=True)


def _plain(answer: Source, proofs: Proofs) -> dict[str, object]:
    return {
        "title": answer.design.title,
        **({"point": answer.point} if answer.point else {}),
        "proofs": [proof.model_dump(mode="json") for proof in proofs.proofs],
        "better": None if proofs.better is None else proofs.better.model_dump(mode="json"),
        "report": {"proof_seconds": [round(one, 3) for one in proofs.seconds]},
    }


def _code(proofs: Proofs) -> int:
    outcomes = {proof.outcome for proof in proofs.proofs}
    if ProofOutcome.REFUTED in outcomes:
        return EXIT_FAULT
    return EXIT_LIMIT if ProofOutcome.OPEN in outcomes else EXIT_OK
