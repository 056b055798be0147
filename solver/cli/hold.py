"""The command `hold`: part of a solution stays as it is, in a design file that leaves the rest open."""

from __future__ import annotations

import re
from fractions import Fraction
from pathlib import Path

from solver.answer.document import SolutionAnswer, made_as, train_of
from solver.batch.store.output import refuse_output
from solver.check.judge import judge
from solver.cli.exits import EXIT_OK, Usage
from solver.cli.numbers import percent
from solver.cli.source import PointChoice, Source, solved
from solver.cli.written import write_design
from solver.design.design import Design
from solver.design.errors import DesignError, so_many
from solver.design.made import FixedLink, FixedRing
from solver.design.toothing import is_open
from solver.files.holding import held_text, settled_text, standing_text
from solver.files.load import parse_design
from solver.words.shown import shown

_INTERRUPTED = "interrupted: nothing was written"
_SPAN = re.compile(r"\s*(\d{1,6})\s*(?:-\s*(\d{1,6})\s*)?", re.ASCII)


def spans_of(words: str) -> list[range] | None:
    """The links that words like "0-4" or "0,2,5" stand for; None: "all". Raises Usage."""
    if words.strip() == "all":
        return None
    found = []
    for word in words.split(","):
        span = _SPAN.fullmatch(word)
        if span is None:
            raise Usage(f"--links {shown(words)}: write them like 0-4, 0,2,5 or all")
        first, last = int(span[1]), int(span[2] or span[1])
        if first > last:
            raise Usage(f"--links {shown(words)}: {first}-{last} runs backwards; write {last}-{first}")
        found.append(range(first, last + 1))
    return found


def links_of(words: str, count: int) -> list[int]:
    """The numbers of these of a train's links, ascending. Raises Usage."""
    spans = spans_of(words)
    if spans is None:
        return list(range(count))
    found = sorted({link for span in spans for link in span if link < count})
    beyond = [max(span[0], count) for span in spans if span[-1] >= count]
    if beyond:
        have = f"links 0 to {count - 1}" if count > 1 else "link 0 alone"
        raise Usage(f"--links {shown(words)}: there is no link {beyond[0]}; the train has {have}")
    return found


def held_design(found: Source, rank: int, words: str, free_places: bool) -> str:
    """The text of the design in which these links of a solution stay, with the rings beside them and who rides there,
    and the directions of their arbors unless places are to be free.

    Raises Usage and DesignError."""
    solution = found.solution(rank)
    links = links_of(words, len(solution.links))
    several = len(links) > 1
    told = f"link{'s' if several else ''} {words.strip() if several else links[0]}"
    told = "all links" if several and len(links) == len(solution.links) else told
    told, stay = f"{told[0].upper()}{told[1:]}", "stay" if several else "stays"
    head = [
        f"{told} of solution {rank} of {shown(found.name)} {stay}, in the table [made] at the end.",
        f"Worst error {percent(solution.worst_error_pct)} %, {solution.parts} parts, {so_many(solution.jigs, 'jig')}.",
        "Solved, this file gives the best of all that has what stays; the rest may be changed.",
    ]
    directions = {} if free_places else directions_of(found.design, solution, links)
    if directions:
        head.insert(1, "So do their arbors, by fit.link; on which side of an arbor a third gear stands is open.")
    names = [body.name for body in found.design.bodies]
    rings, stays = held_parts(solution, links, names)
    text = found.text
    if is_open(found.design) and any(link.thirds for link in stays):
        text = settled_text(text, solution.third_toothing or "pins")
    text = standing_text(text, directions)
    text = held_text(text, rings, stays, names, head)
    _confirm(parse_design(text, found.name), found, solution)
    return text


def held_parts(solution: SolutionAnswer, links: list[int], names: list[str]) -> tuple[list[FixedRing], list[FixedLink]]:
    """The rings beside these links of a solution, with who rides there, and the links. names: of the bodies."""
    beside = sorted({ring for link in links for ring in (link, link + 1)})
    rings = []
    for number in beside:
        ring = solution.rings[number]
        rings.append(FixedRing(number, ring.teeth, None if ring.blank else names.index(ring.name), ring.blank))
    stays = [
        FixedLink(number, link.kind, link.wheel, link.pinion, tuple(link.thirds))
        for number in links
        for link in (solution.links[number],)
    ]
    return rings, stays


def directions_of(design: Design, solution: SolutionAnswer, links: list[int]) -> dict[int, Fraction]:
    """The direction [degrees] of the arbor of each of these links, where places are computed."""
    placement = train_of(made_as(design, solution), solution).placement
    return {} if placement is None else {link: placement.links[link].direction for link in links}


def _confirm(design: Design, found: Source, solution: SolutionAnswer) -> None:
    """Raises RuntimeError where the solution is not one of the design in which part of it stays."""
    own = made_as(found.design, solution)
    verdict = judge(made_as(design, solution), train_of(own, solution))
    if not verdict.sound:
        broken = "; ".join(map(str, verdict.violations))
        raise RuntimeError(f"a solution that breaks the rules of the design in which it stays: {broken}")


def run_hold(
    source: Path, chosen: PointChoice, rank: int, links: str, free_places: bool, out: Path | None, force: bool
) -> int:
    """Write the design in which these links of a solution stay; the exit code. Raises Usage, StoreError, DesignError
    and OSError."""
    if out is not None:
        refuse_output("--out", out, force)
    spans_of(links)
    found = solved(source, chosen, _INTERRUPTED, lambda design: None)
    if not found.solutions:
        return found.code
    try:
        text = held_design(found, rank, links, free_places)
    except DesignError as fault:
        raise fault.in_file(found.name) from None
    write_design(text, out, force)
    return EXIT_OK
