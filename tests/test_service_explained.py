"""Why nothing fits, over the API and on plain pages; and the comparison of solutions: readable without a script."""

from __future__ import annotations

import re
import threading
import time
from dataclasses import replace

import httpx
import pytest
from serving import TOML, ended, in_thread, submitted
from sweeping import BASE, HARD

from solver.batch.store import parts
from solver.service.limits import ServiceLimits
from solver.service.processes import explainer, explainers

pytestmark = pytest.mark.slow

LIMITS = ServiceLimits(solve_seconds=1000, most_points=100, most_jobs=20)
TIGHT = """# Moons of Jupiter
title = "Tight <moons>"
[bodies]
set = "jupiter"
only = ["Io", "Europa", "Ganymede"]
[rings]
inner_teeth = 30
tooth_step = 4  # easy to count
[fit]
directions = "none"
[search]
max_error_pct = 0.1
"""
PLACED = BASE.replace('directions = "none"', "directions = 24")


@pytest.fixture(scope="module")
def client(tmp_path_factory):
    data = tmp_path_factory.mktemp("explained") / "data"
    with in_thread(data, LIMITS) as (port, _), httpx.Client(trust_env=False, timeout=60) as client:
        client.base_url = f"http://127.0.0.1:{port}"
        client.data = data
        yield client


def solved(client: httpx.Client, text: str) -> str:
    job = submitted(client, text)
    ended(client, job)
    return job


def explained(client: httpx.Client, job: str, query: str = "") -> dict:
    """Have a job explained, and wait for it."""
    answer = client.post(f"/api/jobs/{job}/explanation{query}")
    assert answer.status_code in (200, 202), answer.text
    while (told := client.get(f"/api/jobs/{job}/explanation{query}").json())["state"] in ("waiting", "working"):
        time.sleep(0.05)
    return told


@pytest.fixture(scope="module")
def tight(client):
    return solved(client, TIGHT)


@pytest.fixture(scope="module")
def why(client, tight):
    assert client.get(f"/api/jobs/{tight}/explanation").json()["state"] == "none"
    return explained(client, tight)


def test_an_explanation_is_what_the_command_line_says_with_the_file_of_each_loosening(client, tight, why):
    made = why["explanation"]
    assert (why["state"], made["schema"], made["termination"]) == ("complete", "ringwright.explanation/1", "proved")
    assert {one["field"] for one in made["conflict"]} == {
        "rings.inner_teeth", "rings.tooth_step", "rings.blanks", "search.max_error_pct"
    }  # fmt: skip
    last = made["loosenings"][-1]
    assert last["changes"] == [
        {"rule": "error", "field": "search.max_error_pct", "now": "0.1", "then": "1.6294"}
    ]  # fmt: skip
    assert last["file"] == TIGHT.replace("max_error_pct = 0.1", "max_error_pct = 1.6294")
    job = client.post("/api/jobs", content=last["file"].encode(), headers=TOML).json()["id"]
    assert ended(client, job)["best_worst_error_pct"] == pytest.approx(last["worst_error_pct"])


def test_it_is_made_once_and_kept(client, tight, why, monkeypatch):
    monkeypatch.setattr(explainers.Explainers, "begin", None)
    again = client.post(f"/api/jobs/{tight}/explanation")
    assert (again.status_code, again.json()) == (200, why)
    (file,) = (client.data / "jobs" / tight / "explanations").iterdir()
    assert file.name == f"{why['point']}.json"


def test_what_is_not_to_be_explained_is_refused(client):
    assert client.post("/api/jobs/0123456789abcdef/explanation").status_code == 404
    fits = solved(client, BASE)
    answer = client.post(f"/api/jobs/{fits}/explanation")
    assert (answer.status_code, answer.headers["content-type"]) == (409, "application/problem+json")
    assert answer.json()["detail"] == "a solution was found; there is nothing to explain"
    assert client.post(f"/api/jobs/{fits}/explanation?point=ffffffff").status_code == 404
    assert client.post(f"/api/jobs/{fits}/explanation?rank=1").status_code == 422
    page = client.get(f"/jobs/{fits}/explanation")
    assert page.status_code == 200 and "A solution was found; there is nothing to explain." in page.text


