"""The worked example of the docs: every number in it is computed here by the code, and looked for in the text."""

from __future__ import annotations

import math
from collections import Counter
from fractions import Fraction
from pathlib import Path

import pytest

from solver import Status, parse_design, solve
from solver.design.exact import log_fraction
from solver.search.bits import set_cells
from solver.search.options.candidates import Candidates
from solver.search.options.caps import caps_of
from solver.search.order.listing import Lister
from solver.search.order.question import Question
from solver.search.order.shared import Shared
from solver.search.reach.lattice import Lattice
from solver.search.reach.nodes import Node
from solver.search.reach.segments import Segments
from solver.search.reach.walks import paths
from solver.search.stop import NoStop

TEXT = (Path(__file__).parents[1] / "docs" / "worked-example.md").read_text(encoding="utf-8")
FLOWING = " ".join(TEXT.split())
DESIGN = parse_design(TEXT.split("```toml\n")[1].split("```")[0])
SCALE = 100


def says(words: str) -> None:
    assert words in FLOWING, words


def row(*cells: object) -> str:
    return f"| {' | '.join(map(str, cells))} |"


def table(heading: str) -> list[str]:
    """The rows of the table with that heading."""
    return TEXT.split(heading)[1].split("\n\n")[0].splitlines()[2:]


def shown(values: list[int]) -> str:
    return "{" + ", ".join(map(str, values)) + "}"


def lattice_at(scale: int) -> Lattice:
    (family,) = DESIGN.families()
    return Lattice(DESIGN, family, Segments(Candidates(DESIGN), scale), caps_of(DESIGN))


@pytest.fixture(scope="module")
def lattice() -> Lattice:
    return lattice_at(SCALE)


def test_the_family_and_its_options(lattice):
    assert lattice.rings == ((20,), (22,), (24,), (26,)) and lattice.seats == ((0,), (1, 2), (3,))
    says("20, 22, 24 and 26 teeth")
    candidates = Candidates(DESIGN)
    rows = [
        row(f"{one.wheel}/{one.pinion}", f"{math.log(one.wheel / one.pinion):.4f}",
            round(SCALE * math.log(one.wheel / one.pinion)))
        for one in reversed(candidates.between(20, 22))
    ]  # fmt: skip
    assert table("| wheel/pinion | logarithm | units |") == rows
    assert candidates.between(20, 22) == candidates.between(22, 24) == candidates.between(24, 26)


def test_the_segments(lattice):
    one, two = lattice.segment(0, 0, 20, 1, 22), lattice.segment(0, 0, 20, 2, 24)
    assert lattice.segment(1, 1, 22, 3, 26) is two and lattice.segment(1, 2, 24, 3, 26) is one
    for segment in (one, two):
        sums = segment.sums[0]
        says(shown([sums.low + cell for cell in set_cells(sums.bits)]))
        says(f"`{sums.bits:b}`")
    links = set_cells(one.sums[0].bits)
    says(f"lowest bit stands for {one.sums[0].low}")
    says(f"shifted by {links[0]}, {links[1]} and {links[2]}")
    assert (
        two.sums[0].bits == one.sums[0].bits << links[0] | one.sums[0].bits << links[1] | one.sums[0].bits << links[2]
    )


