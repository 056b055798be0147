"""The command `prove`: what an answer claims, put to CP-SAT a second time from the rules alone."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from solver.answer.document import ProofAnswer, ProofOutcome, SolutionAnswer
from solver.answer.prove import Proofs, prove
from solver.cli.exits import EXIT_FAULT, EXIT_LIMIT, EXIT_OK
from solver.cli.run import interruptible, progress_line
from solver.cli.summary import proof_text
from solver.cli.tables import Paper, solution_table
from solver.design.design import Design
from solver.files.load import parse_design
from solver.search.stop import Deadline, FirstOf


@dataclass(frozen=True)
class Source:
    """An answer to be proven: the design, its solutions, best first, and the ranks of those on its front. name: of a
    sweep's point, else empty."""

    design: Design
    solutions: Sequence[SolutionAnswer]
    front: Sequence[int] | None
    name: str = ""


def run_prove(source: Path, point: Sequence[str], seconds: float, as_json: bool) -> int:
    """Prove a stored answer, or that of a design file, a second time; the exit code. Raises StoreError, DesignError,
    OSError and Usage."""
    code, told = EXIT_OK, []
    for answer in _sources(source, point):
        if answer.name and not as_json:
            print(f"point {answer.name}: {answer.design.title}")
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
        lambda interrupt: prove(answer.design, answer.solutions, answer.front, FirstOf(interrupt, limit), tell)
    )


def _tell(proof: ProofAnswer, seconds: float) -> None:
    print(f"{proof_text(proof)}; {seconds:.2f} s", flush=True)


def _plain(answer: Source, proofs: Proofs) -> dict[str, object]:
    return {
        "title": answer.design.title,
        **({"point": answer.name} if answer.name else {}),
        "proofs": [proof.model_dump(mode="json") for proof in proofs.proofs],
        "better": None if proofs.better is None else proofs.better.model_dump(mode="json"),
        "report": {"proof_seconds": [round(one, 3) for one in proofs.seconds]},
    }


def _code(proofs: Proofs) -> int:
    outcomes = {proof.outcome for proof in proofs.proofs}
    if ProofOutcome.REFUTED in outcomes:
        return EXIT_FAULT
    return EXIT_LIMIT if ProofOutcome.OPEN in outcomes else EXIT_OK


def _sources(source: Path, point: Sequence[str]) -> Iterator[Source]:
    if source.is_dir():
        from solver.batch.sweep.run import is_sweep

        yield from _points(source, point) if is_sweep(source) else _run(source)
        return
    from solver.answer.solve import solve
    from solver.files.text import read_text

    design = parse_design(read_text(source), str(source))
    with progress_line() as progress:
        answer = solve(design, progress=progress)
    if not answer.proven:
        print("note: a limit stopped the search; what it found is put to the proof all the same", file=sys.stderr)
    yield Source(design, answer.solutions, answer.front)


def _run(folder: Path) -> Iterator[Source]:
    from solver.batch.as_stored import as_stored

    design, run = as_stored(folder)
    yield Source(design, run.solutions, run.record["front"])


def _points(folder: Path, names: Sequence[str]) -> Iterator[Source]:
    """The points of a stored sweep that are named, or all that were solved."""
    from solver.batch.store.runs import solution_from_row
    from solver.batch.sweep.run import load_sweep
    from solver.batch.sweep.table import PointState
    from solver.cli.rerun import chosen_points

    run = load_sweep(folder)
    rows: dict[str, list[SolutionAnswer]] = {}
    for row in run.solutions.to_pylist():
        rows.setdefault(row.pop("point_id"), []).append(solution_from_row(row))
    for one in chosen_points(run, names, None):
        if names or one["state"] == PointState.SOLVED:
            name = one["point_id"]
            yield Source(parse_design(one["design"], name), rows.get(name, []), one["front"], name)
