"""The command `setting`: into the gears, from what the model shows, drift, meetings, a table of dates, the sheet."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest
from skies import HALL, apart
from test_broken_files import run

DATE = ("--date", "2026-12-24T18:00+01:00")


@pytest.fixture
def hall(tmp_path: Path) -> str:
    (tmp_path / "hall.toml").write_text(HALL)
    return str(tmp_path / "hall.toml")


def told(monkeypatch, capsys, *words: str) -> dict:
    code, out, err = run(monkeypatch, capsys, "setting", *words, "--json")
    assert code == 0, err
    return json.loads(out)


def test_the_gears_are_told_link_by_link(hall, monkeypatch, capsys):
    """What is left over follows from where a ring is turned to, by hand and by the gears behind it."""
    document = told(monkeypatch, capsys, hall, *DATE)
    assert [link["link"] for link in document["links"]] == list(range(len(document["links"])))
    bodies = {body["name"]: body for body in document["bodies"]}
    for link in document["links"]:
        turned = link["ring_turn_deg"] / link["step_deg"]
        assert abs(turned - round(turned)) < 1e-4  # steps of six decimals
        if link["ring"] in bodies:
            assert bodies[link["ring"]]["move_teeth"] == link["ring_teeth"]
    assert [entry["name"] for entry in document["drift"]] == list(bodies)
    code, out, err = run(monkeypatch, capsys, "setting", hall, *DATE)
    assert (code, err) == (0, "")
    table = out[out.index("Into the gears") :].split("\n\n")[1].splitlines()
    assert len(table) == 2 + len(document["links"])
    for line, link in zip(table[2:], document["links"]):
        assert line.split()[0] == str(link["link"]) and link["ring"] in line


def test_a_model_that_shows_the_date_is_left_as_it_is(hall, monkeypatch, capsys):
    document = told(monkeypatch, capsys, hall, *DATE, "--from", DATE[1])
    assert {body["move_teeth"] for body in document["bodies"]} == {0}
    assert {body["left_over_deg"] for body in document["bodies"]} == {0.0}
    assert all(link["wheel_teeth"] == link["ring_teeth"] == 0 for link in document["links"])
    taken = "the model is taken to show 2026-12-24 exactly: what teeth left over when it was set to that comes on top"
    assert taken in document["notes"]


def test_ring_0_may_stand_off_or_not_and_what_is_claimed_says_so(hall, monkeypatch, capsys):
    shared = told(monkeypatch, capsys, hall, *DATE)
    alone = told(monkeypatch, capsys, hall, *DATE, "--first-exact")
    left = told(monkeypatch, capsys, hall, *DATE, "--clamped", "Io")
    assert [one["by_teeth"]["ring_0"] for one in (shared, alone, left)] == ["off", "in", "left"]
    assert all(one["by_teeth"]["proven"] == "best" for one in (shared, alone, left))
    assert shared["by_teeth"]["worst_deg"] < alone["by_teeth"]["worst_deg"]
    assert shared["bodies"][0]["left_over_deg"] != 0 == alone["bodies"][0]["left_over_deg"]
    for document, where in (
        (shared, "ring 0 may stand off as well"),
        (alone, "with ring 0 in its place"),
        (left, "with ring 0 left where it stands"),
    ):
        offs = [abs(body["left_over_deg"]) for body in document["bodies"]]
        assert document["by_teeth"]["worst_deg"] == pytest.approx(max(offs), abs=1e-6)
        assert document["by_teeth"]["total_deg"] == pytest.approx(sum(offs), abs=1e-5)
        (claim,) = [note for note in document["notes"] if note.startswith("proven")]
        assert claim.startswith(f"proven ({where}): no way to mesh these gears leaves every body less than ")


def test_a_body_that_is_clamped_has_nothing_left_over(hall, monkeypatch, capsys):
    names = ["Io", "Europa", "Ganymede", "Callisto"]
    words = [word for name in names for word in ("--clamped", name)]
    document = told(monkeypatch, capsys, hall, *DATE, *words)
    assert all(body["left_over_deg"] == 0 and body["move_teeth"] == 0 for body in document["bodies"])


@pytest.mark.deep
def test_turns_of_the_crank_since_the_last_setting(monkeypatch, capsys):
    """Six turns of this crank are one of Callisto (its file), of 16.6890184 days: 31 days are 11.1 turns, and by the
    gears, whose Callisto is 1 % fast, 11.3."""
    table = str(Path(__file__).parent.parent / "runs/configs/jupiter-table.toml")
    document = told(monkeypatch, capsys, table, "--date", "2026-12-25", "--from", "2026-11-24")
    assert any("turn the crank 11.3 times for this date" in note for note in document["notes"])


def test_drift_and_meetings_are_printed_when_asked_for(hall, monkeypatch, capsys):
    code, out, err = run(monkeypatch, capsys, "setting", hall, *DATE)
    assert (code, err) == (0, "") and "Drift" not in out and "conjunctions" not in out
    code, out, err = run(monkeypatch, capsys, "setting", hall, *DATE, "--drift", "--meet", "Ganymede, Callisto")
    assert (code, err) == (0, "") and "set it again after" in out
    assert "Ganymede and Callisto: conjunctions seen from the centre, UTC" in out
    assert len(out[out.index("conjunctions seen") :].split("\n\n")[1].splitlines()) == 12


def test_where_sources_end_before_the_next_meeting_that_is_said(hall, monkeypatch, capsys):
    """Jupiter's moons are known up to the first of January 2200."""
    code, out, err = run(monkeypatch, capsys, "setting", hall, "--date", "2199-12-31", "--meet", "Io,Europa")
    assert (code, err) == (0, "")
    assert out.endswith("\nno conjunction of Io and Europa is known after this date: the sources end before\n")


