"""The page of a job as the server makes it: what is known in words, settings in words, rows with their gears, fronts,
points of a sweep, units."""

from __future__ import annotations

import html
import re
from fractions import Fraction
from pathlib import Path

import httpx
import pytest
from serving import ended, events, in_thread, submitted
from sweeping import BASE, HARD, SMALL

from solver.answer.standing import standing
from solver.batch import ranking
from solver.batch.sweep.table import PointState
from solver.design.errors import single
from solver.files.load import parse_design
from solver.service.jobs.job import JobView
from solver.service.kept import results, said
from solver.service.kept.said import Said, said_in
from solver.service.limits import ServiceLimits
from solver.service.page import fronts, wording
from solver.service.page.driven import drive_words
from solver.service.page.job_page import ROWS_SHOWN
from solver.service.page.outcome import outcome, seconds_words
from solver.service.page.points import state_words
from solver.service.page.varied import varied_words

LIMITS = ServiceLimits(solve_seconds=1e6)


def job(
    state: str, kind: str = "design", best: float | None = None, reason: str | None = None, **points: int
) -> JobView:
    counts = {one: points.get(str(one), 0) for one in PointState}
    total = sum(counts.values())
    return JobView(
        id="0" * 16, kind=kind, title="T", state=state, reason=reason, submitted="2026-01-31", points=counts,
        total=total, finished=total, best_worst_error_pct=best, solutions=3 if best is not None else 0,
        proven=counts[PointState.SOLVED] == total, version=2,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("view", "kind", "state"),
    [
        (job("complete", best=0.5, solved=1), "proven", "solved, best is proven"),
        (job("complete", solved=1), "none", "no solution, proven"),
        (job("complete", best=0.5, stopped=1), "open", "ended by a limit, not proven"),
        (job("complete", stopped=1), "open", "ended by a limit, nothing found"),
        (job("stopped", best=0.5, waiting=1), "stopped", "stopped, not proven"),
        (job("failed", failed=1), "failed", "failed"),
        (job("waiting", waiting=1), "waiting", "waiting for its turn"),
        (job("solving", solving=1), "solving", "being solved"),
        (job("complete", "sweep", 0.5, solved=4), "proven", "every point is proven"),
        (job("complete", "sweep", solved=4), "none", "no solution, proven"),
        (job("complete", "sweep", 0.5, solved=3, failed=1), "open", "over, 1 of 4 points failed"),
        (job("complete", "sweep", 0.5, solved=3, stopped=1), "open", "over, 3 of 4 points are proven"),
        (job("complete", "sweep", failed=4), "failed", "every point failed"),
    ],
)
def test_only_what_is_proven_is_said_and_drawn_so(view: JobView, kind: str, state: str) -> None:
    found = outcome(view)
    assert (found.kind, found.state) == (kind, state)
    assert "complete" not in found.state + found.sentence
    assert "point" not in found.sentence or view.kind == "sweep"
    assert found.sentence.endswith(".")


def test_of_rows_behind_the_first_what_is_true_is_said() -> None:
    assert [standing("optimal", rank, False, 3) for rank in (1, 2, 3, 4)] == [
        "proven best", "proven to be the 2nd in order", "proven to be the 3rd in order", "proven to be on the front",
    ]  # fmt: skip
    assert [standing("optimal", rank, True, 3) for rank in (1, 2)] == [
        "proven best, twice",
        "proven to be the 2nd in order",
    ]
    assert {standing("feasible", rank, False, 3) for rank in (1, 2)} == {"not proven"}


