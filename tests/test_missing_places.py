"""Where a train finds no places, what lacks room and how much, by plain trigonometry."""

from __future__ import annotations

from math import cos, radians, sqrt

import pytest
from armed import TEN, ten_links, ten_rings
from test_audit import command, link, parse_train

from solver.answer.audit import ring_report
from solver.answer.in_the_way import in_the_way

HEAD = "[rings]\nmodule = 2\naddendum = {addendum}\n[fit]\nclearance = 1\ndirections = {directions}\n{more}[train]\n"


def report(rings, links, directions="24", more="", addendum=0):
    text = HEAD.format(addendum=addendum, directions=directions, more=more) + f"rings = {rings}\n" + "".join(links)
    return ring_report(parse_train(text), place=True)


def test_a_link_that_reaches_out_of_a_round_frame_in_every_direction():
    """A module of 2 makes a tooth 1 mm of radius: the arbor stands 18 + 12 = 30 mm out, wheel 12 reaches to 42."""
    found = report([18, 24], [link(12, 6)], more='frame = {shape = "round", diameter = 80}\n')
    (short,) = found.audit.findings
    assert (short.rule, short.where) == ("frame", "link 0") and short.short_mm == pytest.approx(
        42 - (40 - 1), abs=0.002
    )
    assert short.text == "wheel to the frame: in none of the directions, the nearest being 0°"


def test_a_ring_that_is_larger_than_the_frame_whatever_the_links_are():
    found = report([18, 60], [link(50, 8)], more='frame = {shape = "round", diameter = 110}\n')
    assert ("frame", "ring 1", 6.0) in [(one.rule, one.where, one.short_mm) for one in found.audit.findings]


@pytest.mark.parametrize("turn", [10, 25, 40])
def test_two_neighbours_that_touch_in_all_of_the_few_directions(turn):
    """Arbors at 18 + 16 = 34 and 24 + 18 = 42 mm; pinion 10 and wheel 18 need 28 mm and 1 of clearance between them."""
    found = report([18, 24, 30], [link(16, 10), link(18, 12)], directions=f"[0, {turn}]")
    (short,) = found.audit.findings
    apart = sqrt(34**2 + 42**2 - 2 * 34 * 42 * cos(radians(turn)))
    assert (short.rule, short.where) == ("neighbour", "links 0 and 1")
    assert short.short_mm == pytest.approx(29 - apart, abs=0.002)
    assert f"0° for link 0 and {turn}° for the next" in short.text


def test_two_neighbours_that_touch_where_they_are_asked_to_stand():
    """The same gears, which have room wherever else they stand."""
    asked = "link = [{link = 0, direction = 0}, {link = 1, span = [15, 30]}]\n"
    links = [link(16, 10), link(18, 12)]
    assert report([18, 24, 30], links).places.found
    (short,) = report([18, 24, 30], links, more=asked).audit.findings
    apart = sqrt(34**2 + 42**2 - 2 * 34 * 42 * cos(radians(30)))
    assert (short.rule, short.where) == ("neighbour", "links 0 and 1")
    assert short.short_mm == pytest.approx(29 - apart, abs=0.002)
    assert "0° for link 0 and 30° for the next" in short.text


def test_a_link_that_has_room_only_in_what_is_kept_free():
    """In the corners of a square frame; beside them it reaches to 30 cos 15 + 12 mm of the 36 less 1."""
    frame = 'frame = {shape = "square", side = 72}\n'
    assert report([18, 24], [link(12, 6)], more=frame).places.found
    corners = "keep_free = [[30, 60], [120, 150], [210, 240], [300, 330]]\n"
    (short,) = report([18, 24], [link(12, 6)], more=frame + corners).audit.findings
    assert (short.rule, short.where) == ("frame", "link 0")
    assert short.short_mm == pytest.approx(30 * cos(radians(15)) + 12 - 35, abs=0.002)
    assert short.text.endswith("in none of the directions, the nearest being 15°")


def test_a_link_for_which_nothing_is_left_of_what_is_asked_for():
    more = "keep_free = [[0, 95]]\nlink = [{link = 1, span = [30, 90]}]\n"
    (none,) = report([18, 24, 30], [link(16, 10), link(18, 12)], more=more).audit.findings
    assert (none.rule, none.where, none.short_mm) == ("place", "link 1", None)
    assert none.text == "no direction is left to it by fit.link and fit.keep_free"
    assert none.hint == "allow more directions, or loosen what [fit] asks for"


def test_what_is_measured_has_places_once_so_much_more_room_is_given():
    first = report([18, 24], [link(12, 6)], more='frame = {shape = "square", side = 62}\n')
    (short,) = first.audit.findings
    side = 62 + 2 * (short.short_mm + 0.003)
    assert report([18, 24], [link(12, 6)], more=f'frame = {{shape = "square", side = {side:.4f}}}\n').places.found
    less = f'frame = {{shape = "square", side = {side - 0.02:.4f}}}\n'
    assert report([18, 24], [link(12, 6)], more=less).places.found is None


