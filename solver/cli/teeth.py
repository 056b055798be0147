"""The command `teeth`: teeth with which the best solution runs most evenly, and whether it fits with them."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from math import inf
from pathlib import Path
from typing import TYPE_CHECKING

from rich.table import Table

from solver.answer.document import made_as, train_of
from solver.cli import signals
from solver.cli.exits import EXIT_LIMIT, EXIT_OK, Usage
from solver.cli.line import words_line
from solver.cli.numbers import percent
from solver.cli.run import progress_line
from solver.cli.source import PointChoice, solved
from solver.cli.tables import Paper, links_text, plain_table
from solver.design.design import Design
from solver.design.errors import DesignError
from solver.sheets.gears.adjust import what_it_does
from solver.sheets.gears.teeth import (
    LEAST_PLAY,
    LIMIT,
    BetterTrain,
    TeethAsMade,
    TeethProposal,
    TriedTeeth,
    named_lengths,
    plain_teeth,
    proposed_teeth,
    refuse_plate,
    tried_teeth,
)
from solver.words.lengths import MM_PER_INCH, Lengths

if TYPE_CHECKING:
    from solver.forms.runs import MeshRun

_LEAST = 0.1  # mm
_PLAY = f"with no less play than now, or {float(100 * LEAST_PLAY):g} % of a tooth"
_INTERRUPTED = "interrupted: no teeth are proposed"


def run_teeth(
    source: Path, chosen: PointChoice, most_addendum: float | None, most_rim: float | None, as_json: bool
) -> int:
    """Propose teeth, try them and print what comes of it; the exit code. Raises Usage, StoreError,
    DesignError and OSError."""
    given = solved(source, chosen, _INTERRUPTED, refuse_plate)
    if not given.solutions:
        return given.code
    solution = given.solutions[0]
    design = made_as(given.design, solution)
    most_mm = _most("--most-addendum", most_addendum, design), _most("--most-rim", most_rim, design)
    train = train_of(design, solution)
    try:
        with signals.ending(_INTERRUPTED), words_line("looking for teeth") as tell:
            proposal = proposed_teeth(design, train, *most_mm, tell)
    except DesignError as fault:
        raise fault.in_file(given.name) from None
    with signals.ending(_INTERRUPTED), progress_line(design.units) as progress:
        better = BetterTrain(proposal, tried_teeth(design, train, proposal, progress=progress))
    if as_json:
        sys.stdout.write(json.dumps(plain_teeth(better, design.units), indent=1, ensure_ascii=False) + "\n")
    else:
        paper = Paper(sys.stdout)
        paper.print(_table(design, proposal))
        for line in _told(design, better):
            paper.line(line)
    sys.stdout.flush()
    return EXIT_OK if better.tried is None or better.tried.answer.proven else EXIT_LIMIT


def _most(option: str, given: float | None, design: Design) -> float:
    """A limit in mm. Raises Usage."""
    if given is None:
        return inf
    most = given * float(MM_PER_INCH if design.units == "in" else 1)
    if not most >= _LEAST:
        least = f"{_LEAST:g} mm" if design.units == "mm" else f"{_LEAST / float(MM_PER_INCH):.3g} in"
        raise Usage(f"{option} {given:g}: must be at least {least}")
    return most


def _table(design: Design, proposal: TeethProposal) -> Table:
    """Every mesh before and after, and with the best curve."""
    lengths = Lengths(design.units)
    limit = None if proposal.now.lengths.form == LIMIT else proposal.limit
    every = {"now": proposal.now, "proposed": proposal.then, LIMIT: limit}
    columns = {name: one for name, one in every.items() if one is not None}
    heads = ["mesh", "on"]
    for name in columns:
        heads += [f"{name} %", f"play {lengths.unit}"]
    told = "%: how far a mesh strays from even turning, in percent of a tooth; play: at the pitch circle"
    table = plain_table(f"{design.title}: how its meshes run", heads, left=("mesh", "on"), caption=told)
    for number, gears in enumerate(proposal.meshes):
        cells = [cell for one in columns.values() for cell in _cells(proposal, one, number, lengths)]
        table.add_row(" with ".join(gears), proposal.posts[number], *cells)
    return table


def _cells(proposal: TeethProposal, teeth: TeethAsMade, number: int, lengths: Lengths) -> tuple[str, str]:
    run = teeth.runs[number]
    if run is None:
        return "cannot be made", ""
    play = lengths.bare(run.backlash, lengths.unit)
    return (what_it_does(run) if run.jams or run.slips else _percent(proposal, run)), play


def _percent(proposal: TeethProposal, run: MeshRun) -> str:
    return f"{100 * run.uneven / proposal.pitch_mm:.1f}"


def _told(design: Design, better: BetterTrain) -> Iterator[str]:
    proposal = better.proposal
    yield f"now: {_worst(proposal, proposal.now)}"
    if proposal.then is None:
        yield f"no teeth were found with which every mesh of this train runs, {_PLAY}"
    else:
        yield f"proposed: {_settings(proposal.then, design)}: {_worst(proposal, proposal.then)}"
    if proposal.limit is not None and proposal.now.lengths.form != LIMIT:
        yield f"the limit of wire and pins: {_settings(proposal.limit, design)}: {_worst(proposal, proposal.limit)}"
    elif proposal.now.lengths.form != LIMIT:
        yield f"of the form {LIMIT} no teeth were found with which every mesh of this train runs, {_PLAY}"
    yield "these are the best that were found, in steps of a tenth of a millimetre; not proven to be the best"
    if better.tried is not None:
        yield from _fits(better.tried)


def _settings(teeth: TeethAsMade, design: Design) -> str:
    return ", ".join(f"{field} = {value}" for field, value in named_lengths(teeth.lengths, design.units))


def _worst(proposal: TeethProposal, teeth: TeethAsMade) -> str:
    number = teeth.worst()
    run, name = teeth.runs[number], " with ".join(proposal.meshes[number])
    if run is None:
        return f"{name} cannot be made"
    if run.jams or run.slips:
        return f"{name} {what_it_does(run)}"
    return f"the worst mesh, {name}, strays {_percent(proposal, run)} % of a tooth"


def _fits(tried: TriedTeeth) -> Iterator[str]:
    """What becomes of the train when the file is solved with the proposed lengths."""
    answer, places = tried.answer, tried.design.fit.directions is not None and tried.design.arbors.reverted
    if tried.rank is not None:
        yield f"solved with the proposed lengths, the same train stands, as solution {tried.rank}"
    elif tried.fits:
        kept = len(answer.solutions)
        yield f"solved with the proposed lengths, the same train stands, but {kept} others rank before it"
    elif tried.fits is False:
        yield "solved with the proposed lengths, the same train has no places any more: try --most-addendum, --most-rim"
    elif places:
        yield "whether the same train stands with the proposed lengths was not settled in time"
    else:
        yield "solved with the proposed lengths, the same train is not among the solutions that are kept"
    if not answer.solutions:
        yield "nothing fits then" if answer.proven else "nothing was found then before a limit stopped the search"
        return
    best = answer.solutions[0]
    known = "proven best" if answer.proven else "the best found before a limit stopped the search"
    rings = " ".join(str(ring.teeth) for ring in best.rings)
    yield f"{known} then: {percent(best.worst_error_pct)} %, rings {rings}, links {links_text(best)}"
