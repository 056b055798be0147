"""What one begins with: the file of `new` solves for every set, and what it gives can be built and runs."""

from __future__ import annotations

import pytest

from solver import parse_design, solve
from solver.answer.document import made_as, train_of
from solver.files.body_sets import body_sets
from solver.files.template import design_template
from solver.files.text import data_of
from solver.service.page import form
from solver.service.page.form_file import file_text
from solver.service.page.form_start import beginning
from solver.sheets.gears.inventory import inventory

pytestmark = pytest.mark.slow


@pytest.mark.deep
@pytest.mark.parametrize("units", ["mm", "in"])
@pytest.mark.parametrize("name", sorted(body_sets()))
def test_every_set_begins_with_a_file_that_solves_and_runs(name, units):
    """All bodies of the set, proven; judged as made; and the sheets have nothing to remark about any solution."""
    design = parse_design(design_template(bodies=name, units=units))
    answer = solve(design)
    assert (answer.status, len(answer.solutions)) == ("optimal", design.keep)
    assert answer.solutions[0].worst_error_pct < 2
    assert design.as_made
    for solution in answer.solutions:
        stock = inventory(made_as(design, solution), train_of(design, solution))
        told = [f"{one.where}: {one.text}" for one in stock.remarks]
        assert not told, (solution.rank, told)


@pytest.mark.deep
@pytest.mark.parametrize("units", ["mm", "in"])
@pytest.mark.parametrize("name", sorted(body_sets()))
def test_every_set_has_a_solution_with_what_the_form_begins_with(name, units):
    """Proven best, within a per cent, in the frame; nothing of it is left to a limit of time."""
    design = parse_design(file_text(beginning(name, units)))
    assert design.fit.frame is not None and len(design.bodies) == len(body_sets()[name].periods)
    answer = solve(design)
    assert (answer.status, len(answer.solutions)) == ("optimal", design.keep)
    assert answer.solutions[0].worst_error_pct < 1


@pytest.mark.deep
@pytest.mark.parametrize("units", ["mm", "in"])
def test_its_frame_is_large_enough_for_the_largest_set(units):
    text = design_template(bodies="planets-pluto", units=units)
    framed, free = parse_design(text.replace("# frame = ", "frame = ")), parse_design(text)
    assert framed.fit.frame is not None
    assert solve(framed).solutions == solve(free).solutions


def test_inches_and_millimetres_have_the_same_proportions():
    mm, inches = (parse_design(design_template(units=units)).rings for units in ("mm", "in"))
    for name in ("addendum", "rim", "level_spacing"):
        one, other = (getattr(rings, name) / rings.pitch.value for rings in (mm, inches))
        assert float(one) == pytest.approx(float(other), rel=0.06)
    assert mm.inner_teeth == inches.inner_teeth and mm.tooth_step == inches.tooth_step


@pytest.mark.parametrize("units", ["mm", "in"])
def test_the_form_begins_with_the_same_values(units):
    text = design_template(units=units)
    for key in ("frame", "unevenness", "loop", "tooth", "pin", "jig_pin", "sheet", "directions"):
        assert f"\n# {key} = " in text
        text = text.replace(f"\n# {key} = ", f"\n{key} = ")
    data = data_of(text, "")

    def typed(value: object) -> str:
        return f"{value['min']} to {value['max']}" if isinstance(value, dict) else str(value)

    compared = 0
    begun = beginning("saturn", units)
    for path in form.FIELDS:
        table, *rest = path.split(".")
        value = data.get(table)
        for key in rest:
            value = value.get(key) if isinstance(value, dict) else None
        if value is not None and path not in ("title", "fit.frame.depth", "search.seed", "search.rank"):
            assert (begun[path] or form.FIELDS[path].usual) == typed(value), path
            compared += 1
    assert compared >= 26
