"""The chapter "Weight and sag": masses by group, the centre of mass, what bends, what hangs on the wall."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from math import pi

import numpy as np
import pytest
from test_sag import POSTS, TWO, two

from solver import Design, Train, parse_design, solve
from solver.check.sag import bends
from solver.sheets.book.cautions import cautions_of
from solver.sheets.book.document import Paragraph, TextTable
from solver.sheets.book.weight import hanging_grams, weight
from solver.sheets.gears.bending import bending_of
from solver.sheets.gears.inventory import inventory
from solver.sheets.gears.masses import masses_of
from solver.words.lengths import Lengths

DRIVEN = """[drive]
motor_rpm = 4
pinion_teeth = {min = 10, max = 14}
third_gears = 1
"""


def _solved(text: str) -> tuple[Design, Train]:
    design = parse_design(text)
    return design, solve(design).trains(design)[0]


def _texts(plate: str) -> str:
    text = TWO.format(sag="sag = 5", plate=plate, model="wall", wire='third = "pins"')
    text = text.replace("[24, 30]", "[24, 33]")
    text = text.replace(
        "pinion_teeth = {min = 8, max = 14}", "pinion_teeth = {min = 8, max = 14}\nthird_gears = 1\n", 1
    )
    text = text.replace('name = "b"', 'name = "b"\nsense = "reverse"').replace(
        "clearance = 1\n", 'clearance = 1\nstands = "outer"\n'
    )
    return text.replace("side = 400", "side = 800") + DRIVEN + '[hardware]\nbearing = "plain"\n'


def _pieces(design: Design, train: Train):
    """Little pieces (grams, x, y, depth) of everything, by the shapes as they are drawn and lengths worked out here."""
    stock, at, count = inventory(design, train), train.placement, len(train.rings)
    space, fit = float(design.rings.level_spacing), design.fit
    density = float(design.wire.density) / 1000
    post = 2 * float(fit.post_radius)
    rod = pi / 4 * post**2 * density
    sleeve = pi / 4 * (stock.sizes.arbor_mm**2 - post**2) * density

    def depth(behind: float) -> float:
        """behind: mm from the middle of level 0 towards the outer rings."""
        return (count - 0.5) * space - behind if fit.plate == "outer" else behind + 0.5 * space

    def along(start: float, end: float, per_mm: float, spot):
        cuts = np.linspace(start, end, 2001)
        for middle in (cuts[1:] + cuts[:-1]) / 2:
            yield per_mm * (end - start) / 2000, spot[0] / 1000, spot[1] / 1000, depth(middle)

    def posted(low: int, high: int, ends, spot, link=None):
        """link: of a third gear, -1 of the motor or a roller; their stubs begin at the far side of their arm."""
        if fit.plate == "inner":
            yield from along(-space / 2, high * space + ends[1] + 2, rod, spot)
        elif fit.plate == "outer":
            yield from along(low * space - ends[0] - 2, (count - 0.5) * space, rod, spot)
        elif link is not None:
            gap = low - 1 if link == -1 else link  # bodies reach to the outer side
            way, arm = (1 if gap == low else -1), float(design.supports.arm_mm) / 2
            far, near = low * space + way * (space / 2 + arm), low * space - way * (ends[0] + 2)
            yield from along(*sorted((far, near)), rod, spot)
        else:
            yield from along(low * space - ends[0] - 2, high * space + ends[1] + 2, rod, spot)

    thick, spots = {}, {}
    for made, shape, grams in zip(stock.gears, stock.shapes, stock.gear_grams, strict=True):
        own = [(0, 0)] if made.part == "ring" else None
        place = at.drive.at if made.link == -1 else None if made.link is None else at.links[made.link]
        if own is None:
            taken = spots.setdefault(made.link, [])
            own = [place.arbor] if made.part != "third gear" else [place.thirds[len(taken)]]
            if made.part == "third gear":
                taken.append(own[0])
                level, half = made.gear.level, max(shape.thick_mm, stock.sizes.arbor_mm) / 2
                yield from posted(level, level, [half] * 2, own[0], made.link)
        thick[made.part, made.link] = max(shape.thick_mm, stock.sizes.arbor_mm)
        (x, y), radius = own[0], shape.pitch_radius_mm
        for turn in np.linspace(0, 2 * pi, 90, endpoint=False):
            away = x / 1000 + radius * np.cos(turn), y / 1000 + radius * np.sin(turn)
            yield grams / 90, *away, depth(made.gear.level * space)
        if made.part != "ring":
            long = max(shape.thick_mm, stock.sizes.arbor_mm)
            bore = {"motor pinion": 0.0, "third gear": post}.get(made.part, stock.sizes.arbor_mm)
            middle = made.gear.level * space
            hub = pi / 4 * (stock.sizes.hub_mm**2 - bore**2) * density
            yield from along(middle - long / 2, middle + long / 2, hub, own[0])
    for link, place in enumerate(at.links):
        ends = thick["wheel", link] / 2, thick["pinion", link] / 2
        yield from along(link * space - ends[0], (link + 1) * space + ends[1], sleeve, place.arbor)
        yield from posted(link, link + 1, ends, place.arbor)
    for ring, some in enumerate(at.rollers):
        wide = stock.fittings.groove.width_mm
        disc = pi / 4 * ((2 * float(fit.rollers.radius)) ** 2 - post**2) * density
        for roller in some:
            yield from along(ring * space - wide / 2, ring * space + wide / 2, disc, roller.spot)
            yield from posted(ring, ring, [wide / 2] * 2, roller.spot, -1)
    for body, ring in enumerate(train.seats):
        far = (count - 0.5) * space if fit.stands == "outer" else ring * space
        yield float(dict(design.weights).get(design.bodies[body].name, 20)), 0, 0, depth(far)
        yield from along(ring * space, far, rod, (0, 0))


@pytest.mark.deep
@pytest.mark.parametrize("plate", ["inner", "outer", "none"])
def test_the_centre_of_mass_is_that_of_all_little_pieces(plate):
    design, train = _solved(_texts("outer"))
    assert train.placement.drive is not None and any(link.thirds for link in train.links)
    design = replace(design, fit=replace(design.fit, plate=plate))  # what stands where stays
    grams, x, y, depth = np.array(list(_pieces(design, train)), float).T
    whole = masses_of(inventory(design, train)).whole
    assert whole.grams == pytest.approx(grams.sum(), rel=1e-9)
    for own, column in ((whole.x_mm, x), (whole.y_mm, y), (whole.depth_mm, depth)):
        assert own == pytest.approx((grams * column).sum() / grams.sum(), abs=1e-6)
    assert whole.from_axis_mm > 1


def test_groups_add_up_to_what_the_parts_list_weighs_and_the_bodies():
    design, train = _solved(TWO.format(sag="sag = 5", plate="outer", model="wall", wire=""))
    stock = inventory(design, train)
    masses = masses_of(stock)
    assert sum(mass.grams for mass, _ in masses.groups()) == pytest.approx(masses.whole.grams)
    assert masses.whole.grams == pytest.approx(stock.grams + 20 + 40)
    assert hanging_grams(stock) == pytest.approx(masses.whole.grams)
    # Both bodies on one side: 20 g at half a rim inside 24 teeth, 40 g at half a rim inside 30.
    radii = [12 * teeth / 2 / pi - 3 for teeth in (24, 30)]
    assert masses.shift_mm == pytest.approx((20 * radii[0] + 40 * radii[1]) / masses.whole.grams)


@pytest.mark.parametrize(
    "text", [TWO.format(sag="", plate="outer", model="wall", wire=""), POSTS.format(sag="sag = 9")]
)
def test_the_table_of_what_bends_is_the_judges(text):
    design, train = _solved(text)
    told = bending_of(inventory(design, train))
    own = [bend for _, _, bend in bends(design, train)]
    assert [one.bend_mm for one in (*told.posts, *told.rings)] == pytest.approx(own, rel=1e-9)
    assert told.judged and told.limit_mm == (4.5 / 4 if design.supports.sag_mm is None else 9)


def _told(design: Design, train: Train, lengths: Lengths) -> tuple[str, list[TextTable]]:
    blocks = list(weight(inventory(design, train), lengths))
    text = " ".join(block.text for block in blocks if isinstance(block, Paragraph))
    return text, [block for block in blocks if isinstance(block, TextTable)]


def test_the_chapter_names_the_worst_and_the_fixings():
    design, train = _solved(POSTS.format(sag="sag = 9"))
    text, tables = _told(design, train, Lengths("mm"))
    kg = hanging_grams(inventory(design, train)) / 1000
    bend = max(one for _, _, one in bends(design, train))
    assert f"Most bends: arbor of link 0, {bend:.3f}".rstrip("0") in text
    assert "20 g each unless the file says so in bodies.grams: here a." in text
    assert f"weighs {kg:.2f} kg" in text and "7 times all that hangs" in text
    assert [table.caption.split(",")[0] for table in tables] == ["Masses", "Posts"]
    assert "Without rollers, how rings are held is left to you" in text
    assert all(
        len(row) == len(table.heads) == len(table.align) for table in tables for row in (*table.rows, *table.totals)
    )
    both, more = _told(design, train, Lengths("in", True))
    assert "in)" not in both or "mm" in both
    assert all(len(row) == len(table.heads) for table in more for row in (*table.rows, *table.totals))


def test_without_supports_it_is_information_and_on_a_table_nothing_hangs():
    design, train = _solved(TWO.format(sag="sag = 5", plate="outer", model="wall", wire=""))
    text, tables = _told(replace(design, supports=None), train, Lengths("mm"))
    assert "on its rollers where these stand, down and its body where they are worst" in tables[-1].caption
    assert "rollers" in tables[-1].rows[0][0] and "the widest gap decides" in text
    assert "no table [supports]" in text and len(tables) == 3
    table = two("sag = 5", model="table")
    text, tables = _told(table, train, Lengths("mm"))
    assert "Posts stand upright" in text and "Fixings" not in text and "its body between two" in tables[-1].caption
    held = replace(design, fit=replace(design.fit, plate="none"))
    assert "as short as half a gap" in _told(held, train, Lengths("mm"))[0]


def test_cautions_name_the_factor_and_its_source():
    wall = next(one for one in cautions_of(2500, True) if one.topic == "Weight on a wall")
    assert "Weight on a wall" not in {one.topic for one in cautions_of(2500, True, hung=False)}
    assert "7 times" in wall.text and "rigging manual" in wall.source and "plasterboard" in wall.text


@pytest.mark.parametrize(
    ("grams", "told"),
    [
        ("grams = {c = 3}", "bodies.grams.c = 3: no such body; the bodies are a, b"),
        ("grams = {a = 0}", "bodies.grams.a = 0: must be greater than 0"),
    ],
)
def test_weights_of_bodies_that_are_refused(grams, told):
    text = TWO.format(sag="", plate="none", model="wall", wire="").replace("grams = {b = 40}", grams)
    with pytest.raises(ValueError) as fault:
        parse_design(text)
    assert told in str(fault.value)


def test_a_weight_is_said_once_and_counts_in_the_name():
    text = TWO.format(sag="", plate="none", model="wall", wire="")
    twice = text.replace('name = "b"', 'name = "b"\ngrams = 5')
    with pytest.raises(ValueError, match="says it too; write one"):
        parse_design(twice)
    beside = parse_design(twice.replace("grams = {b = 40}", ""))
    assert beside.weights == (("b", Fraction(5)),)
    assert beside.sha256() != parse_design(text).sha256()
    assert "weights" not in parse_design(text.replace("grams = {b = 40}", "")).canonical()
