"""Wire: gauges, weights, bends, and the table [wire] of the design file."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from fractions import Fraction

import jsonschema
import pytest
from pydantic import TypeAdapter

from solver import parse_design
from solver.design.design import Wire
from solver.design.errors import DesignError
from solver.design.gauges import NoGauge, named_gauge, nearest_names
from solver.files.schema import DesignFile
from solver.forms import FORMS
from solver.forms.wire import bend_allowance, gauge_text, tube_grams, wire_grams
from solver.words.lengths import Lengths

SATURN = '[bodies]\nset = "saturn"\n'


def wire_of(text: str, units: str = "mm") -> Wire:
    return parse_design(f'units = "{units}"\n{SATURN}[wire]\n{text}').wire


@pytest.mark.parametrize("text", ["AWG 41", "AWG 5/0", "SWG 8/0", "SWG", "14", "AWG -1", "AWG 3.5", "BWG 12"])
def test_what_is_no_gauge_is_refused(text: str) -> None:
    with pytest.raises(NoGauge, match='AWG 4/0" to "AWG 40"'):
        named_gauge(text)


def test_brass_wire_weighs_what_handbooks_say() -> None:
    # A metre of 2 mm wire of brass, 8.43 to 8.53 g/cm3 (handbook range): 26.48 to 26.80 g.
    grams = wire_grams(1000, 2.0, float(Wire().density))
    assert 26.48 < grams < 26.80
    assert tube_grams(1000, 2.0, 1.0, 8.0) == pytest.approx(grams * 0.75 * 8 / 8.48)


def test_a_closed_bend_is_as_long_as_its_neutral_fibre() -> None:
    # A ring of 2 mm wire bent around 10 mm: the circle of its centre line, of its inside, of its outside.
    for neutral, diameter in ((0.5, 12.0), (0.0, 10.0), (1.0, 14.0)):
        assert bend_allowance(360, 5.0, 2.0, neutral) == pytest.approx(math.pi * diameter)


def test_gauges_are_told_in_the_reader_s_words() -> None:
    assert gauge_text(named_gauge("SWG 16"), Lengths("mm")).replace("\xa0", " ") == "SWG 16 (1.626 mm)"
    assert nearest_names(1.6) == ("AWG 14", "SWG 16")
    unnamed = gauge_text(replace(named_gauge("AWG 14"), name=""), Lengths("mm")).replace("\xa0", " ")
    assert unnamed == "1.628 mm (nearest AWG 14, SWG 16)"


def test_defaults_and_units() -> None:
    plain = parse_design(SATURN)
    assert plain.wire == Wire() and plain.wire.stock == (914, 1829)
    inches = wire_of('stock = [36, 72]\nloop = 0.064\npin = "swg 14"\nkerf = 0.04', "in")
    assert inches.stock == (Fraction("914.4"), Fraction("1828.8")) and inches.kerf == Fraction("1.016")
    assert inches.loop.mm == pytest.approx(1.6256) and inches.loop.name == ""
    assert (inches.pin.name, inches.pin.mm) == ("SWG 14", pytest.approx(2.032))


def test_wire_makes_another_design() -> None:
    plain, empty = parse_design(SATURN), parse_design(SATURN + "[wire]\n")
    other = parse_design(SATURN + '[wire]\nloop = "SWG 10"\nform = "saw"\n')
    assert other.wire != plain.wire == empty.wire and not plain.wired and empty.wired
    assert len({design.sha256() for design in (plain, empty, other)}) == 3
    assert "wire" not in plain.canonical() and "unevenness" not in plain.canonical()
    assert set(empty.canonical()) - set(plain.canonical()) == {"wire", "unevenness"}


def test_the_limit_of_unevenness_counts_where_there_is_wire() -> None:
    usual = parse_design(SATURN + "[wire]\n")
    same = parse_design(SATURN + "[fit]\nunevenness = 0.15\n[wire]\n")
    fine = parse_design(SATURN + "[fit]\nunevenness = '1/8'\n[wire]\n")
    assert usual.unevenness == Fraction(3, 20) and same == usual and same.sha256() == usual.sha256()
    assert fine.unevenness == Fraction(1, 8) and fine.sha256() != usual.sha256()
    assert usual.as_made and not parse_design(SATURN).as_made
    assert all(parse_design(SATURN + f'[wire]\nform = "{form}"\n').as_made for form in FORMS)
    assert not parse_design(SATURN + "[arbors]\nreverted = false\n[wire]\n").as_made


def test_a_field_that_its_form_has_no_use_for_is_refused() -> None:
    assert wire_of('form = "cycloidal"\nsheet = 1.5').sheet == Fraction("1.5")
    with pytest.raises(DesignError, match='gears of the form "cycloidal" are of plate'):
        wire_of('form = "cycloidal"\nstock = [914]')


def test_the_schema_knows_the_table() -> None:
    schema = TypeAdapter(DesignFile).json_schema()
    validator = jsonschema.Draft202012Validator(schema)
    good = {"bodies": {"set": "saturn"}, "wire": {"stock": [914, "1829"], "loop": "AWG 14", "tooth": 1.2}}
    validator.validate(json.loads(json.dumps(good)))
    for wrong in ({"stock": []}, {"loop": [1]}, {"spokes": 1}, {"wires": 3}):
        with pytest.raises(jsonschema.ValidationError):
            validator.validate({**good, "wire": wrong})