@pytest.mark.parametrize(
    ("changes", "cranked", "wished", "words"),
    [
        ({}, False, 40.0, "motor of 2.5 rpm, pinion of 9 teeth on ring 4; a turn of Io takes 39.57 s, 40 s are wished"),
        ({"thirds": [8]}, True, None, "hand crank at 2.5 rpm, pinion of 9 teeth, through a third gear of 8 teeth, on "
         "ring 4; a turn of Io takes 39.57 s"),
        ({"body": None, "seconds": None}, False, None, "motor of 2.5 rpm, pinion of 9 teeth on ring 4"),
    ],
)  # fmt: skip
def test_what_drives_a_model_is_said_in_words(changes: dict, cranked: bool, wished: float | None, words: str) -> None:
    drive = {"motor_rpm": "5/2", "pinion": 9, "thirds": [], "ring": 4, "body": "Io", "seconds": 39.5726}
    assert drive_words(drive | changes, cranked, wished) == words
    assert drive_words(None, False, None) == ""


def test_which_speed_would_give_the_wished_time_is_said() -> None:
    drive = {"motor_rpm": "2", "pinion": 9, "thirds": [], "ring": 4, "body": "Io", "seconds": 39.5726}
    # 2 rpm give 39.5726 s for a turn, so that 40 s take 2 * 39.5726 / 40 rpm.
    assert drive_words(drive, False, 40.0, Fraction("1.97863")).endswith(
        ", 40 s are wished, which 1.979 rpm would give"
    )
    assert drive_words(drive, False, None, None).endswith("39.57 s")


@pytest.mark.parametrize(
    ("settings", "words"),
    [
        ({"rings.tooth_step": 6, "rings.blanks": 2}, "tooth step 6, 2 blanks"),
        ({"rings.blanks": 1, "arbors.third_gears": 0}, "1 blank, no third gear"),
        ({"rings.blanks": {"min": 0, "max": 2}, "rings.inner_teeth": 24}, "0 to 2 blanks, inner ring of 24 teeth"),
        ({"bodies.set": "saturn"}, "Saturn's seven large moons"),
        ({"bodies.set": "no such set"}, "set no such set"),
        ({"bodies.only": ["Mimas", "Titan"], "title": "left out"}, "only Mimas, Titan"),
        ({"arbors.wheel_teeth": 4, "made.wheel_teeth": 5}, "arbors wheel teeth 4, made wheel teeth 5"),
        ({"search.time_limit_s": 5, "drive.reverse_ok": True}, "time limit 5 s, reverse ok yes"),
        ({}, ""),
    ],
)
def test_what_is_varied_is_said_in_words(settings: dict, words: str) -> None:
    assert varied_words(settings) == words


def test_lengths_are_told_in_the_unit_of_the_design() -> None:
    assert wording.length(254.0) == "254.0" and wording.length(254.0, "in") == "10.00"  # 1 in = 25.4 mm exactly
    assert said_in('units = "in"\n[bodies]\nset = "saturn"\n[search]\nkeep = 4\nfront = ["error", "parts"]\n') == Said(
        "in", 4, ("error", "parts"), True
    )
    assert said_in("no design") == Said()


@pytest.mark.parametrize(
    ("seconds", "said"), [(None, "–"), (0.04, "0.0 s"), (9.94, "9.9 s"), (9.96, "10 s"), (185, "3 min 5 s"),
                          (7800, "2 h 10 min")]
)  # fmt: skip
def test_times_are_told_as_one_would(seconds: float | None, said: str) -> None:
    assert seconds_words(seconds) == said


def test_states_of_points_say_what_is_proven() -> None:
    def point(state: str, solutions: int | None, reason: str | None = None) -> tuple[str, str]:
        return state_words({"state": state, "solutions": solutions, "reason": reason})

    assert point("solved", 3) == ("proven", "best is proven")
    assert point("solved", 0) == ("none", "no solution, proven")
    assert point("stopped", 2, "time: 1 s were not enough") == ("open", "ended by a limit, not proven")
    assert point("stopped", 0, "interrupt") == ("stopped", "interrupted, goes on later")


