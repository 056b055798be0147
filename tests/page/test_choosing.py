"""Choosing on the page: why nothing fits, a loosening at one click, up to four solutions side by side."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Browser, Page, expect
from serving import Running
from sweeping import SMALL

from page.common import PLAIN, THIRDS, complete, opened, solutions

pytestmark = pytest.mark.deep

TIGHT = """
title = "Jupiter's moons, too tight"
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


LONG = 60_000  # ms: what is found out may take long on a busy machine


def test_what_does_not_fit_is_explained_and_loosened_by_keyboard(page: Page, service: Running) -> None:
    job = complete(service, TIGHT)
    page.goto(f"/jobs/{job}")
    why = page.locator("#explanation")
    expect(why.get_by_role("heading", level=2)).to_have_text("These limits cannot be met together")
    expect(why.locator(".limits li").last).to_have_text("Greatest error, in percent: 0.1 search.max_error_pct")
    expect(page.get_by_role("status").filter(has_text="2 loosenings found")).to_have_count(1)
    offers = why.locator(".offers li")
    expect(offers).to_have_count(2)
    expect(offers.last).to_contain_text("0.1 → 1.6294")
    expect(offers.last).to_contain_text("an error of 1.6293 %")
    button = offers.last.get_by_role("button", name="Solve it like this")
    button.focus()
    page.keyboard.press("Enter")
    expect(page.locator(".origin")).to_have_text(
        "This is Jupiter's moons, too tight, with search.max_error_pct 0.1 → 1.6294."
    )
    expect(page.locator("table.ranked tbody tr").first).to_contain_text("1.6293")
    page.locator(".origin a").click()
    expect(page).to_have_url(re.compile(job), timeout=LONG)
    expect(why.locator(".offers li")).to_have_count(2)  # it was kept


def test_while_it_is_found_out_it_is_said_how_far_it_is_and_what_is_known(page: Page, service: Running) -> None:
    """Of a file that takes some seconds."""
    text = TIGHT.replace("tooth_step = 4", "tooth_step = {min = 1, max = 9}").replace("= 30", "= {min = 20, max = 40}")
    text = (
        text.replace('directions = "none"', "")
        .replace("= 0.1", "= 0.0000001")
        .replace("[search]", "[search]\nmax_parts = 14")
    )
    page.goto(f"/jobs/{complete(service, text)}")
    expect(page.locator("#explanation .working")).to_contain_text("It is being found out")
    expect(page.locator("#explanation .offers li").first).to_be_visible(timeout=LONG)


def test_without_a_script_it_is_asked_for_and_taken_by_plain_forms(browser: Browser, service: Running) -> None:
    with opened(browser, service, java_script_enabled=False) as page:
        job = complete(service, TIGHT.replace("= 30", "= 36"))
        page.goto(f"/jobs/{job}")
        page.get_by_role("button", name="Find out why").click()
        expect(page).to_have_url(re.compile(f"/jobs/{job}/explanation$"), timeout=LONG)
        expect(page.locator(".offers li").first).to_be_visible(timeout=LONG)  # the page comes anew by itself
        page.locator("#take-1").click()
        expect(page.locator(".origin")).to_contain_text("too tight", timeout=LONG)


def test_a_point_of_a_sweep_is_explained_on_a_page_of_its_own(page: Page, service: Running) -> None:
    job = complete(service, SMALL.replace("{min = 18, max = 32}", "[18, 19, 30, 31]"))
    page.goto(f"/jobs/{job}")
    page.goto(str(page.locator('a[href*="/explanation?point="]').first.get_attribute("href")))
    expect(page.locator(".lead")).to_contain_text("The point with inner ring of ")
    expect(page.locator(".offers li").first).to_be_visible(timeout=LONG)
    page.locator("#take-1").click()
    expect(page.locator(".origin")).to_contain_text("its point", timeout=LONG)


