"""Bought parts against the tables that they are taken from, written out here a second time.

Bearings: bearing makers' catalogues. Metric screws: ISO 273, 7046-1, 7045, 10642, 7089, 4032 as open fastener tables
quote them. Inch screws: ASME B18.2.8 (Machinery's Handbook 31, pp. 1741-1743), B18.6.3, B18.21.1; nuts and the normal
drill in inches from memory. Dimensions come from tables that quote the standards, not from the standards' own text.
"""

from __future__ import annotations

import pytest

from solver.sheets.hardware.registry import RegistryFault, bearings, read_bearings, read_screws, screws

# name: bore, outside, open width, shielded width, flanged name, flange, its thickness open, shielded; None: not known.
BEARINGS = """
623   3     10     4     4     F623  11.5   1     1
624   4     13     5     5     F624  15     1     1
625   5     16     5     5     F625  18     1     1
626   6     19     6     6     F626  22     1.5   1.5
608   8     22     7     7     F608  25     1.5   1.5
MR63  3     6      2     2.5   MF63  7.2    0.6   0.6
MR83  3     8      2.5   3     MF83  9.2    0.6   -
MR84  4     8      2     3     MF84  9.2    0.6   0.6
MR105 5     10     3     4     MF105 11.6   0.6   0.8
R144  3.175 6.350  2.380 2.779 FR144 7.518  0.584 0.787
R2    3.175 9.525  3.967 3.967 FR2   11.176 0.762 0.762
R3    4.762 12.700 3.967 4.978 FR3   14.351 1.067 1.067
R188  6.350 12.700 3.175 4.762 FR188 13.894 0.584 1.143
R4    6.350 15.875 4.978 4.978 FR4   17.526 1.067 -
"""
INCHES = {  # bore, outside, width in fractions of an inch, as the trade calls these sizes
    "R144": (1 / 8, 1 / 4, 3 / 32),
    "R2": (1 / 8, 3 / 8, 5 / 32),
    "R3": (3 / 16, 1 / 2, 5 / 32),
    "R188": (1 / 4, 1 / 2, 1 / 8),
    "R4": (1 / 4, 5 / 8, 0.196),
}
# M: holes fine, medium, coarse; ISO 7046 dk, k, theoretical; 10642 dk, k; 7045 dk, k; washer d1, d2, h; nut s, m.
METRIC = """
2   2.2 2.4 2.6   3.8 1.2  4.4    4.09 1.24   4   1.6   2.2 5  0.3   4   1.6
2.5 2.7 2.9 3.1   4.7 1.5  5.5    5.08 1.55   5   2.1   2.7 6  0.5   5   2
3   3.2 3.4 3.6   5.5 1.65 6.3    6.72 1.86   5.6 2.4   3.2 7  0.5   5.5 2.4
4   4.3 4.5 4.8   8.4 2.7  9.4    8.96 2.48   8   3.1   4.3 9  0.8   7   3.2
5   5.3 5.5 5.8   9.3 2.7  10.4   11.2 3.1    9.5 3.7   5.3 10 1     8   4.7
"""
# Inches: major; normal hole, loose least and greatest; flat A max, min, H; pan A, H, recessed H; washer; nut.
INCH = """
#2-56 .086  .1015 .116 .126   .162 .144 .051   .167 .053 .062   .094 .188 .025   .1875 .0625
#4-40 .112  .1285 .144 .156   .212 .191 .067   .219 .068 .080   .125 .250 .032   .25   .09375
#6-32 .138  .1695 .185 .197   .262 .238 .083   .270 .082 .097   .156 .312 .032   .3125 .109375
"""


def rows(table: str) -> list[tuple[str, list[float | None]]]:
    found = []
    for line in table.strip().splitlines():
        name, *cells = line.split()
        found.append((name, [None if cell == "-" else float(cell) for cell in cells if cell[0] not in "FM"]))
    return found


def test_every_bearing_is_as_the_catalogues_have_it() -> None:
    names = set()
    for (name, cells), line in zip(rows(BEARINGS), BEARINGS.strip().splitlines(), strict=True):
        bore, outside, width, shielded, flange, thick, thick_shielded = cells
        own = line.split()[5]
        opened = shielded if own == "FR3" else width  # .196 wide open and shielded, as the stock list says
        wanted = {
            name: (bore, outside, width, 0, 0, False),
            f"{name}ZZ": (bore, outside, shielded, 0, 0, True),
            own: (bore, outside, opened, flange, thick, False),
        }
        if thick_shielded is not None:
            wanted[f"{own}ZZ"] = (bore, outside, shielded, flange, thick_shielded, True)
        for key, sizes in wanted.items():
            one = bearings()[key]
            assert (one.bore, one.outside, one.width, one.flange, one.flange_thick, one.shielded) == sizes, key
            assert one.source
        names |= set(wanted)
    assert names == set(bearings())


@pytest.mark.parametrize("name", INCHES)
def test_inch_bearings_are_fractions_of_an_inch(name: str) -> None:
    one = bearings()[name]
    for mm, inches in zip((one.bore, one.outside, one.width), INCHES[name], strict=True):
        assert mm == pytest.approx(25.4 * inches, abs=0.002)