def test_a_point_of_a_sweep_is_named(client):
    job = solved(client, TIGHT + "[vary]\nrings.inner_teeth = [30, 36]\n")
    assert client.post(f"/api/jobs/{job}/explanation").json()["errors"][0]["field"] == "point"
    points = client.get(f"/api/jobs/{job}/points").json()["points"]
    barren = next(one["point"] for one in points if one["solutions"] == 0)
    told = explained(client, job, f"?point={barren[:16]}")
    assert told["point"] == barren and told["explanation"]["loosenings"]
    page = client.get(f"/jobs/{job}/explanation?point={barren}").text
    assert "The point with inner ring of " in page
    assert f'href="/jobs/{job}/explanation?point={barren}">why?' in client.get(f"/jobs/{job}").text


def test_who_asks_again_has_no_sweep_read_from_the_disk(client, monkeypatch):
    """Pages are asked for at every poll, and a sweep may have ten thousand points."""
    job = solved(client, BASE + "[vary]\nrings.tooth_step = [5, 6]\n")
    point = first(client, job)["point"]
    asked = [f"/jobs/{job}/explanation?point={point[:12]}", f"/jobs/{job}/change?point={point[:12]}",
             f"/compare?a={job}.{point[:12]}.1", f"/api/jobs/{job}/explanation?point={point}"]  # fmt: skip
    before = [client.get(address).text for address in asked]
    read = []
    for name in ("read_parquet", "all_solutions"):
        reads = getattr(parts, name)
        monkeypatch.setattr(parts, name, lambda *words, reads=reads: read.append(words) or reads(*words))
    assert [client.get(address).text for address in asked] == before and not read


def test_a_point_of_a_sweep_that_goes_on_is_not_explained_and_can_be_changed(client):
    job = submitted(client, HARD.replace("100000", "900"))
    try:
        points = client.get(f"/api/jobs/{job}/points").json()["points"]
        point = next(one["point"] for one in points if one["title"] == "Hard")
        page = client.get(f"/jobs/{job}/explanation?point={point}").text
        assert "It is not solved yet; whether anything fits is not known." in page
        assert client.post(f"/api/jobs/{job}/explanation?point={point}").status_code == 409
        change = client.get(f"/jobs/{job}/change?point={point[:12]}")
        assert change.status_code == 200 and "inner ring of 18 teeth" in change.text
    finally:
        client.post(f"/api/jobs/{job}/stop")
        ended(client, job)


def test_without_a_script_a_loosening_is_taken_by_a_form(client, tight, why):
    page = client.get(f"/jobs/{tight}").text
    assert f'<form method="post" action="/jobs/{tight}/explanation">' in page
    begun = client.post(f"/jobs/{tight}/explanation", data={"point": ""})
    assert (begun.status_code, begun.headers["location"]) == (303, f"/jobs/{tight}/explanation")
    text = client.get(begun.headers["location"]).text
    assert "These limits cannot be met together" in text and "Greatest error, in percent: <b>0.1</b>" in text
    assert "Tight &lt;moons&gt;" in text and "<moons>" not in text
    number = len(why["explanation"]["loosenings"])
    taken = client.post(f"/jobs/{tight}/explanation/take", data={"number": str(number)})
    assert taken.status_code == 303
    job = taken.headers["location"].removeprefix("/jobs/")
    assert ended(client, job)["solutions"]
    told = client.get(taken.headers["location"]).text
    assert f'<a href="/jobs/{tight}">Tight &lt;moons&gt;</a>' in told and "search.max_error_pct 0.1 → 1.6294" in told
    assert client.post(f"/jobs/{tight}/explanation/take", data={"number": "99"}).status_code == 409
    many = {"number": str(number), **{f"field{index}": "" for index in range(1000)}}
    assert client.post(f"/jobs/{tight}/explanation/take", data=many).status_code == 409  # nothing of it is read


