"""What is kept of the enumeration is believed only where it is of this enumerator and this design."""

from __future__ import annotations

import ast
import json
from dataclasses import replace

import enumerated
import pytest
from commands import ROOT
from enumerated import KINDS, answer_of, kept


def test_the_enumerator_knows_plain_data_and_nothing_of_the_search():
    imported = {
        node.module
        for name in ("brute.py", "brute_places.py")
        for node in ast.walk(ast.parse((ROOT / "tests" / name).read_text(encoding="utf-8")))
        if isinstance(node, ast.ImportFrom) and node.module
    }
    ours = {name for name in imported if name.partition(".")[0] in ("solver", "constraints")}
    assert ours == {"solver.design.design", "solver.design.train"}


@pytest.mark.parametrize("file", ["trains", "places"])
def test_every_design_has_its_answer(file):
    there = json.loads((ROOT / "tests" / "expected" / f"{file}.json").read_text(encoding="utf-8"))
    kinds = {name: one for name, one in KINDS.items() if one.file == file}
    assert there.keys() == {"enumerator", *kinds}
    for name, one in kinds.items():
        assert [int(number) for number in there[name]] == [n for n in range(one.many) if one.design(n) is not None]


def test_what_another_enumerator_found_is_not_believed(monkeypatch):
    design = KINDS["ranked"].design(0)
    monkeypatch.setattr(enumerated, "enumerator", lambda file: "another")
    with pytest.raises(AssertionError, match=r"expected/trains.json is of another enumerator: run `make expected`"):
        kept("ranked", 0, design)


def test_what_was_found_for_another_design_is_not_believed():
    design = KINDS["ranked"].design(0)
    with pytest.raises(AssertionError, match="ranked 0 was another design once: run `make expected`"):
        kept("ranked", 0, replace(design, keep=design.keep + 1))


def test_a_tenth_is_enumerated_afresh(monkeypatch):
    asked = []
    monkeypatch.setattr(
        enumerated, "afresh", lambda kind, number: asked.append(number) or kept(kind, number, designs[number])
    )
    designs = {number: KINDS["ranked"].design(number) for number in range(30)}
    some = {number: design for number, design in designs.items() if design is not None}
    for told, due in (("none", set()), ("3", {3, 13, 23} & some.keys()), ("all", some.keys())):
        monkeypatch.setattr(enumerated, "fresh", told)
        asked.clear()
        for number, design in some.items():
            answer_of("ranked", number, design)
        assert set(asked) == due


def test_what_a_fresh_enumeration_says_otherwise_is_told(monkeypatch):
    monkeypatch.setattr(enumerated, "fresh", "all")
    monkeypatch.setattr(enumerated, "afresh", lambda kind, number: enumerated.Answer("another", 0))
    with pytest.raises(AssertionError, match="ranked 0: expected/ has another answer: run `make expected`"):
        answer_of("ranked", 0, KINDS["ranked"].design(0))