@pytest.mark.parametrize("name, cells", rows(METRIC))
def test_every_metric_screw_is_as_the_tables_have_it(name: str, cells: list[float]) -> None:
    one = screws()[f"M{name}"]
    csk, socket, pan = (one.head(kind) for kind in ("countersunk", "socket countersunk", "pan"))
    assert one.major == float(name) and one.clearance == cells[1]
    assert [
        *one.holes,
        *(csk.diameter, csk.height, csk.theoretical),
        *(socket.diameter, socket.height, pan.diameter, pan.height),
        *(one.washer.inside, one.washer.outside, one.washer.thick, one.nut.across_flats, one.nut.height),
    ] == cells
    assert (csk.angle, socket.angle, pan.angle) == (90, 90, 0)
    standards = {head.standard for head in one.heads}
    assert standards == {"ISO 7046", "ISO 10642", "ISO 7045"} and all(head.source for head in one.heads)


@pytest.mark.parametrize("name, cells", rows(INCH))
def test_every_inch_screw_is_as_the_tables_have_it(name: str, cells: list[float]) -> None:
    one = screws()[name]
    flat, pan, recessed = (one.head(kind) for kind in ("countersunk", "pan", "recessed pan"))
    told = [
        *(one.major, *one.holes, flat.diameter, flat.least, flat.height),
        *(pan.diameter, pan.height, recessed.height, one.washer.inside, one.washer.outside, one.washer.thick),
        *(one.nut.across_flats, one.nut.height),
    ]
    assert told == pytest.approx([25.4 * cell for cell in cells], abs=1e-9)
    assert one.clearance == pytest.approx(25.4 * cells[1]) and flat.angle == 82
    assert recessed.diameter == pan.diameter


def test_the_drills_of_the_handbook_in_millimetres() -> None:
    """Machinery's Handbook 31: major diameters and normal clearance drills #38, #30, #18 in mm."""
    table = {"#2-56": (2.184, 2.578), "#4-40": (2.845, 3.264), "#6-32": (3.505, 4.305)}
    for name, (major, drill) in table.items():
        assert (screws()[name].major, screws()[name].clearance) == pytest.approx((major, drill), abs=6e-4)
    assert set(screws()) == {*(f"M{name}" for name, _ in rows(METRIC)), *(name for name, _ in rows(INCH))}


GOOD = """
[sources]
a = "a catalogue"
[[bearing]]
name = "X"
sizes = [3, 6, 2]
shielded_width = 2.5
flanged = {name = "FX", flange = 7, thick = 0.5}
source = "a"
"""
BROKEN = {
    "sizes = [3, 6, 2]|sizes = [6, 6, 2]": "bearing X: its bore must be less than its outside",
    "sizes = [3, 6, 2]|sizes = [3, 6]": "bearing X: sizes must be 3 lengths",
    "sizes = [3, 6, 2]|sizes = [3, 6, 0]": "bearing X: sizes must be a length greater than 0",
    "flange = 7|flange = 5": "bearing FX: its flange must be larger than its outside",
    "thick = 0.5|thick = 2": "bearing FX: its flange must be thinner than it is wide",
    "shielded_width = 2.5|shielded_width = 1": "bearing X: shields make it narrower",
    'source = "a"|source = "b"': "sources: b is missing",
    'source = "a"|sauce = "a"': "bearing X: unknown key sauce",
    'name = "FX"|name = "X"': "bearing X: is listed twice",
}


@pytest.mark.parametrize("change", BROKEN)
def test_what_cannot_be_a_bearing_is_refused(change: str) -> None:
    assert set(read_bearings(GOOD)) == {"X", "XZZ", "FX"}
    old, new = change.split("|")
    with pytest.raises(RegistryFault) as fault:
        read_bearings(GOOD.replace(old, new))
    assert str(fault.value) == BROKEN[change]


SCREW = """
unit = "mm"
[sources]
hole = "h"
nut = "n"
washer = "w"
pan = "p"
[[screw]]
name = "Y"
major = 2
holes = [2.2, 2.4, 2.6]
nut = [4, 1.6]
washer = [2.2, 5, 0.3]
heads = [{kind = "pan", standard = "S", sizes = [4, 1.6], source = "pan"}]
"""
BROKEN_SCREWS = {
    "holes = [2.2, 2.4, 2.6]|holes = [2.2, 2.1, 2.6]": "screw Y: holes must grow, and be larger than the screw",
    "washer = [2.2, 5, 0.3]|washer = [1.9, 5, 0.3]": "screw Y: its washer does not go over it",
    "nut = [4, 1.6]|nut = [2, 1.6]": "screw Y: its nut is smaller than the screw",
    "sizes = [4, 1.6]|sizes = [2, 1.6]": "screw Y: its head, pan, cannot be so large",
    'unit = "mm"|unit = "cm"': "unit: cm is none; the units are mm, in",
    'nut = "n"|nut = ""': "sources: nut is missing",
}


@pytest.mark.parametrize("change", BROKEN_SCREWS)
def test_what_cannot_be_a_screw_is_refused(change: str) -> None:
    assert set(read_screws(SCREW)) == {"Y"}
    old, new = change.split("|")
    with pytest.raises(RegistryFault) as fault:
        read_screws(SCREW.replace(old, new))
    assert str(fault.value) == BROKEN_SCREWS[change]