def test_others_wait_in_line_and_are_told_how_many_come_before(client, monkeypatch):
    go_on, begun = threading.Event(), threading.Event()

    def slow(*_):
        begun.set()
        go_on.wait(30)
        return {"failed": "it was a test"}

    monkeypatch.setattr(explainers.Explainers, "_asked", slow)
    jobs = [solved(client, TIGHT.replace("= 30", f"= {teeth}")) for teeth in (31, 32, 33)]
    try:
        for job in jobs:
            assert client.post(f"/api/jobs/{job}/explanation").status_code == 202
        assert begun.wait(10)
        told = [client.get(f"/api/jobs/{job}/explanation").json() for job in jobs]
        assert [(one["state"], one["ahead"]) for one in told] == [("working", 0), ("waiting", 1), ("waiting", 2)]
        assert "2 others before it" in client.get(f"/jobs/{jobs[2]}/explanation").text
        monkeypatch.setattr(explainers, "MOST_WAITING", 2)
        last = solved(client, TIGHT.replace("= 30", "= 34"))
        assert client.post(f"/api/jobs/{last}/explanation").status_code == 429
    finally:
        go_on.set()
    while (told := client.get(f"/api/jobs/{jobs[2]}/explanation").json())["state"] != "failed":
        time.sleep(0.02)
    assert told["reason"] == "it was a test"


@pytest.mark.deep
def test_the_least_memory_of_a_service_is_enough_to_explain(tmp_path):
    """It counts from what the process holds already, as that of a solve does."""
    with (
        in_thread(tmp_path / "data", replace(LIMITS, memory_mb=256)) as (port, _),
        httpx.Client(base_url=f"http://127.0.0.1:{port}", trust_env=False, timeout=60) as client,
    ):
        told = explained(client, solved(client, TIGHT))
        assert (told["state"], told["reason"]) == ("complete", None)


@pytest.mark.deep
def test_a_process_that_is_killed_or_has_no_memory_is_told_of(client, monkeypatch):
    job = solved(client, TIGHT.replace("= 30", "= 35"))
    monkeypatch.setattr(explainer, "explain", _killed)
    told = explained(client, job)
    assert (told["state"], told["reason"]) == ("failed", "its process was ended by SIGKILL")
    monkeypatch.setattr(explainer, "explain", _out_of_memory)
    told = explained(client, job)
    assert (told["state"], told["reason"]) == ("failed", "memory ran out (1 MB were allowed)")
    monkeypatch.undo()
    assert explained(client, job)["state"] == "complete"


def _killed(*_):
    import os
    import signal

    os.kill(os.getpid(), signal.SIGKILL)


def _out_of_memory(link, text, seconds, _):
    from solver.service.processes.explainer import explain

    explain(link, text, seconds, 1)


def first(client: httpx.Client, job: str) -> dict:
    return client.get(f"/api/jobs/{job}/solutions").json()["solutions"][0]


def test_solutions_of_different_jobs_stand_side_by_side(client):
    one, other = solved(client, PLACED), solved(client, PLACED.replace("tooth_step = 6", "tooth_step = 5"))
    page = client.get(f"/compare?a={one}.1&a={other}.{first(client, other)['point'][:12]}.1&a={one}.2")
    assert page.status_code == 200
    text = re.sub(r"\s+", " ", re.sub(r"<(svg|title).*?</\1>", "", page.text, flags=re.S))
    cells = re.search(r"rings\.tooth_step <span class=\"tag\">differs</span></th>((?:<td>\d+</td>)+)", text)
    assert cells and re.findall(r"\d+", cells[1]) == ["6", "5", "6"]
    for name, what in (("parts", "Parts"), ("jigs", "Jigs"), ("teeth", "Teeth")):
        row = re.search(rf"<th scope=\"row\">{what}(?: <span class=\"tag\">differs</span>)?</th>(.*?)</tr>", text)
        figures = [int(cell) for cell in re.findall(r"<td>(\d+)", row[1])]
        found = [first(client, job)["solution"][name] for job in (one, other)]
        assert figures[:2] == found
    assert page.text.count('<svg class="view"') == 3
    scales = {float(box.split()[2]) / float(box.split()[3]) for box in re.findall(r'viewBox="([^"]+)" role', page.text)}
    assert max(scales) - min(scales) < 0.01
    only = client.get(f"/compare?a={one}.1&a={one}.2&only=differs").text
    assert '<tr class="differs">' in only and '<tr><th scope="row"' not in only