# -- as it is served ---------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory):
    data: Path = tmp_path_factory.mktemp("job-page") / "data"
    with in_thread(data, LIMITS) as (port, _), httpx.Client(trust_env=False, timeout=60) as client:
        client.base_url = f"http://127.0.0.1:{port}"
        client.data = data
        yield client


def solved(client: httpx.Client, text: str) -> tuple[str, str]:
    """A job that is over, and its page."""
    name = submitted(client, text)
    ended(client, name)
    return name, client.get(f"/jobs/{name}").text


def words(page: str) -> str:
    """The text of a page, spaces as one."""
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", page)).split())


@pytest.mark.slow
def test_rows_have_rings_links_and_errors_and_one_is_proven_best(client: httpx.Client) -> None:
    name, page = solved(client, BASE.replace('"none"', "24"))
    found = client.get(f"/api/jobs/{name}/solutions").json()["solutions"]
    told = words(page)
    for row in found:
        rings = ", ".join(str(ring["teeth"]) for ring in row["solution"]["rings"])
        links = ", ".join(f"{link['wheel']}/{link['pinion']}" for link in row["solution"]["links"])
        assert f"Rings {rings} Links {links}" in told
        assert f"/api/jobs/{name}/solutions/{row['point']}/{row['rank']}/picture?trimmed=true" in page
        assert f"/api/jobs/{name}/solutions/{row['point']}/{row['rank']}/sheets?paper=a4" in page
    assert told.count("proven best") == 1 and told.count("proven to be the 2nd in order") == 1
    assert "1 point" not in told and "solved, best is proven" in told
    assert f'href="/jobs/{name}/change"' in page


@pytest.mark.slow
def test_a_design_in_inches_has_inches(client: httpx.Client) -> None:
    text = BASE.replace('title = "', 'units = "in"\ntitle = "Inches ').replace("[rings]", "[rings]\ntooth_pitch = 0.5")
    name, page = solved(client, text)
    (one, *_) = client.get(f"/api/jobs/{name}/solutions").json()["solutions"]
    assert "Radius, in" in words(page) and "Envelope" not in page
    assert f'<td class="number">{one["solution"]["envelope_mm"] / 25.4:.2f}</td>' in page
    model = client.get(f"/jobs/{name}/{one['point']}/{one['rank']}").text
    radii = [link["arbor"]["radius_mm"] for link in one["solution"]["links"]]
    links = model[model.index('id="links-head"') :]
    assert radii and "Radius, in" in words(links) and "Radius, mm" not in words(links)
    assert re.findall(r'<td class="number">([0-9.]+)</td></tr>', links) == [f"{radius / 25.4:.2f}" for radius in radii]


@pytest.mark.slow
def test_a_design_that_fails_to_fit_is_neither_green_nor_complete(client: httpx.Client) -> None:
    _, page = solved(client, BASE + "max_error_pct = 0\n")
    state = re.search(r'<span class="state state-(\w+)" data-show="state">([^<]+)</span>', page)
    assert state is not None and state.groups() == ("none", "no solution, proven")
    assert "complete" not in words(page).lower()
    assert "best is proven" not in page


@pytest.mark.deep
def test_points_stand_best_first_with_a_page_that_says_what_is_varied(client: httpx.Client) -> None:
    name, page = solved(client, SMALL)
    points = client.get(f"/api/jobs/{name}/points").json()["points"]
    table = page[page.index('<table class="points">') : page.index('<section id="results"')]
    shown = re.findall(r'<tr data-point="(\w+)">', table)
    ranked = sorted((one for one in points if one["best"]), key=lambda one: one["best"]["worst_error_pct"])
    assert shown == [one["point"] for one in ranked[:25]]
    assert "points 1 to 25 of 60" in words(table)
    last = [words(client.get(f"/jobs/{name}?points={number}").text) for number in (2, 3)]
    assert sum(one.count("no solution, proven") for one in last) == 60 - len(ranked) > 0
    assert words(page).count(f"{60 - len(ranked)} points have no solution.") == 1
    one = ranked[2]
    alone = client.get(f"/jobs/{name}/points/{one['point']}").text
    assert html.unescape(alone).count(wording.first_large(varied_words(one["settings"]))) == 1
    assert f'href="/jobs/{name}/change?point={one["point"]}"' in alone
    assert f'href="/api/jobs/{name}/points/{one["point"]}/design"' in alone
    assert len(re.findall(r'<tbody id="s-', alone)) == one["solutions"]
    assert client.get(f"/jobs/{name}/points/{'0' * 12}").status_code == 404


