"""The tables [hardware] and [bench] of the design file: what they mean, what is refused, and that answers stay."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from solver import Design, parse_design
from solver.design.errors import DesignError
from solver.design.hardware import Bench, LabelPlate, OwnBearing

BASE = '[bodies]\nset = "saturn"\nonly = ["Mimas", "Titan"]\n'


def design(text: str, base: str = BASE) -> Design:
    return parse_design(base + text)


def test_own_sizes_are_lengths_of_the_file_in_mm() -> None:
    text = """[hardware]
bearing = {bore = 0.2, outside = 0.4, width = 0.125}
roller = {groove_width = 0.1}
spare_pct = 5
body_scale = 0.2
bodies = {Titan = {km = 5150}, Mimas = {diameter = 0.25}}
label = {width = 4, height = 1, text = "Saturn"}
currency = "EUR"
prices = {screw = "0.05", bearing = 1.5}
"""
    found = design(text, 'units = "in"\n[fit]\npost_radius = 0.1\n' + BASE).hardware
    assert found is not None
    inch = Fraction(254, 10)
    assert found.bearing == OwnBearing(inch / 5, inch * 2 / 5, inch / 8)
    assert found.roller.groove_width == inch / 10 and found.roller.flange is None
    assert found.spare == Fraction(1, 20)
    assert dict(found.bodies) == {"Mimas": inch / 4, "Titan": Fraction(5150, 1000) * inch / 5}
    assert found.label == LabelPlate(4 * inch, inch, "Saturn")
    assert dict(found.prices) == {"screw": Fraction(1, 20), "bearing": Fraction(3, 2)}


def test_a_bearing_and_a_screw_by_name_and_own_rates() -> None:
    found = design('[hardware]\nbearing = "MR84ZZ"\nscrew = "M2"\n[bench]\njoints_per_hour = 4\nrest_pct = 20\n')
    assert found.hardware is not None and (found.hardware.bearing, found.hardware.screw) == ("MR84ZZ", "M2")
    assert found.bench == replace(Bench(), joints=Fraction(4), rest=Fraction(1, 5))


def test_the_hash_knows_the_tables_where_they_are_and_stays_where_they_are_not() -> None:
    plain, sold = design(""), design("[hardware]\nspare_pct = 10\n")
    assert plain.hardware is None and "hardware" not in plain.canonical() and "bench" not in plain.canonical()
    assert sold.canonical().keys() - plain.canonical().keys() == {"hardware"}
    assert replace(sold, hardware=None).sha256() == plain.sha256() != sold.sha256()


BROKEN = {
    'bearing = "MR48"': 'hardware.bearing = "MR48": no such bearing; did you mean "MR84"?',
    'bearing = "MR63"': 'hardware.bearing = "MR63": has a bore of 3 mm; posts are 4 thick: set fit.post_radius = 1.5',
    "bearing = {bore = 4}": 'hardware.bearing: must be a name, "MR84ZZ" say, or have bore, outside and width',
    "bearing = {bore = 4, outside = 3, width = 2}": "hardware.bearing.outside = 3: must be greater than its bore, 4",
    "bearing = {bor = 4}": 'hardware.bearing.bor: unknown key; did you mean "bore"?',
    "bearing = 4": "hardware.bearing = 4: must be a table",
    "bearing = {bore = 4, outside = 8, width = 2, flange = 8}": "hardware.bearing.flange = 8: must be greater than"
    " its outside, 8",
    'screw = "M7"': 'hardware.screw = "M7": no such screw; the screws are M2, M2.5, M3, M4, M5, #2-56, #4-40, #6-32',
    "roller = {groove_width = 1.7}": "hardware.roller.groove_width = 1.7: must be at least 1.728, for a ring 1.628"
    " thick to run in it",
    "roller = {groove_depth = 0.5}": "hardware.roller.groove_depth = 0.5: must be greater than 0.8139: flanges stand"
    " higher than half of what runs between them",
    "prices = {bearings = 2}": 'hardware.prices.bearings: has no price here; did you mean "bearing"?',
    "prices = {bearing = -2}": "hardware.prices.bearing = -2: must be greater than 0",
    "bodies = {Titam = {diameter = 8}}": 'hardware.bodies.Titam: no such body; did you mean "Titan"?',
    "bodies = {Titan = {diametre = 8}}": 'hardware.bodies.Titan.diametre: unknown key; did you mean "diameter"?',
    "bodies = {Titan = {}}": "hardware.bodies.Titan: must have a diameter or km, and not both",
    "bodies = {Titan = {km = 5150}}": "hardware.bodies.Titan.km = 5150: needs hardware.body_scale, the length of"
    " 1000 km",
    "body_scale = 2": "hardware.body_scale = 2: is of no use: no body in hardware.bodies has km",
    "label = {width = 4}": "hardware.label.height: is missing",
    "spare_pct = -1": "hardware.spare_pct = -1: must be a percentage from 0 to 1000",
}


@pytest.mark.parametrize("text", BROKEN)
def test_what_cannot_be_bought_is_refused(text: str) -> None:
    with pytest.raises(DesignError) as fault:
        design(f"[hardware]\n{text}\n")
    assert str(fault.value) == f"design: {BROKEN[text]}"