def test_up_to_four_are_chosen_and_stand_side_by_side(page: Page, service: Running) -> None:
    job = complete(service, PLAIN)
    page.goto(f"/jobs/{job}")
    boxes = page.locator("table.ranked").get_by_role("checkbox")
    button = page.locator("#compare")
    expect(button).to_be_disabled()
    for place in (0, 2, 3, 4):
        boxes.nth(place).check()
    expect(button).to_have_text("Compare (4)")
    expect(boxes.nth(1)).to_be_disabled()
    expect(page.locator("#chosen")).to_have_text("4 are chosen, which is the most.")
    boxes.nth(3).uncheck()
    expect(boxes.nth(1)).to_be_enabled()
    boxes.nth(4).uncheck()
    button.click()
    expect(page).to_have_url(re.compile(r"/compare\?a="), timeout=LONG)
    found = solutions(service, job)
    teeth = page.locator("table.side tr", has=page.get_by_role("rowheader", name=re.compile("^Teeth"))).locator("td")
    assert [int(text.split(",")[0]) for text in teeth.all_text_contents()] == [
        found[place]["solution"]["teeth"] for place in (0, 2)
    ]
    assert page.locator("table.side svg.view").count() == 2
    assert page.locator("table.side tr.differs").count() == page.locator("table.side .tag").count() > 2
    said = page.locator("#main").inner_text()
    page.reload()
    assert page.locator("#main").inner_text() == said
    page.get_by_role("link", name="Show only what differs").click()
    expect(page.locator("table.side tbody tr:not(.differs, .group, .pictures)")).to_have_count(0)


def test_solutions_of_another_job_are_added(page: Page, service: Running) -> None:
    one, other = complete(service, PLAIN), complete(service, THIRDS)
    page.goto(f"/compare?a={one}.1&a={one}.2")
    page.locator(f'.more a[href^="/jobs/{other}?"]').click()
    expect(page.locator("#chosen")).to_have_text("2 of up to 4 chosen; 2 of them are not shown here.")
    page.locator("table.ranked").get_by_role("checkbox").first.check()
    page.get_by_role("button", name="Jigs").click()  # what is chosen stays chosen
    expect(page.locator("#sort-jigs")).to_be_focused()
    page.get_by_role("button", name="Compare (3)").click()
    expect(page.locator("table.side thead th")).to_have_count(4)
    page.get_by_role("link", name=re.compile("Take out No. 1 of Three moons for")).click()
    expect(page.locator("table.side thead th")).to_have_count(3)


def test_solutions_of_two_pages_are_compared_with_what_sets_their_points_apart(page: Page, service: Running) -> None:
    page.goto(f"/jobs/{complete(service, SMALL)}")
    boxes = page.locator("table.ranked").get_by_role("checkbox")
    boxes.first.check()
    chosen = boxes.first.get_attribute("value")
    page.locator("#results .pages").get_by_role("button", name="Next").click()
    expect(page.locator("#results .pages")).to_contain_text("page 2 of")
    for box in boxes.all():
        if box.get_attribute("value").split(".")[0] != chosen.split(".")[0]:
            box.check()
            break
    page.locator("#compare").click()
    expect(page.locator("table.side thead .varied")).to_have_count(2)
    asked = page.locator("table.side tbody", has_text="What the designs ask for").locator("tr.differs")
    expect(asked.first).to_contain_text(".")


def test_on_a_phone_the_first_column_stays_and_the_others_are_swiped(browser: Browser, service: Running) -> None:
    job = complete(service, PLAIN)
    with opened(browser, service, viewport={"width": 360, "height": 740}, is_mobile=True, has_touch=True) as page:
        page.goto(f"/compare?a={job}.1&a={job}.2&a={job}.3&a={job}.4")
        heading = page.get_by_role("rowheader", name=re.compile("^Teeth"))
        before = heading.bounding_box()
        page.locator(".sideways").evaluate("one => one.scrollTo(400, 0)")
        page.wait_for_function("document.querySelector('.sideways').scrollLeft > 200")
        after = heading.bounding_box()
        assert before is not None and after is not None and abs(before["x"] - after["x"]) < 1
        over = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
        assert over <= 0
