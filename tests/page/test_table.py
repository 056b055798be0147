"""The page of a job: its table, its plot."""

from __future__ import annotations

import json
import re

import pytest
from playwright.sync_api import Page, expect
from serving import Running
from sweeping import HARD, SMALL

from page.common import BARREN, PLAIN, complete, going_on, solutions_all

pytestmark = pytest.mark.deep


def test_hostile_titles_stay_text(page: Page, service: Running) -> None:
    title = '<img src=x onerror=alert(1)> & "quotes" </script> {{ 7 * 7 }}'
    job = complete(service, PLAIN.replace('"Three moons for the hall"', json.dumps(title)))
    page.goto("/")
    expect(page.get_by_role("link", name=title)).to_be_visible()
    page.goto(f"/jobs/{job}")
    expect(page.get_by_role("heading", level=1)).to_have_text(title)
    page.locator("table.ranked tbody a").first.click()
    expect(page.get_by_role("heading", level=1)).to_contain_text(title)


def test_a_job_without_a_solution_says_that_this_is_proven(page: Page, service: Running) -> None:
    page.goto(f"/jobs/{complete(service, BARREN)}")
    expect(page.locator("#job .state-none")).to_have_text("no solution, proven")
    expect(page.locator("#filter")).to_be_hidden()  # there is nothing to look through
    expect(page.locator("#count")).to_have_text("There is no solution.")
    expect(page.locator("#explanation h2")).to_have_text("This limit cannot be met")


def column(page: Page, place: int) -> list[float]:
    cells = page.locator(f"table.ranked .figures td:nth-child({place})")
    return [float(text) for text in cells.all_text_contents()]


def test_sort_and_filter(page: Page, service: Running) -> None:
    page.goto(f"/jobs/{complete(service, SMALL)}")
    parts = page.get_by_role("button", name="Parts")
    parts.click()
    heading = page.locator("th:has(#sort-parts)")
    expect(heading).to_have_attribute("aria-sort", "ascending")
    assert column(page, 4) == sorted(column(page, 4))
    expect(parts).to_be_focused()
    parts.click()
    expect(heading).to_have_attribute("aria-sort", "descending")
    falling = column(page, 4)
    assert falling == sorted(falling, reverse=True) and falling[0] == max(
        row["solution"]["parts"] for row in solutions_all(service, page)
    )
    page.get_by_label("Error, %, at most").fill("12.5")
    page.get_by_label("With the text").fill("inner_teeth = 20")
    page.get_by_role("button", name="Filter").click()
    expect(page).to_have_url(re.compile("error=12.5"))
    wanted = [
        row for row in solutions_all(service, page)
        if row["solution"]["worst_error_pct"] <= 12.5
        and (row["settings"]["rings.inner_teeth"] == 20 or row["point"].startswith("20"))
    ]  # fmt: skip
    assert wanted  # a point's name is a hash, and is looked through too
    expect(page.locator("#count")).to_have_text(f"{len(wanted)} solution{'s' if len(wanted) > 1 else ''}")
    address = page.url
    page.get_by_role("link", name="Show all").click()
    expect(page.locator("#count")).to_have_text(f"{len(solutions_all(service, page))} solutions")
    page.go_back()
    expect(page).to_have_url(address)
    expect(page.locator("#count")).to_have_text(f"{len(wanted)} solution{'s' if len(wanted) > 1 else ''}")


def test_a_limit_that_is_no_number_is_said_beside_its_field(page: Page, service: Running) -> None:
    page.goto(f"/jobs/{complete(service, PLAIN)}")
    page.get_by_label("Parts, at most").fill("few")
    page.get_by_role("button", name="Filter").click()
    expect(page.locator("#wrong-parts")).to_have_text("must be a number")
    expect(page.get_by_label("Parts, at most")).to_have_attribute("aria-invalid", "true")


def test_pages_of_the_table_hold_every_solution_once(page: Page, service: Running) -> None:
    page.goto(f"/jobs/{complete(service, SMALL)}?by=-parts")
    seen: list[str] = []
    while True:
        seen += page.eval_on_selector_all("table.ranked .figures th a", "links => links.map(link => link.href)")
        further = page.locator("#results .pages").get_by_role("button", name="Next")
        if not further.count():
            break
        number = int(re.search(r"page (\d+)", page.locator("#results .pages").inner_text())[1])
        further.click()
        expect(page.locator("#results .pages")).to_contain_text(f"page {number + 1} of")
    assert len(seen) == len(set(seen)) == len(solutions_all(service, page))


def test_a_text_that_is_looked_for_limits_the_plot_too(page: Page, service: Running) -> None:
    page.goto(f"/jobs/{complete(service, SMALL)}?text=nothing+of+the+kind")
    expect(page.locator("#count")).to_have_text("None of the solutions found is within these limits.")
    assert page.locator("svg.plot").count() == 0


def test_every_mark_of_the_plot_leads_to_what_it_names(page: Page, service: Running) -> None:
    page.goto(f"/jobs/{complete(service, SMALL)}")
    found = {(row["point"], row["rank"]): row["solution"] for row in solutions_all(service, page)}
    marks = page.locator("svg.plot a")
    assert marks.count() > 3
    for mark in marks.all():
        point, rank = mark.get_attribute("href").split("/")[-2:]
        parts, error = re.match(r"(\d+) parts, (\S+) % error", mark.get_attribute("aria-label")).groups()
        solution = found[point, int(rank)]
        assert int(parts) == solution["parts"]
        assert float(error) == pytest.approx(solution["worst_error_pct"], rel=1e-3)
    name = marks.first.get_attribute("aria-label")
    marks.first.click()
    expect(page.locator(".lead")).to_contain_text(f"{name.split()[0]} parts")


def test_reload_in_the_middle_shows_the_same(page: Page, service: Running) -> None:
    with going_on(service, HARD) as job:
        page.goto(f"/jobs/{job}?by=-teeth&error=40")
        expect(page.locator("#job [data-show=finished]")).to_have_text("2")
        expect(page.locator("#results")).to_have_attribute("data-finished", "2")
        table = page.locator("table.ranked").inner_text()
        page.reload()
        expect(page.locator("#job [data-show=state]")).to_have_text("being solved")
        assert page.locator("#job [data-show=finished]").inner_text() == "2"
        assert page.locator("table.ranked").inner_text() == table
        expect(page.locator("#results h2")).to_have_text("Solutions so far")
        assert page.get_by_label("Error, %, at most").input_value() == "40"
