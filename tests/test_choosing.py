"""What choosing is made of, without a browser: names in addresses, what designs ask for, words for limits."""

from __future__ import annotations

import tomllib

import pytest
from commands import CONFIGS

from solver.files.load import design_from_data
from solver.files.text import exact_float
from solver.search.why.knobs import knobs_of
from solver.service.jobs.explained import ToldExplanation
from solver.service.page.asked_for import asked_for, fields_that_differ
from solver.service.page.compared import chosen_names, names_of
from solver.service.page.explanation_page import remarks
from solver.words.limits import limit_words, with_unit

HALL = '[bodies]\nset = "saturn"\n[rings]\ninner_teeth = {min = 24, max = 30}\n'


def test_names_are_read_from_links_and_from_forms_once_each():
    items = [("by", "error"), ("a", " one.1"), ("compare", "p2.1"), ("compare", "two.p.1"), ("a", "one.1"), ("a", " ")]
    assert names_of(items) == ["one.1"]
    assert chosen_names("one", items) == ["one.p2.1", "two.p.1"]


def test_what_is_usual_is_not_told_as_a_difference():
    plain, said = asked_for(HALL), asked_for(HALL + "blanks = 0\n")
    assert fields_that_differ([plain, said]) == []
    more = asked_for(HALL.replace("max = 30", "max = 31") + "blanks = 2\n[fit]\nclearance = 2.5\n")
    assert fields_that_differ([said, more]) == [
        ("rings.inner_teeth", ("24 to 30", "24 to 31")), ("rings.blanks", ("0", "2")),
        ("fit.clearance", ("not said", "2.5")),
    ]  # fmt: skip
    assert fields_that_differ([plain, more])[1] == ("rings.blanks", ("not said", "2"))
    assert asked_for("[bodies]\nset = 3\n").said == {}


@pytest.mark.parametrize("name", ["saturn-hall", "jupiter-table", "saturn-stair-well"])
def test_there_are_words_for_every_limit_of_the_designs_that_ship(name):
    data = tomllib.loads((CONFIGS / f"{name}.toml").read_text(encoding="utf-8"), parse_float=exact_float)
    fields = [knob.field for knob in knobs_of(data, design_from_data(data, name), lambda *_: None)]
    assert [field for field in fields if not limit_words(field)] == []


def test_limits_of_own_bodies_name_them_and_lengths_have_units():
    assert limit_words("bodies.list[1].sense", ["A", "B"]) == "which way B goes round"
    assert limit_words("bodies.list[2].max_drift.degrees", []) == "degrees that body 3 may have drifted"
    assert limit_words("no.such") == ""
    assert with_unit("fit.clearance", "1.5", "in") == "1.5\u00a0in"
    assert with_unit("fit.plate", "none", "mm") == "none" and with_unit("rings.blanks", "2", "mm") == "2"


def told(**more: object) -> tuple[str, ...]:
    change = {"rule": "step", "field": "rings.blanks", "now": "0", "then": "1"}
    known = {
        "schema": "ringwright.explanation/1", "feasible": False, "termination": "proved", "left_open": [],
        "conflict": [{"rule": "step", "field": "rings.blanks", "now": "0", "needed": True}],
        "loosenings": [{"changes": [change], "least": True, "worst_error_pct": None}],
    }  # fmt: skip
    return remarks(ToldExplanation.model_validate(known | more))


def test_no_more_is_said_than_is_known():
    assert told() == ("Each is the least that will do; each was confirmed by solving the design with it.",)
    assert "struck first" in told(termination="time")[-1]
    assert told(loosenings=[]) == ("No one of these loosened is enough, and no few together were found to be.",)
    assert told(loosenings=[], conflict=[])[0].startswith("Nothing fits even with every limit loosened")
    unsure = [{"rule": "step", "field": "rings.blanks", "now": "0", "needed": False}]
    assert told(conflict=unsure)[0] == "Which of these limits could be left out was too much work to settle."
    assert told(feasible=True)[0].startswith("Something fits after all")
