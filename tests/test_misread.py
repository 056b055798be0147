"""What is written otherwise than TOML has it gets a hint: how to write it. TOML v1.0.0 (toml.io) knows neither
fractions nor decimal commas, wants digits on both sides of a point, and true and false in small letters."""

from __future__ import annotations

import tomllib

import pytest
from test_broken_files import run

from solver.design.exact import NotExact, parse_exact
from solver.files.text import data_of
from solver.words.misread import hint_of_line, hint_of_number

LINES = {
    "a = 12,5": "decimals stand behind a point: 12.5",
    "a = {side = 12,5}": "decimals stand behind a point: 12.5",
    "a = 1.000,5": "decimals stand behind a point: 1000.5",
    "a = 1,000": "decimals stand behind a point: 1.000; thousands without a comma: 1000",
    "a = 3/32": 'a fraction is written as text, "3/32", or as 0.09375',
    "a = 1/3": 'a fraction is written as text, "1/3"',
    "a = 1 1/2": 'a fraction is written as text, "3/2", or as 1.5',
    'a = ["x", 3/4]': 'a fraction is written as text, "3/4", or as 0.75',
    'a = 14"': "a number stands without its unit: 14",
    "a = 12.5 mm": "a number stands without its unit: 12.5",
    "a = .5": "a digit stands on both sides of the point: 0.5",
    "a = 5.": "a digit stands on both sides of the point: 5.0",
    "a = True": "write true",
    "a = saturn": 'text stands in quotes: "saturn"',
    "a: 5": "write a = and then the value",
}


@pytest.mark.parametrize("line", LINES)
def test_a_line_that_is_no_toml_gets_its_hint(line):
    with pytest.raises(tomllib.TOMLDecodeError):
        tomllib.loads(line)
    with pytest.raises(ValueError, match="not valid TOML") as fault:
        data_of(f"[x]\n{line}\n", "f")
    assert str(fault.value).endswith(f"; {LINES[line]}")


def test_a_hint_is_what_the_reader_then_takes():
    for hint in LINES.values():
        last = hint.split(" ")[-1]
        assert last == "value" or tomllib.loads(f"a = {last}")


@pytest.mark.parametrize(
    ("text", "hint"),
    [("12,5", "decimals stand behind a point: 12.5"), ("1 1/2", 'a fraction is written as "3/2", or as 1.5'),
     ('14"', "a number stands without its unit: 14"), ("3/32 in", "a number stands without its unit: 3/32")],
)  # fmt: skip
def test_text_that_is_no_number_gets_one_too(text, hint):
    with pytest.raises(NotExact, match="^" + hint.replace(".", r"\.")):
        parse_exact(text)


@pytest.mark.parametrize("text", ["soon", "", "1,2,3", "a/b", "3/0", "12", "1.5", "0x5", "in", "1" * 200])
def test_where_the_meaning_is_not_known_nothing_is_hinted(text):
    assert hint_of_number(text) == ""


@pytest.mark.parametrize("line", ["", "[x", "a = 'x", "]", "a = [", "a = 5, b = 6", "= 3"])
def test_nor_in_a_line(line):
    assert hint_of_line(line, 1) == ""


def test_a_decimal_comma_behind_an_option(tmp_path, monkeypatch, capsys):
    code, _, err = run(monkeypatch, capsys, "prove", "x.toml", "--time", "2,5")
    assert code == 2 and err.rstrip().endswith("decimals stand behind a point: 2.5")
