"""The command `setting`: what it prints, of runs, files and points of sweeps; and what it refuses."""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path

import jsonschema
import pytest
from skies import HALL, SETS, apart, bodies
from test_broken_files import run

from solver import parse_design, solve
from solver.batch.sweep.run import load_sweep
from solver.sky.bodies import ring_angle, sky_of
from solver.sky.document import SettingDocument
from solver.sky.errors import SkyError
from solver.sky.moments import parse_moment
from solver.sky.placing import setting_at
from solver.sky.rates import model_rates

OWN = """
title = "Two of mine"
[bodies]
unit = "hours"
[[bodies.list]]
name = "near"
period = 24
longitude = 350
epoch = "2026-01-01T01:00+01:00"
[[bodies.list]]
name = "far"
period = 60
longitude = 10
epoch = 2026-01-01T00:00:00Z
[rings]
inner_teeth = 24
tooth_step = 6
[fit]
directions = "none"
"""
DATE = "2026-12-24T18:00+01:00"


@pytest.fixture
def hall(tmp_path: Path) -> Path:
    (tmp_path / "hall.toml").write_text(HALL)
    return tmp_path / "hall.toml"


def told(monkeypatch, capsys, *words: str) -> dict:
    code, out, err = run(monkeypatch, capsys, "setting", *words, "--json")
    assert code == 0, err
    return json.loads(out)


def test_the_document_says_where_each_body_stands(hall, monkeypatch, capsys):
    document = told(monkeypatch, capsys, str(hall), "--date", DATE)
    assert (document["schema"], document["title"], document["rank"]) == ("ringwright.setting/1", "Hall", 1)
    assert (document["date"], document["date_utc"]) == ("2026-12-24T17:01:09.184", "2026-12-24T17:00:00Z")
    assert (document["scale"], document["tt_minus_utc_s"]) == ("utc", 69.184)
    moons, moment = bodies("jupiter"), parse_moment(DATE)
    for entry in document["bodies"]:
        moon = moons[entry["name"]]
        assert apart(entry["mean_longitude_deg"], moon.mean(moment)) < 1e-6
        assert apart(entry["true_longitude_deg"], moon.true(moment)) < 1e-6
        assert entry["equation_deg"] == pytest.approx(entry["true_longitude_deg"] - entry["mean_longitude_deg"])
        assert apart(entry["ring_angle_deg"], 90 + entry["mean_longitude_deg"]) < 1e-5
        assert isinstance(entry["move_teeth"], int) and abs(entry["left_over_deg"]) <= 4
    jsonschema.validate(document, SettingDocument.model_json_schema(mode="serialization"))


def test_true_longitudes_move_the_rings_where_they_are_known(hall, monkeypatch, capsys):
    document = told(monkeypatch, capsys, str(hall), "--date", DATE, "--true")
    for entry in document["bodies"]:
        assert apart(entry["ring_angle_deg"], 90 + entry["true_longitude_deg"]) < 1e-5
    saturn = setting_at(parse_design('[bodies]\nset = "saturn"'), 1, parse_moment(DATE), "utc", True)
    for one in saturn.bodies:
        assert one.true_longitude_deg is None and apart(one.ring_angle_deg, 90 + one.mean_longitude_deg) < 1e-5
    assert "no true longitude of Mimas, Enceladus, Tethys, Dione, Rhea, Titan, Iapetus" in " ".join(saturn.notes)


def test_a_stored_run_is_set_as_its_file_is(hall, monkeypatch, capsys):
    monkeypatch.chdir(hall.parent)
    assert run(monkeypatch, capsys, "solve", str(hall))[0] == 0
    (folder,) = Path("runs/results").iterdir()
    stored = told(monkeypatch, capsys, str(folder), "--date", DATE, "--rank", "2")
    assert stored["rank"] == 2
    assert stored == {**told(monkeypatch, capsys, str(hall), "--date", DATE, "--rank", "2")}


@pytest.mark.slow
def test_a_point_of_a_sweep_is_named(hall, monkeypatch, capsys):
    monkeypatch.chdir(hall.parent)
    Path("sweep.toml").write_text('base = "hall.toml"\n[vary]\n"sky.zero_deg" = [0, 45]\n')
    code, _, err = run(monkeypatch, capsys, "sweep", "sweep.toml", "--workers", "1")
    assert code == 0, err
    (folder,) = Path("runs/results").iterdir()
    code, _, err = run(monkeypatch, capsys, "setting", str(folder), "--date", DATE)
    assert (code, err) == (2, f"{folder}: a sweep; choose one of its points with --point ID or --best N\n")
    points = [point["point_id"] for point in load_sweep(folder).points]
    zeros = {told(monkeypatch, capsys, str(folder), "--date", DATE, "--point", one)["zero_deg"] for one in points}
    assert zeros == {0.0, 45.0}