def test_titles_are_not_broken_over_small_tables(monkeypatch, capsys, tmp_path):
    own = "".join(
        f'[[bodies.list]]\nname = "{name}"\nperiod = {period}\nlongitude = 0\nepoch = "2026-01-01"\n'
        for name, period in (("a", 10), ("b", 25))
    )
    (tmp_path / "own.toml").write_text(f'title = "Own"\n[bodies]\nunit = "days"\n{own}[fit]\ndirections = "none"\n')
    words = ("setting", str(tmp_path / "own.toml"), "--date", "2026-01-11", "--meet", "a,b")
    code, out, _ = run(monkeypatch, capsys, *words)
    assert code == 0 and "2026-01-11 00:00:00 UTC, which is 2026-01-11 00:01:09.184 TT\n\n body" in out
    assert "Into the gears; counterclockwise is positive\n\n link" in out
    assert "a and b: conjunctions seen from the centre, UTC\n\n true" in out and "\n\n\n" not in out
    assert "−0.00" not in out


def test_a_table_of_dates_is_csv(hall, monkeypatch, capsys):
    words = ("--table", "2027-01-01..2027-02-01", "--step", "10d")
    code, out, err = run(monkeypatch, capsys, "setting", hall, *words)
    assert (code, err) == (0, "")
    rows = list(csv.DictReader(io.StringIO(out)))
    assert [row["date"][:10] for row in rows] == ["2027-01-01", "2027-01-11", "2027-01-21", "2027-01-31"]
    first = told(monkeypatch, capsys, hall, "--date", "2027-01-01")
    for body in first["bodies"]:
        assert apart(float(rows[0][f"{body['name']} ring_deg"]), body["ring_angle_deg"]) < 1e-3


def test_the_sheet_is_a_folder_that_is_written_whole(hall, monkeypatch, capsys, tmp_path):
    words = (hall, *DATE, "--sheet", str(tmp_path / "set"))
    code, _, err = run(monkeypatch, capsys, "setting", *words)
    assert code == 0 and err == f"wrote 7 files to {tmp_path}/set; begin with {tmp_path}/set/setting.html\n"
    names = {path.name for path in (tmp_path / "set").iterdir()}
    assert names == {
        "dial.dxf", "dial.pdf", "dial.svg", "drift.svg", "pointers.csv", "setting.html", "setting.pdf"
    }  # fmt: skip
    code, out, err = run(monkeypatch, capsys, "setting", *words)
    assert (code, out) == (2, "") and "--sheet" in err and "--force" in err and err.count("\n") == 1
    assert run(monkeypatch, capsys, "setting", *words, "--force")[0] == 0


@pytest.mark.parametrize(
    ("words", "message"),
    [
        ((*DATE, "--from", "2026-02-30"), "date 2026-02-30: no such day: that month has no day 30"),
        ((*DATE, "--clamped", "Calisto"), 'Calisto is no body of this design; did you mean "Callisto"?'),
        ((*DATE, "--meet", "Io"), "--meet Io: give two bodies with a comma between, like Jupiter,Saturn"),
        ((*DATE, "--meet", "Io,Io"), "Io meets itself at all times: choose two bodies"),
        ((*DATE, "--meet", "Io,Moon"), "Moon is no body of this design; it has Io, Europa, Ganymede, Callisto"),
        ((*DATE, "--sheet", "x", "--paper", "a9"), "--paper a9: choose a4, letter, a3"),
        (("--table", "2027-01-01"), "table 2027-01-01: give two dates with two dots between, like "
         "2027-01-01..2028-01-01"),
        (("--table", "2027-01-01..2028-01-01", "--step", "0d"), "step 0d: give a number above 0 with its unit, like "
         "10d, 6h or 1y"),
        (("--table", "2027-01-01..2028-01-01", "--json"), "--table: prints its dates alone; leave --json out"),
        (("--table", "2027-01-01..2028-01-01", "--true"), "--table: prints its dates alone; leave --true out"),
        (("--table", "2027-01-01..2028-01-01", "--clamped", "Io"), "leave --clamped out"),
        ((*DATE, "--step", "10d"), "--step: is that of --table; give --table too, or leave it out"),
        ((*DATE, "--meet", "Io,Europa", "--json"), "--meet: prints a table, for which the JSON document has no place"),
        (("--table", "2150-01-01..2250-01-01", "--step", "1y"), "2200"),
    ],
)  # fmt: skip
def test_what_cannot_be_asked_is_said_in_a_line(words, message, hall, monkeypatch, capsys):
    code, out, err = run(monkeypatch, capsys, "setting", hall, *words)
    assert (code, out, err.count("\n")) == (2, "", 1) and message in err
