"""What the form's fields mean in a file, and that no file loses anything on its way through the form."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Any

import httpx
import pytest
from commands import ROOT
from filled_forms import Forms, sent
from random_designs import random_design, random_placed_design
from serving import in_thread, submitted

from solver import parse_design
from solver.batch.sweep.file import sweep_of
from solver.design.errors import DesignError
from solver.files.body_sets import body_sets
from solver.files.template import design_template
from solver.files.text import data_of
from solver.service.jobs.jobs import Jobs
from solver.service.page.form_faults import faults_of
from solver.service.page.form_file import file_text, typed_from
from solver.service.page.form_start import beginning, begun_anew
from solver.service.page.form_values import (
    DRAWER,
    FLAG,
    GAUGE,
    KEYS,
    NUMBER,
    NUMBERS,
    SECTORS,
    SPAN,
    TEXT,
    Unread,
    read,
    said,
)
from solver.service.page.toml_text import toml_text

CONFIGS = sorted(path for path in (ROOT / "runs" / "configs").glob("*.toml") if not path.name.startswith("audit-"))
DESIGNS = [path for path in CONFIGS if not path.name.startswith("sweep-")]
SWEEPS = [path for path in CONFIGS if path.name.startswith("sweep-")]


# -- values ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("kind", "typed", "value"),
    [
        (NUMBER, "12", 12), (NUMBER, " 4.50 ", Decimal("4.50")), (NUMBER, "", None), (NUMBER, "64/9", "64/9"),
        (NUMBER, "4,5", Decimal("4.5")), (NUMBER, "-0,125", Decimal("-0.125")), (NUMBER, "twelve", "twelve"),
        (SPAN, "24", 24), (SPAN, "18, 24", [18, 24]), (SPAN, "18 to 60 step 6", {"min": 18, "max": 60, "step": 6}),
        (SPAN, "18-24", {"min": 18, "max": 24}), (SPAN, "18 – 24", {"min": 18, "max": 24}), (SPAN, "18;24", [18, 24]),
        (NUMBERS, "2", 2), (NUMBERS, "2, 5", [2, 5]), (NUMBERS, "2,5; 5", [Decimal("2.5"), 5]),
        (GAUGE, "AWG 14", "AWG 14"), (GAUGE, "1,63", Decimal("1.63")), (GAUGE, "none", "none"),
        (FLAG, "true", True), (FLAG, "false", False), (FLAG, "", None), (KEYS, "error, parts", ["error", "parts"]),
        (TEXT, "Saturn, 12", "Saturn, 12"), (SECTORS, "250 to 290", [[250, 290]]), (SECTORS, "-10–10", [[-10, 10]]),
        (SECTORS, "350 to 370; 12,5 to 40.25", [[350, 370], [Decimal("12.5"), Decimal("40.25")]]),
        (SECTORS, "10 to 20, 30..40", [[10, 20], [30, 40]]), (DRAWER, "12", [{"teeth": 12}]),
        (DRAWER, "3 of 12, 16", [{"teeth": 12, "count": 3}, {"teeth": 16}]),
        (DRAWER, "3 of 12;2of 8", [{"teeth": 12, "count": 3}, {"teeth": 8, "count": 2}]),
    ],
)  # fmt: skip
def test_what_is_typed_is_that_value_and_comes_back(kind: str, typed: str, value: Any) -> None:
    assert read(kind, typed) == value
    if value is not None and typed != "twelve":
        assert read(kind, said(kind, value) or "") == value


@pytest.mark.parametrize(
    ("kind", "typed", "hint"),
    [
        (NUMBER, "1,200", "may be 1.200 or 1200"), (NUMBERS, "2,5", "write 2.5, or “2; 5”"),
        (SPAN, "18, x", "“x” is no whole number"), (SPAN, "2.5", "“2.5” is no whole number"),
        (SECTORS, "250", "“250” is no part of the circle"), (SECTORS, "1 to 2 to 3", "write “250 to 290”"),
        (SECTORS, "10 to 250,125", "may be 250.125 or 250125"), (DRAWER, "12 x 3", "write “3 of 12; 16”"),
        (DRAWER, "12,16", "write “3 of 12; 16”"),
    ],
)  # fmt: skip
def test_what_may_mean_two_things_or_nothing_is_refused_with_a_hint(kind: str, typed: str, hint: str) -> None:
    with pytest.raises(Unread) as refused:
        read(kind, typed)
    assert hint in str(refused.value)


@pytest.mark.parametrize(
    ("kind", "value"),
    [(SPAN, [[24], [30]]), (SPAN, {"min": 3}), (NUMBER, True), (NUMBER, [1, 2]), (TEXT, " two spaces"), (FLAG, 1),
     (NUMBER, {"min": 1, "max": 2}), (NUMBERS, []), (KEYS, [1, 2]),
     (SECTORS, [250, 290]), (SECTORS, [[1, 2, 3]]), (SECTORS, [["a", 2]]), (DRAWER, [12]),
     (DRAWER, [{"teeth": 12, "wide": 3}]), (DRAWER, [])],
)  # fmt: skip
def test_what_a_field_cannot_say_is_not_said_otherwise(kind: str, value: Any) -> None:
    assert said(kind, value) is None


def test_a_text_of_toml_means_the_data_it_was_made_of() -> None:
    data = {
        "title": 'a "quoted" \\ title\n\x7f\t€',
        "point": [{"rings": {"tooth_step": 3}, "fit.frame": {"shape": "round"}}],
        "vary": {"rings": {"tooth_step": {"min": 1, "max": 2}}, "fit": {}, "a key": [1, Decimal("0.10")]},
        "bodies": {"list": [{"name": "A", "period": "64/9"}, {"name": "B", "max_drift": {"degrees": 1, "years": 2}}]},
        "fit": {"keep": [[1, 2], [3, 4]], "on": True, "frame": {"shape": "square", "side": Decimal("26.5")}},
        "empty": {}, "none": [], "big": Decimal("1E+3"),
    }  # fmt: skip
    assert data_of(toml_text(data), "") == data


# -- files -------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("path", DESIGNS, ids=lambda path: path.stem)
def test_every_design_that_ships_is_the_same_after_the_form(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    made = file_text(typed_from(text))
    assert parse_design(made).sha256() == parse_design(text).sha256()
    assert parse_design(made) == parse_design(text)


@pytest.mark.parametrize("path", SWEEPS, ids=lambda path: path.stem)
def test_every_sweep_that_ships_is_the_same_after_the_form(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    one, other = (sweep_of(told, "s", "s") for told in (text, file_text(typed_from(text))))
    assert one.meaning() == other.meaning() and one.limits == other.limits and one.title == other.title
    assert {point.config_sha256 for point in one.points} == {point.config_sha256 for point in other.points}


@pytest.mark.parametrize("units", ["mm", "in"])
def test_a_file_with_every_setting_that_new_explains_is_the_same_after_the_form(units: str) -> None:
    """Each line that `new` explains is put in force by itself, where the file is still one that is taken."""
    whole = design_template(units=units)
    lines = whole.splitlines()
    kept = parse_design(whole)
    tried = 0
    for number, line in enumerate(lines):
        if not line.startswith("# ") or " = " not in line:
            continue
        text = "\n".join([*lines[:number], line[2:], *lines[number + 1 :]])
        try:
            design = parse_design(text)
        except DesignError:
            continue
        tried += 1
        assert parse_design(file_text(typed_from(text))) == design, line
    assert tried >= 30 and parse_design(file_text(typed_from(whole))) == kept


@pytest.mark.parametrize("drawn", [random_design, random_placed_design])
def test_random_designs_are_the_same_after_the_form(drawn: Callable[[int], str]) -> None:
    for seed in range(60):
        text = drawn(seed)
        assert parse_design(file_text(typed_from(text))) == parse_design(text), (seed, text)


def test_what_the_form_has_no_field_for_is_kept_as_text() -> None:
    text = (
        '[bodies]\nset = "jupiter"\ngrams = {Io = 12}\n[[bodies.list]]\nname = "Moon of mine"\nperiod = "40"\n'
        "[rings]\nteeth = [24, 30, 36, 42, 48]\n[loads]\nhand_n = 15\n"
    )
    typed = typed_from(text)
    assert typed["bodies.set"] == "jupiter" and typed["rings.inner_teeth"] == ""
    for kept in ("grams", "Moon of mine", "teeth = [24", "hand_n = 15"):
        assert kept in typed.rest
    assert parse_design(file_text(typed)) == parse_design(text)


def test_places_orders_and_what_exists_already_have_fields_and_single_links_stay_text() -> None:
    text = (
        '[bodies]\nset = "jupiter"\n[fit]\nframe = {shape = "square", side = 640}\narrange = "balanced"\n'
        'keep_free = [[250, 290], ["22.5", 30]]\nlink = [{link = 1, direction = 45}]\n'
        '[search]\nrank = ["error", "new_gears"]\nfront = ["error", "new_gears"]\ndistinct = "order"\n'
        "max_new_gears = 6\n[made]\ngear_jigs = [8, 12]\nring_jigs = [24]\n"
        "gears = [{teeth = 12, count = 3}, {teeth = 16}]\nlinks = [{link = 2, wheel = 12, pinion = 8}]\n"
    )
    typed = typed_from(text)
    assert (typed["fit.arrange"], typed["fit.keep_free"]) == ("balanced", "250 to 290; 22.5 to 30")
    assert (typed["search.distinct"], typed["search.rank"]) == ("order", "error, new_gears")
    assert (typed["search.front"], typed["search.max_new_gears"]) == ("error, new_gears", "6")
    assert (typed["made.gear_jigs"], typed["made.ring_jigs"], typed["made.gears"]) == ("8, 12", "24", "3 of 12; 16")
    assert "links" in typed.rest and "direction = 45" in typed.rest
    for gone in ("arrange", "keep_free", "distinct", "new_gears", "jigs", "count"):
        assert gone not in typed.rest
    assert parse_design(file_text(typed)) == parse_design(text)


def test_what_is_typed_and_stands_in_the_text_as_well_is_a_fault_of_that_field() -> None:
    typed = beginning("jupiter")
    with pytest.raises(DesignError) as refused:
        file_text(replace(typed, rest="[rings]\nrim = 7\n"))
    (fault,) = faults_of(refused.value.complaints, typed)
    assert fault.at == "rings.rim" and "keep one of them" in fault.text


def test_a_design_that_is_read_otherwise_than_as_numbers_is_kept() -> None:
    text = '[bodies]\nset = "jupiter"\nonly = ["Callisto", "Io"]\n[rings]\ntooth_pitch = "25/2"\n'
    typed = typed_from(text)
    assert "Callisto" in typed.rest and typed["rings.tooth_pitch"] == "25/2"
    assert data_of(file_text(typed), "")["bodies"]["only"] == ["Callisto", "Io"]


@pytest.mark.parametrize("text", ["[rings", "a = " + "[" * 5000, "x = 1\n" * 3, "{", "a = 'x'\n" * 20_000])
def test_what_no_form_can_be_filled_from_is_refused(text: str) -> None:
    with pytest.raises(DesignError):
        typed_from(text)


# -- sets --------------------------------------------------------------------------------------------------------------


def test_another_set_brings_its_title_and_values_and_leaves_what_was_typed() -> None:
    typed = beginning("saturn")
    typed = replace(typed, values={**typed.values, "bodies.set": "planets", "rings.tooth_step": "3 to 9"})
    begun = begun_anew(typed)
    assert begun.typed["title"] == body_sets()["planets"].title
    assert (begun.typed["rings.tooth_step"], begun.typed["rings.blanks"]) == ("3 to 9", "0 to 4")
    assert begun.kept == ("Tooth step from ring to ring",) and "Title" in begun.changed
    assert begun_anew(begun.typed, all_of_it=True).typed["rings.tooth_step"] == "1 to 8"


@pytest.mark.parametrize("units", ["mm", "in"])
def test_from_every_set_to_every_other_one_is_what_that_begins_with(units: str) -> None:
    for one in body_sets():
        for other in body_sets():
            typed = beginning(one)
            typed = replace(typed, values={**typed.values, "bodies.set": other, "units": units})
            assert begun_anew(typed).typed.values == beginning(other, units).values


def test_a_form_that_was_filled_from_a_file_keeps_all_but_the_title_of_a_set() -> None:
    typed = typed_from((ROOT / "runs" / "configs" / "jupiter-table.toml").read_text(encoding="utf-8"))
    begun = begun_anew(replace(typed, values={**typed.values, "bodies.set": "saturn"}))
    assert not begun.changed and begun.typed["title"] == typed["title"] and begun.kept


# -- faults ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("changes", "at", "text"),
    [
        ({"rings.tooth_pitch": "-3"}, "rings.tooth_pitch", "at most 1000000 mm"),
        ({"rings.rim": "900"}, "rings.rim", "must be less than the pitch radius of the innermost ring, 45.84 mm"),
        ({"rings.rim": "1,200"}, "rings.rim", "may be 1.200 or 1200"),
        ({"arbors.wheel_teeth": "24 to 5"}, "arbors.wheel_teeth", "is empty: the first number is the greater one"),
        ({"rings.inner_teeth": "2 to 30"}, "rings.inner_teeth", "must lie within 3 and 1000"),
        ({"fit.frame.side": ""}, "fit.frame.side", "is missing"),
        ({"supports.model": "wall", "fit.frame.shape": ""}, "supports.model", "needs “Frame”"),
        ({"supports.model": "wall", "wire.form": ""}, "supports.model", "needs a tooth form"),
        ({"drive.by": "motor"}, "drive.motor_rpm", "is missing"),
        ({"fit.rollers.count": "3"}, "fit.rollers.radius", "is missing"),
        ({"wire.loop": "AWG 99"}, "wire.loop", "AWG 40"),
        ({"search.max_drift.years": "3"}, "search.max_drift.degrees", "is missing"),
        ({"bodies.set": ""}, "bodies.set", "at least 2 are needed"),
        ({"made.gears": "3 of 12; 12"}, "made.gears", "is listed twice"),
        ({"made.gear_jigs": "1"}, "made.gear_jigs", "must lie within"),
        ({"fit.keep_free": "290"}, "fit.keep_free", "is no part of the circle"),
        ({"fit.keep_free": "10 to 400"}, "fit.keep_free", "degrees"),
        ({"fit.directions": "none", "fit.frame.shape": "", "fit.arrange": "first"}, "fit.arrange", "“Directions”"),
    ],
)
def test_faults_are_said_beside_their_field_in_its_words(changes: dict[str, str], at: str, text: str) -> None:
    typed = beginning()
    typed = replace(typed, values={**typed.values, **changes})
    with pytest.raises(DesignError) as refused:
        parse_design(file_text(typed))
    faults = faults_of(refused.value.complaints, typed)
    assert at in [fault.at for fault in faults]
    assert text in next(fault.text for fault in faults if fault.at == at)


# -- the page, without a script ----------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[httpx.Client, Jobs]]:
    with (
        in_thread(tmp_path_factory.mktemp("form") / "jobs") as (port, jobs),
        httpx.Client(base_url=f"http://127.0.0.1:{port}", trust_env=False, timeout=60) as client,
    ):
        yield client, jobs


@pytest.mark.deep
def test_the_form_is_sent_by_itself_and_becomes_a_job(service: tuple[httpx.Client, Jobs]) -> None:
    client, jobs = service
    form = Forms(client.get("/").text)
    answer = sent(client, "/", [*form.changed(bodies__set="uranus", title="Sent alone"), ("action", "design")])
    assert answer.status_code == 303
    text = jobs.text(answer.headers["location"].rpartition("/")[2])
    assert 'title = "Sent alone"' in text and 'set = "uranus"' in text


def test_faults_come_back_beside_their_fields_with_all_that_was_typed(service: tuple[httpx.Client, Jobs]) -> None:
    client, _ = service
    fields = Forms(client.get("/").text).changed(rings__rim="-1", title='<b>"Mine"</b>', rest="[sky")
    answer = sent(client, "/", [*fields, ("action", "design")])
    found = Forms(answer.text)
    assert answer.status_code == 422 and found.invalid == ["rest"] and "not valid TOML" in found.beside["rest"]
    assert dict(found.fields)["title"] == '<b>"Mine"</b>'
    assert dict(found.fields)["rest"] == "[sky"
    answer = sent(client, "/", [*found.changed(rest=""), ("action", "design")])
    found = Forms(answer.text)
    assert answer.status_code == 422 and found.invalid == ["rings.rim"]
    assert found.beside["rings.rim"] == "must be a length from 0 to 1000000 mm"
    assert '<a href="#f-rings.rim">Rim</a>' in answer.text


def test_what_is_wrong_is_named_in_the_state_and_a_few_of_many(service: tuple[httpx.Client, Jobs]) -> None:
    client, _ = service
    told = sent(client, "/form", Forms(client.get("/").text).changed(rings__rim="x", rings__addendum="y")).json()
    assert told["state"] == "2 things are wrong: Addendum, Rim; it cannot be submitted yet."
    many = dict.fromkeys(("rings__rim", "rings__addendum", "fit__clearance", "rings__tooth_pitch"), "x")
    told = sent(client, "/form", Forms(client.get("/").text).changed(**many)).json()
    assert told["state"].startswith("4 things are wrong: ") and " and more; it cannot" in told["state"]


def test_another_set_is_taken_and_the_file_saved(service: tuple[httpx.Client, Jobs]) -> None:
    client, _ = service
    fields = Forms(client.get("/").text).changed(bodies__set="planets", rings__rim="7")
    answer = sent(client, "/", [*fields, ("action", "begin")])
    found = Forms(answer.text)
    assert dict(found.fields)["title"] == body_sets()["planets"].title and dict(found.fields)["rings.rim"] == "7"
    saved = sent(client, "/", [*found.fields, ("action", "file")])
    assert saved.headers["content-disposition"] == 'attachment; filename="The-Suns-planets-Mercury-to-Neptune.toml"'
    assert len(parse_design(saved.text).bodies) == 8
    saved = sent(client, "/", [*found.changed(title="Planety, čtyři"), ("action", "file")])
    whole = "filename*=UTF-8''Planety-%C4%8Dty%C5%99i.toml"
    assert saved.headers["content-disposition"] == f'attachment; filename="Planety-ctyri.toml"; {whole}'


def test_a_sweep_is_made_in_the_form(service: tuple[httpx.Client, Jobs]) -> None:
    client, _ = service
    fields = Forms(client.get("/").text).fields
    more = [("vary:rings.tooth_step", "4, 6"), ("vary:rings.inner_teeth", "24 to 26"), ("vary:rings.blanks", "1")]
    fields = [one for one in fields if not one[0].startswith("vary:")] + more
    told = sent(client, "/form", fields).json()
    assert told["state"] == "A sweep: 6 designs, each solved by itself. This can be submitted." and not told["faults"]
    assert "rings.tooth_step = [4, 6]" in told["text"] and "rings.blanks = [1]" in told["text"]
    assert sent(client, "/form", [*fields, ("vary:arbors.third_gears", "-1")]).json()["faults"][0]["at"] == (
        "vary:arbors.third_gears"
    )


@pytest.mark.deep
@pytest.mark.parametrize(
    "path",
    [*DESIGNS, *SWEEPS],
    ids=lambda path: path.stem,
)
def test_an_unchanged_form_of_a_job_is_the_same_job(service: tuple[httpx.Client, Jobs], path: Path) -> None:
    client, jobs = service
    job = submitted(client, path.read_text(encoding="utf-8"))
    jobs.stop(job)
    page = client.get(f"/jobs/{job}/change").text
    assert f'href="/jobs/{job}"' in page
    told = sent(client, "/form", Forms(page).fields).json()
    assert not told["faults"]
    assert jobs.check(told["text"]).job == job


@pytest.mark.slow
def test_a_point_of_a_sweep_is_changed(service: tuple[httpx.Client, Jobs]) -> None:
    client, _ = service
    job = submitted(client, '[bodies]\nset = "jupiter"\n[search]\nkeep = 2\n[vary]\nrings.tooth_step = [3, 4]\n')
    points = client.get(f"/api/jobs/{job}/points").json()["points"]
    for point in points:
        page = client.get(f"/jobs/{job}/change", params={"point": point["point"]}).text
        step = str(point["settings"]["rings.tooth_step"])
        assert dict(Forms(page).fields)["rings.tooth_step"] == step and f"its point with tooth step {step}" in page
    assert client.get(f"/jobs/{job}/change", params={"point": "zz"}).status_code == 404
    assert client.get("/jobs/0000000000000000/change").status_code == 404


def test_a_form_that_means_no_good_is_refused_at_once(service: tuple[httpx.Client, Jobs]) -> None:
    client, _ = service
    fields = Forms(client.get("/").text).fields
    for rest in ("x = " + "[" * 900 + "]" * 900, "a." * 200 + "b = 1", "y = 1\n" * 30_000, "\x00", "title = 'b'"):
        answer = sent(client, "/form", [(name, value if name != "rest" else rest) for name, value in fields])
        assert answer.status_code == 200 and answer.json()["faults"], rest[:20]
    assert sent(client, "/form", [("a", "b")] * 5000).json()["faults"]
    assert sent(client, "/", [("action", "fill"), ("text", "[rings")]).status_code == 422
    assert sent(client, "/", [("action", "fill"), ("text", "[bodies]\nset = 'jupiter'\n")]).status_code == 200
