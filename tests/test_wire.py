"""Wire: gauges against their published tables, weights, bends, and the table [wire] of the design file."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from fractions import Fraction

import jsonschema
import pytest
from pydantic import TypeAdapter

from solver import Design
from solver.design.design import Wire
from solver.design.errors import DesignError
from solver.design.gauges import SWG_MM, NoGauge, awg_mm, named_gauge, nearest_names
from solver.files.schema import DesignFile
from solver.forms.wire import bend_allowance, gauge_text, tube_grams, wire_grams
from solver.words.lengths import Lengths

SATURN = '[bodies]\nset = "saturn"\n'


def wire_of(text: str, units: str = "mm") -> Wire:
    return Design.parse(f'units = "{units}"\n{SATURN}[wire]\n{text}').wire


@pytest.mark.parametrize(
    ("gauge", "mm"),
    # ASTM B258, nominal diameters as the standard's table prints them in mils (memory): 4/0 460, 0 324.9, 10 101.9,
    # 14 64.1, 16 50.8, 18 40.3, 20 32.0, 24 20.1, 36 5.0.
    [
        ("AWG 4/0", 460.0), ("AWG 0", 324.9), ("AWG 10", 101.9), ("AWG 14", 64.1), ("AWG 16", 50.8), ("AWG 18", 40.3),
        ("AWG 20", 32.0), ("AWG 24", 20.1), ("AWG 36", 5.0),
    ],
)  # fmt: skip
def test_awg_is_as_in_the_standard(gauge: str, mm: float) -> None:
    assert named_gauge(gauge).mm == pytest.approx(mm * 0.0254, abs=0.06 * 0.0254)


def test_awg_is_defined_by_two_gauges_and_a_ratio() -> None:
    # ASTM B258: 36 is 0.0050 in, 4/0 is 0.4600 in, 39 equal ratios between them.
    assert awg_mm(36) == pytest.approx(0.005 * 25.4, rel=1e-12)
    assert awg_mm(-3) == pytest.approx(0.46 * 25.4, rel=1e-12)
    steps = [awg_mm(n) / awg_mm(n + 1) for n in range(-3, 40)]
    assert max(steps) - min(steps) < 1e-12
    assert named_gauge("awg 0000") == named_gauge("AWG 4/0")


@pytest.mark.parametrize(("gauge", "mm"), [("10", 3.251), ("12", 2.642), ("14", 2.032), ("16", 1.626)])
def test_swg_is_as_in_the_standard(gauge: str, mm: float) -> None:
    # BS 3737
    assert named_gauge(f"SWG {gauge}").mm == pytest.approx(mm, abs=0.0005)


def test_swg_gets_thinner_and_begins_at_half_an_inch() -> None:
    sizes = list(SWG_MM.values())
    assert all(thick > thin for thick, thin in zip(sizes, sizes[1:]))
    # BS 3737 (memory): 7/0 is 0.500 in, 1 is 0.300 in, 20 is 0.036 in, 40 is 0.0048 in.
    assert [SWG_MM[n] for n in ("7/0", "1", "20", "40")] == pytest.approx([12.7, 7.62, 0.9144, 0.12192])
    assert set(map(str, range(41))) < set(SWG_MM)


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
    plain = Design.parse(SATURN)
    assert plain.wire == Wire() and plain.wire.stock == (914, 1829)
    inches = wire_of('stock = [36, 72]\nloop = 0.064\npin = "swg 14"\nkerf = 0.04', "in")
    assert inches.stock == (Fraction("914.4"), Fraction("1828.8")) and inches.kerf == Fraction("1.016")
    assert inches.loop.mm == pytest.approx(1.6256) and inches.loop.name == ""
    assert (inches.pin.name, inches.pin.mm) == ("SWG 14", pytest.approx(2.032))


def test_wire_does_not_make_another_design() -> None:
    plain = Design.parse(SATURN)
    other = Design.parse(SATURN + '[wire]\nloop = "SWG 10"\nform = "saw"\n')
    assert other.wire != plain.wire
    assert other.sha256() == plain.sha256() and "wire" not in plain.canonical()


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
