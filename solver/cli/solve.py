"""The command `solve`: a design solved, stored, drawn and shown."""

from __future__ import annotations

import sys
from collections.abc import Callable
from contextlib import nullcontext
from dataclasses import replace
from functools import cache
from pathlib import Path

from solver.answer.document import Answer, Status
from solver.answer.solve import Solving
from solver.batch.store.output import OutputError, output, refuse_for_runs, refuse_output
from solver.cli import signals
from solver.cli.exits import EXIT_INPUT, EXIT_OK, Usage
from solver.cli.run import but_stored, exit_code, interruptible, progress_line
from solver.cli.tables import Paper, print_answer
from solver.cli.words import RESULTS, SolveWords
from solver.design.design import Design
from solver.design.errors import so_many
from solver.files.load import parse_design
from solver.files.text import read_text
from solver.search.stop import Termination

_FAULTS = (OSError, OutputError)  # after which the answer is shown all the same


def run_solve(words: SolveWords) -> int:
    """Solve a design file; the exit code. Raises DesignError, Usage, OutputError and OSError."""
    text = read_text(words.file)
    design = parse_design(text, str(words.file))
    if words.prove:
        design = replace(design, prove=True)
    if words.picture is not None:
        if design.fit.directions is None:
            raise Usage("--picture: this design has no places; give fit.directions, and arbors.reverted = true")
        refuse_output("--picture", words.picture, words.force, words.file)
    if words.save:
        refuse_for_runs(words.results)
    elif words.results != RESULTS:
        raise Usage("--results: nothing is stored with --no-save; leave out one of them")
    with progress_line(design.units) as progress:
        solving = Solving(design, progress)
        answer, signum = interruptible(solving.run, lambda: solving.so_far(Termination.INTERRUPT))
    told: list[str] = []  # of what was interrupted, all that is said is one line in the end
    say = (lambda line: print(line, file=sys.stderr)) if signum is None else told.append

    @cache
    def picture_of(rank: int) -> str | None:
        if design.fit.directions is None:
            return None
        from solver.sheets.views.drawn import drawn  # takes its time to load

        return drawn(design, answer, rank)

    stored, fault = None, None
    if words.save:
        with signals.held():
            stored, fault = _store(words, text, answer, picture_of)
        signum = signals.came()
    with nullcontext() if stored is None else signals.ending(f"stored as {stored}"):
        if words.picture is not None:
            fault = _draw(words, answer, picture_of, say) or fault
        _show(words, design, answer, stored)
        if fault is not None:
            raise fault
        if stored is not None:
            say(f"stored as {stored}")
        if told:
            print("; ".join(told), file=sys.stderr)
    return exit_code(answer, signum) or _missing(words, answer)


def _missing(words: SolveWords, answer: Answer) -> int:
    """The exit code where a solution that was asked for by its rank is not there."""
    beyond = [rank for rank in words.show or () if rank > len(answer.solutions)]
    for rank in beyond:
        print(f"--show {rank}: {_why_not(answer)}", file=sys.stderr)
    return EXIT_INPUT if beyond else EXIT_OK


def _store(
    words: SolveWords, text: str, answer: Answer, picture_of: Callable[[int], str | None]
) -> tuple[Path | None, Exception | None]:
    """The stored run, or why there is none."""
    from solver.batch.store.runs import save_run

    try:
        return save_run(words.results, text, answer, {"command": "solve"}, picture_of(1)), None
    except _FAULTS as fault:
        return None, fault


def _draw(
    words: SolveWords, answer: Answer, picture_of: Callable[[int], str | None], say: Callable[[str], None]
) -> Exception | None:
    """Draw what is asked for; what came between, if anything."""
    assert words.picture is not None
    svg = picture_of((words.show or [1])[0])
    if svg is None:
        say(f"{words.picture}: not drawn, {_why_not(answer)}")
        return None
    try:
        with output("--picture", words.picture, words.force) as stream:
            stream.write(svg.encode())
    except _FAULTS as fault:
        return fault
    say(f"drawn as {words.picture}")
    return None


def _why_not(answer: Answer) -> str:
    if answer.solutions:
        return f"there {'are' if len(answer.solutions) > 1 else 'is'} {so_many(len(answer.solutions), 'solution')}"
    return "nothing fits" if answer.status is Status.INFEASIBLE else "no solution was found so far"


def _show(words: SolveWords, design: Design, answer: Answer, stored: Path | None) -> None:
    try:
        if words.as_json:
            sys.stdout.write(answer.to_json())
        else:
            print_answer(Paper(sys.stdout), design, answer, words.show or (1,))
        sys.stdout.flush()
    except OSError as fault:
        if stored is None:
            raise
        raise but_stored(fault, f"as {stored}") from None