@pytest.mark.slow
def test_a_front_stands_above_the_list_as_choices(client: httpx.Client) -> None:
    text = BASE.replace("keep = 3", 'keep = 2\nfront = ["error", "jigs", "teeth"]').replace(
        "tooth_step = 6", "tooth_step = {min = 3, max = 7}"
    )
    name, page = solved(client, text)
    (point,) = client.get(f"/api/jobs/{name}/points").json()["points"]
    assert len(point["front"]) > 2
    front = page[page.index('<section id="front"') : page.index('<section id="results"')]
    rows = {row["rank"]: row["solution"] for row in client.get(f"/api/jobs/{name}/solutions").json()["solutions"]}
    assert [int(rank) for rank in re.findall(r"No\. (\d+)", front)] == sorted(
        point["front"], key=lambda rank: (rows[rank]["worst_error_pct"], rank)
    )
    told = words(front)
    assert "The choices in error, jigs and teeth" in told and "least error" in told and "fewest jigs" in told
    assert f'href="#s-{point["point"][:12]}-1"' in front  # its row on the same page
    assert "proven to be on the front" in page or max(point["front"]) <= 2


@pytest.mark.slow
def test_of_a_point_with_many_solutions_no_more_are_built_than_are_shown(
    client: httpx.Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    text = BASE.replace("keep = 3", 'keep = 150\nfront = ["error", "jigs"]').replace(
        "tooth_step = 6", "tooth_step = {min = 3, max = 9}\nblanks = {min = 0, max = 2}"
    )
    name = submitted(client, text)
    ended(client, name)
    (point,) = client.get(f"/api/jobs/{name}/points").json()["points"]
    assert point["solutions"] >= 150
    built = []
    of_row = results.solution_from_row
    monkeypatch.setattr(results, "solution_from_row", lambda row: built.append(row["rank"]) or of_row(row))
    page = client.get(f"/jobs/{name}/points/{point['point']}").text
    listed = [int(rank) for rank in re.findall(r'<tbody id="s-\w+-(\d+)"', page)]
    assert listed == list(range(1, 101)) and f"The first 100 of {point['solutions']}." in words(page)
    assert sorted(built) == sorted([*listed, *point["front"]])
    front = page[page.index('<section id="front"') : page.index('<section id="results"')]
    assert {int(rank) for rank in re.findall(r"No\. (\d+)", front)} == set(point["front"])


@pytest.mark.slow
def test_units_of_solutions_are_found_for_csv_alone(client: httpx.Client, monkeypatch: pytest.MonkeyPatch) -> None:
    name, _ = solved(client, BASE.replace("Three moons", "Units of three moons"))
    address, known = f"/api/jobs/{name}/solutions", []
    of_each = ranking.Shelf.units
    monkeypatch.setattr(ranking.Shelf, "units", lambda *words: known.append(words) or of_each(*words))
    for form in ("json", "parquet", "csv"):
        assert not known and client.get(f"{address}?form={form}&limit=7").status_code == 200
    assert len(known) == 1


@pytest.mark.deep
def test_the_choices_of_a_sweep_are_there_however_many_solutions_are_alike(
    client: httpx.Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each of 25 points has the same solutions, so the best of all are there 25 times."""
    text = BASE.replace("keep = 3", 'keep = 2\nfront = ["error", "jigs"]').replace(
        "tooth_step = 6", "tooth_step = {min = 3, max = 7}"
    )
    name = submitted(client, f"{text}[vary]\nsearch.max_error_pct = {{min = 30, max = 54}}\n")
    ended(client, name)
    told = client.get(f"/api/jobs/{name}/solutions", params={"front": "error,jigs", "limit": 500}).json()["solutions"]
    pairs = sorted({(one["solution"]["worst_error_pct"], one["solution"]["jigs"]) for one in told})
    assert len(told) == 25 * len(pairs) > 50 and len(pairs) > 2
    built = []
    of_row = results.solution_from_row
    monkeypatch.setattr(results, "solution_from_row", lambda row: built.append(row["rank"]) or of_row(row))
    monkeypatch.setattr(fronts, "MOST", 2)
    page = client.get(f"/jobs/{name}").text
    front = page[page.index('<section id="front"') : page.index('<section id="results"')]
    shown = re.findall(r'<tr><th scope="row">.*?<td class="number">(.*?)</td><td class="number">(.*?)</td>', front)
    assert shown == [(wording.percent(error), str(jigs)) for error, jigs in pairs[:2]]
    assert f"and {len(pairs) - 2} more, in the downloads" in words(front)
    assert words(front).count("least error") == 1 and "fewest jigs" not in words(front)  # that one is left out
    assert len(built) == ROWS_SHOWN + 2  # the list, and the choices


@pytest.mark.slow
def test_a_design_is_read_once_however_often_the_results_are(
    client: httpx.Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Those of a job that goes on are read anew every second."""
    read = []
    monkeypatch.setattr(said, "parse_design", lambda *words: read.append(words) or parse_design(*words))
    name, _ = solved(client, BASE.replace("Three moons", "Once three moons"))
    (point,) = client.get(f"/api/jobs/{name}/points").json()["points"]
    before = len(read)
    for _ in range(3):
        assert results.Results(client.data / "jobs" / name).said(point["point"]).keep == 3
    assert before == 1 == len(read)


@pytest.mark.slow
def test_of_a_design_that_this_version_reads_no_more_a_page_says_so(
    client: httpx.Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    name, _ = solved(client, BASE.replace("Three moons", "Former three moons"))
    (point,) = client.get(f"/api/jobs/{name}/points").json()["points"]

    def refuse(*_: object) -> None:
        raise single("fit.directions", "none", "is read no more")

    monkeypatch.setattr(results, "parse_design", refuse)
    page = client.get(f"/jobs/{name}/{point['point']}/1")
    assert page.status_code == 422
    assert 'This is refused: fit.directions = "none": is read no more.' in words(page.text)
    (client.data / "jobs" / name / "sweep.toml").write_text("[[[", encoding="utf-8")
    page = client.get(f"/jobs/{name}/change")
    assert page.status_code == 422 and "not valid TOML" in words(page.text)


@pytest.mark.slow
def test_while_it_is_solved_nothing_that_would_be_refused_is_offered(client: httpx.Client) -> None:
    name = submitted(client, HARD)
    try:
        for told in events(client, name):
            if told[2]["began"] is not None and told[2]["points"]["solving"]:
                break
        page = client.get(f"/jobs/{name}").text
        assert f"/jobs/{name}/remove" not in page and "can be removed once it is stopped" in page
        assert "Time so far" in page and f"/jobs/{name}/resume" not in page
        assert client.post(f"/jobs/{name}/remove").status_code == 409
    finally:
        client.post(f"/api/jobs/{name}/stop")
        view = ended(client, name)
    assert view["seconds"] > 0 and view["began"] is None and not view["stopping"]
    page = client.get(f"/jobs/{name}").text
    assert f"/jobs/{name}/remove" in page and f'action="/jobs/{name}/stop"' not in page
    assert "Time taken" in page and f"/jobs/{name}/resume" in page