def test_the_table_is_calm_and_fits_80_columns(hall, monkeypatch, capsys):
    monkeypatch.setenv("COLUMNS", "80")
    code, out, err = run(monkeypatch, capsys, "setting", str(hall), "--date", DATE)
    assert (code, err) == (0, "")
    table = out.split("\n\n")[1].splitlines()
    heads = [head for head in table[0].strip().split("  ") if head]
    assert [head.strip() for head in heads] == ["body", "mean °", "true °", "true-mean °", "at most °", "ring at °"]
    assert max(map(len, table)) <= 80 and len(table) == 6
    assert table[2].split() == ["Io", "42.67", "43.15", "+0.48", "0.51", "132.67"]


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["--date", "3500-01-01"], "date 3500-01-01: the longitude of Io is known from 1800-01-01 to 2200-01-01 "
         "(L1.2 (Lainey, Duriez, Vienne), as in astronomy-engine)"),
        (["--date", "2026-02-30"], "date 2026-02-30: no such day: that month has no day 30"),
        (["--date", "2026-12-24T18:00+25:00"], "date 2026-12-24T18:00+25:00: must end with a zone like Z or +01:00, "
         "from -12:00 to +14:00, or with none"),
        (["--date", "2026-12-24T18:00Z", "--scale", "tt"], "date 2026-12-24T18:00Z: has a zone, and TT has none; leave "
         "it out, or use scale utc"),
        (["--date", DATE, "--scale", "ut"], "--scale ut: choose utc or tt"),
        (["--date", DATE, "--rank", "3"], "--rank 3: FILE has 2 solutions"),
        (["--date", DATE, "--point", "a"], "--point: chooses among the points of a sweep, and FILE is none"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_said_in_a_line(words, message, hall, monkeypatch, capsys):
    code, out, err = run(monkeypatch, capsys, "setting", str(hall), *words)
    assert (code, out, err) == (2, "", message.replace("FILE", str(hall)) + "\n")


def test_bodies_without_longitudes_are_named(hall, monkeypatch, capsys):
    own = HALL.replace('set = "jupiter"', "") + "".join(
        f'[[bodies.list]]\nname = "{name}"\nperiod = {period}\n' for name, period in (("Io", 1.769), ("x\x1b"[:1], 3.5))
    )
    hall.write_text(own)
    code, out, err = run(monkeypatch, capsys, "setting", str(hall), "--date", DATE)
    told = "no longitude is known of Io, x: give each its longitude at an epoch in [[bodies.list]], or use a set\n"
    assert (code, out, err) == (2, "", told)


def test_without_the_extra_it_says_what_to_install(hall, monkeypatch, capsys):
    monkeypatch.setattr("solver.sky.extra.find_spec", lambda library: None)
    told = "pyerfa is not installed; the sky needs it: pip install 'ringwright[sky]'\n"
    assert run(monkeypatch, capsys, "setting", str(hall)) == (2, "", told)


def test_a_file_for_which_nothing_fits_says_so(hall, monkeypatch, capsys):
    hall.write_text(HALL + "max_error_pct = 0\n")
    code, out, err = run(monkeypatch, capsys, "setting", str(hall), "--date", DATE)
    assert (code, out) == (3, "") and "proven that nothing fits" in err


# -- the design file ---------------------------------------------------------------------------------------------------


def test_own_bodies_go_on_from_their_epoch_by_their_period():
    near, far = sky_of(parse_design(OWN))
    assert (near.rate, far.rate) == (360, 144)
    six = parse_moment("2026-01-01T06:00Z")
    assert near.mean(six) == pytest.approx(80) and far.mean(six) == pytest.approx(46)
    assert near.true(six) is None and near.true_within is None
    document = setting_at(parse_design(OWN), 1, six, "utc", True)
    assert "longitudes are counted in the plane that the file means; zero is the file's own" in document.notes
    assert "no true longitude of near, far: the file says a mean longitude alone; set by the mean one" in document.notes
    years = OWN.replace("hours", "years").replace("period = 24", "period = 1").replace("period = 60", "period = 2")
    assert [body.rate for body in sky_of(parse_design(years))] == [Fraction(480, 487) * 1, Fraction(240, 487)]


def test_own_bodies_stand_beside_those_of_a_set():
    text = HALL + '[[bodies.list]]\nname = "Moonlet"\nperiod = 20\nlongitude = 5\nepoch = "2026-01-01"\n'
    *_, moonlet = sky_of(parse_design(text))
    assert moonlet.name == "Moonlet" and moonlet.mean(parse_moment("2026-01-11")) == pytest.approx(185)


@pytest.mark.parametrize(
    ("body_set", "zero", "seen_from", "sense"),
    [("jupiter", 90, "north", 1), ("jupiter", 0, "south", -1), ("uranus", 90, "north", -1), ("uranus", 30, "south", 1)],
)
def test_a_ring_stands_as_the_maker_hangs_it(body_set, zero, seen_from, sense):
    """Counterclockwise where the viewer sees bodies run so; those of Uranus run clockwise seen from the ecliptic's
    north."""
    design = parse_design(f'[bodies]\nset = "{body_set}"\n[sky]\nzero_deg = {zero}\nseen_from = "{seen_from}"\n')
    body = sky_of(design)[0]
    for longitude in (0.0, 12.5, 200.0, 359.999):
        angle = ring_angle(design, body, longitude)
        assert 0 <= angle < 360 and apart(angle, zero + sense * longitude) < 1e-9


def test_a_file_that_says_nothing_of_the_sky_keeps_its_hash():
    """Of a design of before there was a sky."""
    plain = parse_design('title = "Hall"\n[bodies]\nset = "jupiter"\n')
    assert {"hang", "unit", "starts", "set_name"}.isdisjoint(plain.canonical())
    hung = parse_design('title = "Hall"\n[bodies]\nset = "jupiter"\n[sky]\n')
    assert hung.sha256() != plain.sha256() and plain.sky == hung.sky
    periods = {"Io": "1.769137786", "Europa": "3.551181041", "Ganymede": "7.15455296", "Callisto": "16.6890184"}
    listed = "".join(f'[[bodies.list]]\nname = "{name}"\nperiod = "{period}"\n' for name, period in periods.items())
    assert parse_design(f'title = "Hall"\n{listed}').sha256() == plain.sha256()


def test_rings_turn_at_their_exact_rates():
    """From the teeth: ring 0 turns with the first body, each other one slower by its ratio."""
    design = parse_design(HALL)
    (first, *_) = solve(design).solutions
    rates = model_rates(design, first)
    assert rates[0] == 360 / Fraction("1.769137786")
    for index, link in enumerate(first.links):
        inner, outer = first.rings[index].teeth, first.rings[index + 1].teeth
        assert rates[index + 1] == rates[index] * Fraction(inner * link.pinion, outer * link.wheel)
    with pytest.raises(SkyError, match=r"the unit of the periods is not known: say bodies.unit"):
        unknown = HALL.replace('set = "jupiter"', "") + "".join(
            f'[[bodies.list]]\nname = "{ring.name}"\nperiod = {2**n}\n' for n, ring in enumerate(first.rings[:2])
        )
        model_rates(parse_design(unknown), first)


# -- what is noted -----------------------------------------------------------------------------------------------------

NOTES = {
    "jupiter": ["TT less UTC is 69.184 s", "in 12 hours Io goes on by 102 degrees", "39 minutes", "Io 5.5 degrees back",
                "zero is its node on the equator of J2000"],
    "saturn": ["Mimas by 87 degrees within 50 years", "Tethys by 4.1 degrees", "77 minutes", "Mimas 20.4 degrees back"],
    "planets": ["0.377 degrees more", "up to 23.9 degrees from the true one (Mercury)", "the equinox of J2000"],
    "uranus": ["run clockwise", "light from Uranus"],
    "moon-months": ["the mean perigee of its orbit", "0.377 degrees more"],
    "planets-ceres": ["no true longitude of Ceres"],
    "trappist-1": ["between their star and us (transit)"],
}  # fmt: skip


@pytest.mark.parametrize("name", NOTES)
def test_what_is_to_be_known_is_noted(name):
    """At 2026-12-24: light takes 39 minutes from Jupiter and 77 from Saturn, and the equinox has gone by 0.377 degrees
    (ERFA)."""
    document = setting_at(parse_design(f'[bodies]\nset = "{name}"'), 1, parse_moment("2026-12-24T17:00Z"), "utc", False)
    for words in NOTES[name]:
        assert words in "\n".join(document.notes), words


@pytest.mark.parametrize("name", SETS)
def test_every_set_has_longitudes_with_their_source(name):
    for body in bodies(name).values():
        assert body.source and body.plane and body.zero and body.covers[0] < body.covers[1]
        assert (body.true_within is None) == bool(body.no_truth)


def test_before_1960_there_is_no_utc():
    document = setting_at(parse_design('[bodies]\nset = "planets"'), 1, parse_moment("1910-05-19"), "utc", False)
    assert document.notes[0].startswith("TT less UT1 is 10.")