def test_the_layers(lattice):
    least, most = lattice.bracket(0, lattice.most_units)
    assert least == most
    says(f"Let W = {most}:")
    says(f"slack = 3 // 2 + 3 = {lattice.rounding.slack} units")
    for body in DESIGN.bodies[1:]:
        says(f"100 ln {float(body.low):g} = {SCALE * log_fraction(body.low):.2f}")
    inside, rows = lattice.forward(most), []
    assert inside is not None
    before: dict[Node, set[int]] = {Node(0, 20, 0): {-300}}
    for body, name in enumerate(("inner", "middle", "outer")):
        if body:  # every sum of what was inside before and what a segment adds
            reached: dict[Node, set[int]] = {}
            for node, values in before.items():
                for ring, teeth, segment in lattice.targets(body - 1, node.ring, node.teeth):
                    sums = segment.sums[0]
                    steps = [sums.low + cell for cell in set_cells(sums.bits)]
                    found = reached.setdefault(Node(ring, teeth, 0), set())
                    found |= {value + step for value in values for step in steps}
            before = reached
        kept_of: dict[Node, set[int]] = {}
        for node, values in before.items():
            low, high = inside.cells[body][node.teeth]
            kept = [low + cell for cell in set_cells(inside.nodes[body].get(node, 0))]
            assert kept == [value for value in sorted(values) if low <= value <= high]
            kept_of[node] = set(kept)
            rows.append(row(f"{name} on {node.ring}", node.teeth, f"{low}..{high}", shown(sorted(values)), shown(kept)))
        before = kept_of
    assert table("| body on ring | teeth | window | reached before the window | inside |") == rows
    (last,) = inside.nodes[-1].values()
    says(f"`{last:b}`")


def test_the_bound(lattice):
    least, _ = lattice.bracket(0, lattice.most_units)
    slack = lattice.rounding.slack
    assert lattice.forward(least - 1) is None
    says(f"With W = {least - 1} the middle body's window on ring 1 begins at")
    says(f"begins at {lattice.cells_of(1, lattice.window(1, least - 1))[22][0]}, so")
    says(f"above {least - 1} - {slack} = {least - 1 - slack} units: at least")
    says(f"at least {100 * math.expm1(lattice.rounding.least(least - 1) / SCALE):.2f} %")
    fine = lattice_at(10_000)
    within, _ = fine.bracket(0, fine.most_units)
    says(f"nothing is inside {within - 1}, which makes it {100 * math.expm1((within - 1 - slack) / 10_000):.2f} %")


def test_the_list_and_its_ties(lattice):
    shared = Shared(DESIGN, NoStop())
    lister = Lister(shared, Question(shared.keys, (), 100, caps_of(DESIGN)))
    units, _ = lattice.bracket(0, lattice.most_units)
    wide = lattice.rounding.beside(units)
    few, found = list(paths(lattice, units)), lister.scored(list(paths(lattice, wide)))
    says(f"{len(few)} of them inside {units}.")
    says(f"wider by twice the slack, {wide}, and holds {len(found)} trains: all up to {wide - lattice.rounding.slack}")
    classes = Counter(item.figures.error_square for item in found)
    rows = [
        row(f"{100 * (math.sqrt(square) - 1):.4f} %", f"{SCALE * log_fraction(square) / 2:.2f}", number)
        for square, number in sorted(classes.items())
    ]
    assert table("| error | units | trains |") == rows
    first = [item for item in found if item.figures.error_square == found[0].figures.error_square]
    assert {item.figures.parts for item in first} == {13} and len(first) == len(few)
    assert first[0].figures.error_square == (1 + Fraction(8, 77)) ** 2
    assert {(item.train.seats, item.train.links[0].wheel) for item in first} == {((0, 1, 3), 7)}
    rows = [
        row(" ".join(f"{link.wheel}/{link.pinion}" for link in item.train.links), item.figures.jigs,
            item.figures.envelope_teeth)
        for item in first
    ]  # fmt: skip
    assert table("| links | jigs | envelope |") == rows
    answer = solve(DESIGN)
    assert answer.status is Status.OPTIMAL
    told = [[(link.wheel, link.pinion) for link in solution.links] for solution in answer.solutions]
    assert told == [[(link.wheel, link.pinion) for link in item.train.links] for item in first[: DESIGN.keep]]
    says(f"bound and worst error {answer.solutions[0].worst_error_pct:.2f} %")
    assert answer.bound_worst_error_pct == pytest.approx(answer.solutions[0].worst_error_pct, abs=1e-9)