def test_gears_that_are_still_to_be_made_are_compared_where_they_are_told(client):
    made = solved(client, PLACED + "[made]\ngears = [{teeth = 12, count = 1}]\n")
    other = solved(client, PLACED)
    count = first(client, made)["solution"]["new_gears"]
    assert count is not None
    for names, cells in ((f"a={made}.1&a={other}.1", [str(count), "–"]), (f"a={other}.1", None)):
        page = client.get(f"/compare?{names}").text
        row = re.search(r'<th scope="row">New gears.*?</th>(.*?)</tr>', page)
        assert (row and re.findall(r"<td>(.*?)</td>", row[1])) == cells


def test_lengths_are_compared_in_inches_where_all_designs_have_them(client):
    inches = [solved(client, PLACED.replace("[bodies]", 'units = "in"\n[bodies]').replace("tooth_step = 6", step))
              for step in ("tooth_step = 6\ntooth_pitch = 0.5", "tooth_step = 5\ntooth_pitch = 0.5")]  # fmt: skip
    millimetres = solved(client, PLACED)
    radii = [first(client, job)["solution"]["envelope_mm"] for job in (*inches, millimetres)]
    for jobs, unit in ((inches, "in"), ([inches[0], millimetres], "mm")):
        page = client.get("/compare?" + "&".join(f"a={job}.1" for job in jobs)).text
        row = re.search(rf'<th scope="row">Radius, {unit}.*?</th>(.*?)</tr>', page)
        known = [radii[0], radii[1] if unit == "in" else radii[2]]
        told = [f"{one / 25.4:.2f}" if unit == "in" else f"{one:.1f}" for one in known]
        assert [one.removesuffix(", least") for one in re.findall(r"<td>(.*?)</td>", row[1])] == told


def test_four_at_most_and_what_is_not_there_is_said(client):
    job = solved(client, PLACED)
    total = client.get(f"/api/jobs/{job}/solutions").json()["total"]
    other = solved(client, PLACED.replace("keep = 3", "keep = 4"))
    names = [f"{job}.{rank}" for rank in range(1, total + 1)] + [f"{other}.1", f"{other}.2"]
    page = client.get("/compare?" + "&".join(f"a={name}" for name in names)).text
    assert "No more than 4 can be side by side" in page and page.count('<svg class="view"') == 4
    gone = client.get(f"/compare?a={job}.99&a=nonsense&a={'x' * 3000}.1&a=../../etc.1").text
    assert "the point has no solution 99" in gone.lower() and "Choose solutions in the table of a job" in gone
    assert client.get("/compare").status_code == 200
    sent = client.get(f"/jobs/{job}/compare", params=[("by", "error"), ("compare", "f.1"), ("compare", f"{other}.f.1")])
    assert (sent.status_code, sent.headers["location"]) == (303, f"/compare?a={job}.f.1&a={other}.f.1")
    nothing = client.get(f"/jobs/{job}/compare?by=error")
    assert (nothing.status_code, nothing.headers["location"]) == (303, "/compare")


def test_what_is_chosen_elsewhere_stays_chosen(client):
    one, other = solved(client, PLACED), solved(client, PLACED.replace("keep = 3", "keep = 4"))
    name = f"{other}.{first(client, other)['point']}.1"
    page = client.get(f"/jobs/{one}?compare={name}").text
    assert f'<input type="hidden" form="filter" name="compare" value="{name}">' in page
    assert "1 is chosen that is not shown here" in page and "Compare (1)" in page