def test_nothing_is_named_where_places_are_found():
    found = report([18, 24, 30], [link(16, 10), link(18, 12)])
    assert found.places.found is not None and found.places.missing == ()
    assert found.audit.sound


def test_place_is_not_advised_where_it_was_given(tmp_path, monkeypatch, capsys):
    file = tmp_path / "train.toml"
    file.write_text(HEAD.format(addendum=0, directions=24, more="") + "rings = [18, 24]\n" + link(12, 7))
    code, out, _ = command(monkeypatch, capsys, file, "--place")
    assert code == 3 and "no places were looked for" in out and "--place" not in out
    assert "--place" in command(monkeypatch, capsys, file)[1]


def test_the_train_as_it_stands_is_not_compared_as_if_it_kept_the_rules(tmp_path, monkeypatch, capsys):
    file = tmp_path / "train.toml"
    frame = 'frame = {shape = "round", diameter = 82}\n'
    bodies = '[bodies]\n[[bodies.list]]\nname = "a"\nperiod = 1\n[[bodies.list]]\nname = "b"\nperiod = "2.6"\n'
    file.write_text(bodies + HEAD.format(addendum=0, directions=24, more=frame) + "rings = [18, 24]\n" + link(12, 6))
    code, out, _ = command(monkeypatch, capsys, file, "--place", "--best")
    assert code == 3 and "as it is, which breaks the rule frame: worst error" in out


# -- what else is in the way, where links have room --------------------------------------------------------------------

ROLLERS = "rollers = {{count = {}, radius = 4}}\n"
FRAME = 'frame = {shape = "round", diameter = 110}\n'
DRIVE = "[drive]\nmotor_rpm = 2\npinion_teeth = [{}]\n"


def the_way(more="", drive=""):
    """Three rings whose two links have places in every second direction: their gears reach to 52 mm."""
    text = HEAD.format(addendum=0, directions=24, more=more).replace("[train]\n", drive + "[train]\n")
    return ring_report(parse_train(text + "rings = [18, 24, 30]\n" + link(12, 6) + link(14, 8)), place=True)


def would_do(found, field):
    return int(found.hint.removeprefix(f"{field} = ").removesuffix(" would do"))


def test_rollers_that_are_too_many_are_told_with_how_many_would_do():
    (found,) = the_way(ROLLERS.format(24)).audit.findings
    assert (found.rule, found.where) == ("direction", "fit.rollers")
    assert found.text == "everything else has a place among 24 directions"
    most = would_do(found, "fit.rollers.count")
    assert the_way(ROLLERS.format(most)).places.found
    assert the_way(ROLLERS.format(most + 1)).places.found is None


def test_a_motor_that_has_no_room_is_told_with_what_it_lacks_and_a_pinion_that_would_do():
    """A pinion of 40 on ring 0 reaches to 18 + 2 * 40 mm of the 55 - 1 of a round frame, whatever its direction."""
    (found,) = the_way(FRAME, DRIVE.format(40)).audit.findings
    assert (found.rule, found.where) == ("direction", "drive")
    assert found.short_mm == pytest.approx(18 + 2 * 40 - 54, abs=0.002)
    assert found.text.startswith(
        "everything else has a place among 24 directions; motor pinion to the frame: with 40 teeth on ring 0 in none "
    )
    teeth = would_do(found, "drive.pinion_teeth")
    assert teeth == (54 - 18) // 2
    assert the_way(FRAME, DRIVE.format(teeth)).places.found
    assert the_way(FRAME, DRIVE.format(teeth + 1)).places.found is None


def test_two_that_are_both_in_the_way_are_told_both():
    both = the_way(FRAME + ROLLERS.format(24), DRIVE.format(40))
    rollers, drive = both.audit.findings
    assert both.places.found is None and rollers.where == "fit.rollers" and drive.where == "drive"
    assert rollers.text == "everything but fit.rollers and drive has a place among 24 directions"
    counts, teeth = would_do(rollers, "fit.rollers.count"), would_do(drive, "drive.pinion_teeth")
    assert the_way(FRAME + ROLLERS.format(counts)).places.found and the_way(FRAME, DRIVE.format(teeth)).places.found


@pytest.mark.slow
def test_arms_are_told_with_what_each_lacks_where_all_else_stands():
    """Arms so thick that nothing of it can be held; looked for as if that alone were in the way."""
    given = parse_train(TEN.format(spacing="0.75", model="wall").replace("0.15625", "0.3") + ten_links())
    placement = ten_rings()[1].placement
    found = in_the_way(given, lambda other: None if other.design.supports else placement, lambda: None)
    assert found and {one.rule for one in found} == {"arm"}
    assert all(
        one.short_mm > 0 and one.text.endswith("where everything else has a place among 180 directions")
        for one in found
    )
