"""The page of a job in a browser: rows that open, pictures, sheets, points of a sweep, a job that goes on, a phone."""

from __future__ import annotations

import io
import re
import zipfile

import pytest
from browser import NotThere, axe
from playwright.sync_api import Browser, Page, expect
from serving import Running
from sweeping import HARD, SMALL

from page.common import PLAIN, complete, going_on, opened, serious_faults, solutions
from solver.service.page import wording
from solver.service.page.rendering import build

pytestmark = pytest.mark.slow
LONG = """
title = "Ten links, měřeno v palcích"
units = "in"
[bodies]
list = [
 {name = "The innermost of all the small moons of a far planet", period = "1"},
 {name = "A moon whose name has more than forty letters in it", period = "5"},
 {name = "Third", period = "40"},
]
[rings]
inner_teeth = 24
tooth_step = 3
blanks = 8
tooth_pitch = 0.4
[fit]
directions = "none"
[search]
keep = 4
front = ["error", "jigs"]
max_error_pct = 80
"""


def wide(page: Page) -> int:
    """How far a page reaches to the right of what is seen [CSS px]."""
    return int(page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth"))


def test_a_row_opens_by_keyboard_and_shows_errors_and_picture(page: Page, service: Running) -> None:
    job = complete(service, PLAIN)
    (best, *_) = solutions(service, job)
    page.goto(f"/jobs/{job}")
    row = page.locator("tbody.solution").first
    row.locator("summary", has_text="Errors by body").focus()
    expect(row.locator("summary", has_text="Errors by body")).to_be_focused()
    page.keyboard.press("Enter")
    for ring in best["solution"]["rings"]:
        expect(row.locator(".bodies tr", has_text=ring["name"])).to_contain_text(str(ring["teeth"]))
    expect(row.locator(".worst")).to_have_count(1)
    page.keyboard.press("Tab")
    expect(row.locator("summary", has_text="Picture")).to_be_focused()
    page.keyboard.press("Enter")
    picture = row.locator("img.picture")
    expect(picture).to_be_visible()
    expect(picture).to_have_js_property("complete", True)
    assert picture.evaluate("image => image.naturalWidth") > 100
    assert "solution 1" in (picture.get_attribute("alt") or "")
    # What is opened stands below all lines of the train, orders and drive too.
    lines = [one.bounding_box() for one in row.locator(".gears").all()]
    below = row.locator(".actions").bounding_box()
    assert len(lines) == 2 + (best["solution"]["orders"] != 1) and below is not None
    assert all(line is not None and line["y"] + line["height"] <= below["y"] + 1 for line in lines)


@pytest.mark.deep
def test_sheets_of_a_row_are_saved_under_the_name_of_the_design(page: Page, service: Running) -> None:
    page.goto(f"/jobs/{complete(service, PLAIN)}")
    with page.expect_download(timeout=120_000) as saved:
        page.get_by_role("link", name="Sheets (zip) of solution 1", exact=True).click()
    assert saved.value.suggested_filename == "Three-moons-for-the-hall-1-sheets.zip"
    with zipfile.ZipFile(io.BytesIO(saved.value.path().read_bytes())) as archive:
        assert "index.html" in archive.namelist()


@pytest.mark.deep
def test_from_a_sweep_to_a_point_to_its_design_and_its_model(page: Page, service: Running) -> None:
    job = complete(service, SMALL)
    page.goto(f"/jobs/{job}")
    expect(page.locator("#points tbody tr")).to_have_count(25)
    page.locator("#points-next").focus()
    page.keyboard.press("Enter")
    expect(page.locator("#points .pages")).to_contain_text("points 26 to 50 of 60")
    expect(page.locator("#points-head")).to_be_focused()
    expect(page).to_have_url(re.compile("points=2"))
    page.go_back()
    expect(page.locator("#points .pages")).to_contain_text("points 1 to 25 of 60")
    link = page.locator("#points tbody th a").nth(2)
    said = link.inner_text()
    link.click()
    expect(page.locator("#point-head")).to_have_text(said[:1].upper() + said[1:])
    expect(page.locator("#point .state")).to_have_text("best is proven")
    point = page.url.rsplit("/", 1)[1]
    assert page.locator("#change").get_attribute("href") == f"/jobs/{job}/change?point={point}"
    with page.expect_download() as saved:
        page.get_by_role("link", name="Save the design as a file").click()
    assert saved.value.suggested_filename == f"Three-moons-of-Saturn-{point[:12]}.toml"
    assert "[bodies]" in saved.value.path().read_text(encoding="utf-8")
    page.locator("tbody.solution th a").first.click()
    expect(page.locator("#stage")).to_be_visible()


@pytest.mark.deep
def test_a_job_that_goes_on_shows_its_time_and_what_can_be_done(page: Page, service: Running) -> None:
    with going_on(service, HARD) as job:
        page.goto(f"/jobs/{job}")
        expect(page.locator("#job .state")).to_have_text("being solved")
        expect(page.locator("#job [data-show=finished]")).to_have_text("2")
        before = page.locator("[data-show=elapsed]").inner_text()
        expect(page.locator("[data-show=elapsed]")).not_to_have_text(before)
        expect(page.get_by_role("button", name="Remove")).to_be_disabled()
        expect(page.get_by_role("button", name="Remove")).to_have_accessible_description(
            re.compile("once it is stopped")
        )
        expect(page.locator("#go-on")).to_have_count(0)
        with service.client() as client:
            client.post(f"/api/jobs/{job}/stop", headers={"content-type": "application/json"})
        expect(page.locator("#job .state")).to_have_text("stopped, not proven")
        expect(page.locator("#lost")).to_have_text("The job is now: stopped, not proven.")
        expect(page.locator("#stop")).to_have_count(0)
        expect(page.locator("#go-on")).to_be_visible()
        expect(page.locator("#remove")).to_be_visible()


def test_a_bound_that_grows_is_cut_off_as_the_server_cuts_it(page: Page, service: Running) -> None:
    page.goto(f"/jobs/{complete(service, PLAIN)}")
    bounds = [0.57386582, 0.57389999, 0.3, 0.1, 0.001, 0.00099999, 1e-9, 3.9999e-12, 12.0, 45.67899, 0.0, None]
    script = f"async (all) => all.map((await import('/static/{build()}/words.js')).atLeast)"
    told = page.evaluate(script, bounds)
    assert told == [wording.at_least(one) for one in bounds]


@pytest.mark.deep
def test_what_is_open_stays_open_when_the_table_is_taken_anew(page: Page, service: Running) -> None:
    page.goto(f"/jobs/{complete(service, PLAIN)}")
    page.locator("tbody.solution summary").first.click()
    page.get_by_role("button", name="Parts").click()
    expect(page).to_have_url(re.compile("by=parts"))
    expect(page.locator(".bodies:visible")).to_have_count(1)


@pytest.mark.deep
@pytest.mark.parametrize("width", [1280, 360])
def test_ten_links_and_long_names_fit(browser: Browser, service: Running, width: int) -> None:
    job = complete(service, LONG)
    with opened(browser, service, viewport={"width": width, "height": 900}) as page:
        page.goto(f"/jobs/{job}")
        expect(page.locator(".ranked > thead")).to_contain_text("Radius, in")
        page.locator("tbody.solution summary").first.click()
        assert wide(page) == 0
        gears = page.locator(".within").first.bounding_box()
        assert gears is not None and gears["x"] >= 0 and gears["x"] + gears["width"] <= width
        for table in (".bodies", ".gears"):
            box = page.locator(table).first.bounding_box()
            assert box is not None and box["x"] + box["width"] <= width
        if width == 1280:
            assert page.evaluate(
                "[...document.querySelectorAll('#results .scroll')].every(e => e.scrollWidth <= e.clientWidth)"
            )
        page.goto(f"/jobs/{job}/points/{solutions(service, job)[0]['point']}")
        assert wide(page) == 0


@pytest.mark.deep
def test_without_a_script_the_page_reads_and_its_points_turn(browser: Browser, service: Running) -> None:
    job = complete(service, SMALL)
    with opened(browser, service, java_script_enabled=False) as page:
        page.goto(f"/jobs/{job}")
        expect(page.locator("#copy")).to_be_hidden()
        page.locator("#points-next").click()
        expect(page.locator("#points .pages")).to_contain_text("points 26 to 50 of 60")
        page.locator("tbody.solution summary").first.click()
        expect(page.locator(".bodies").first).to_be_visible()


@pytest.mark.deep
def test_point_and_running_job_can_be_read_by_all(page: Page, service: Running) -> None:
    try:
        script = axe()
    except NotThere as fault:
        pytest.skip(str(fault))
    job = complete(service, LONG)
    page.goto(f"/jobs/{job}/points/{solutions(service, job)[0]['point']}")
    assert serious_faults(page, script) == []
    with going_on(service, HARD) as hard:
        page.goto(f"/jobs/{hard}")
        expect(page.locator("#job .state")).to_have_text("being solved")
        assert serious_faults(page, script) == []
