"""The whole way of a maker through the page: form, job, comparison, change, explanation, loosening, sheets, setting;
once with the mouse and once by keyboard alone."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Locator, Page, expect
from serving import Running

from page.common import opened, solutions

pytestmark = pytest.mark.deep
MINUTES = 240_000  # ms, for a solve, an explanation or sheets on a busy machine
TABS = 400  # presses of Tab within which everything of a page is reached


class Hand:
    """Works the page with the mouse."""

    def __init__(self, page: Page) -> None:
        self.page = page

    def press(self, what: Locator) -> None:
        what.click()

    def write(self, field: Locator, text: str) -> None:
        field.fill(text)

    def choose(self, field: Locator, word: str) -> None:
        field.select_option(label=word)


class Keys(Hand):
    """Works the page by keyboard alone: to everything by Tab, as far as it takes."""

    def _reach(self, what: Locator) -> None:
        expect(what).to_be_visible()
        for _ in range(TABS):
            if what.evaluate("one => one === document.activeElement"):  # asked anew: forms are renewed
                return
            self.page.keyboard.press("Tab")
        raise AssertionError(f"not reached by Tab: {what}")

    def press(self, what: Locator) -> None:
        self._reach(what)
        box = what.evaluate("one => one.type === 'checkbox'")
        self.page.keyboard.press("Space" if box else "Enter")

    def write(self, field: Locator, text: str) -> None:
        self._reach(field)
        self.page.keyboard.press("Control+A")
        self.page.keyboard.type(text)

    def choose(self, field: Locator, word: str) -> None:
        """By arrow keys: letters typed slowly, on a busy machine, begin anew with each."""
        self._reach(field)
        words = [one.strip() for one in field.locator("option").all_inner_texts()]
        here = words.index(field.locator("option:checked").inner_text().strip())
        for _ in range(abs(words.index(word) - here)):
            self.page.keyboard.press("ArrowDown" if words.index(word) > here else "ArrowUp")
        expect(field.locator("option:checked")).to_have_text(word)


@pytest.fixture(params=[Hand, Keys], ids=["mouse", "keyboard"])
def hand(request: pytest.FixtureRequest, browser: Browser, service: Running) -> Iterator[Hand]:
    with opened(browser, service, permissions=["clipboard-read", "clipboard-write"]) as page:
        yield request.param(page)


def test_from_the_form_to_a_model_that_is_set_to_a_date(hand: Hand, service: Running) -> None:
    page = hand.page
    _fill(hand)
    job = _submitted(hand)
    (best, other, *_) = solutions(service, job)
    _compared(hand, best["solution"], other["solution"])
    tight = _changed(hand)
    assert tight != job
    loosened = _loosened(hand)
    assert loosened not in (job, tight)
    again = solutions(service, loosened)[0]["solution"]
    assert again["worst_error_pct"] >= best["solution"]["worst_error_pct"] - 1e-9
    _sheets(hand)
    _set(hand, [ring["name"] for ring in again["rings"] if not ring["blank"]])
    page.go_back()
    expect(page.get_by_role("heading", level=1)).to_have_text("Moons of a stair")
    page.reload()
    expect(page.locator("#job .state")).to_have_text("solved, best is proven")


def _fill(hand: Hand) -> None:
    """A small model of Jupiter's moons with a motor, in millimetres, with a decimal comma; a fault on the way."""
    page = hand.page
    page.goto("/")
    hand.write(page.get_by_label("Title"), "Moons of a stair")
    hand.choose(page.get_by_label("Body set"), "Jupiter's four large moons")
    expect(page.locator("#form-said")).to_contain_text("starting values")
    expect(page.get_by_label("Title")).to_have_value("Moons of a stair")
    hand.write(page.get_by_label("Teeth of the innermost ring"), "33")
    hand.write(page.get_by_label("Tooth step from ring to ring"), "4")
    hand.write(page.get_by_label("Blank rings"), "1 to 2")
    pitch = page.get_by_label("Tooth pitch")
    hand.write(pitch, "12,5 mm")
    expect(page.locator('[data-error="rings.tooth_pitch"]')).not_to_be_empty()
    expect(page.locator("#file-state")).to_have_text("1 thing is wrong: Tooth pitch; it cannot be submitted yet.")
    hand.write(pitch, "12,5")
    expect(page.locator("#file")).to_contain_text("tooth_pitch = 12.5")
    hand.press(page.locator("summary", has_text="What drives it"))
    hand.choose(page.get_by_label("Driven by"), "a motor")
    hand.write(page.get_by_label("Motors that you have"), "2; 5")
    hand.write(page.get_by_label("The time wished for is of"), "Io")
    hand.write(page.get_by_label("A revolution of it takes"), "40")
    hand.write(page.get_by_label("Greatest error allowed"), "5")
    hand.write(page.get_by_label("Solutions to keep"), "4")
    expect(page.locator("#file")).to_contain_text('turn = {body = "Io", seconds = 40}')
    expect(page.locator("#file-state")).to_have_text("This can be submitted.")


def _submitted(hand: Hand) -> str:
    """Submit the form, wait until it is over; the job."""
    page = hand.page
    before = page.url
    hand.press(page.get_by_role("button", name="Submit the design", exact=True))
    page.wait_for_url(re.compile(r"/jobs/[0-9a-f]{16}$"), timeout=MINUTES)
    assert page.url != before
    expect(page.locator("#job .state")).to_have_text(re.compile("proven"), timeout=MINUTES)
    return page.url.rpartition("/")[2]


def _compared(hand: Hand, best: dict, other: dict) -> None:
    """Choose the first two solutions, see them side by side, and go back."""
    page = hand.page
    row = page.locator("tbody.solution").first
    expect(row).to_contain_text("a turn of Io takes")
    drive = best["drive"]
    expect(row).to_contain_text(f"motor of {drive['motor_rpm']} rpm, pinion of {drive['pinion']} teeth")
    for number in (1, 2):
        hand.press(page.get_by_role("checkbox", name=f"Compare solution {number}", exact=True))
    hand.press(page.get_by_role("button", name=re.compile("^Compare")))
    page.wait_for_url(re.compile("/compare"))
    jigs = page.locator("tr", has=page.locator("th", has_text=re.compile("^Jigs")))
    for one in (best, other):
        expect(jigs).to_contain_text(str(one["jigs"]))
    expect(page.locator("tr", has=page.locator("th", has_text=re.compile("^Proof")))).to_contain_text(
        "proven to be the 2nd in order"
    )
    hand.press(page.get_by_role("link", name="Moons of a stair", exact=True).first)
    page.wait_for_url(re.compile(r"/jobs/[0-9a-f]{16}"))


def _changed(hand: Hand) -> str:
    """Change the design, so that nothing fits; the job of that."""
    page = hand.page
    hand.press(page.get_by_role("link", name="Change this design"))
    expect(page.locator("#form-said")).to_contain_text("Filled from the job Moons of a stair")
    expect(page.get_by_label("Motors that you have")).to_have_value("2, 5")
    hand.write(page.get_by_label("Greatest error allowed"), "0,001")
    expect(page.locator("#file")).to_contain_text("max_error_pct = 0.001")
    job = _submitted(hand)
    expect(page.locator("#job .state")).to_have_text("no solution, proven")
    return job


def _loosened(hand: Hand) -> str:
    """Have it explained on its own page, and take the loosening of the error; the job that is made of it."""
    page = hand.page
    why = page.locator("#explanation")
    expect(why).to_have_attribute("data-state", "complete", timeout=MINUTES)
    expect(why).to_contain_text("Greatest error, in percent: 0.001")
    offer = why.locator("li", has=page.locator("form"), has_text="Greatest error")
    hand.press(offer.get_by_role("button", name="Solve it like this"))
    expect(page.locator(".origin")).to_contain_text("search.max_error_pct 0.001 →")
    expect(page.locator("#job .state")).to_have_text("solved, best is proven", timeout=MINUTES)
    return page.url.rpartition("/")[2]


def _sheets(hand: Hand) -> None:
    page = hand.page
    link = page.get_by_role("link", name="Sheets (zip) of solution 1", exact=True)
    expect(link).to_be_visible()
    with page.expect_download(timeout=MINUTES) as saved:
        hand.press(link)
    assert saved.value.suggested_filename == "Moons-of-a-stair-1-sheets.zip"
    with zipfile.ZipFile(io.BytesIO(saved.value.path().read_bytes())) as archive:
        assert "index.html" in archive.namelist() and archive.testzip() is None


def _set(hand: Hand, bodies: list[str]) -> None:
    """Open the model of the first solution and set it: first to a day that there is not."""
    page = hand.page
    hand.press(page.get_by_role("link", name="No. 1", exact=True).first)
    page.wait_for_url(re.compile("/1$"))
    expect(page.locator("#drive")).to_contain_text("a turn of Io takes")
    expect(page.locator("#drive")).to_contain_text(re.compile("40 s are wished, which [0-9.]+ rpm would give"))
    date, button = page.get_by_label("Date and time"), page.get_by_role("button", name="Set to this date")
    hand.write(date, "2027-02-30")
    hand.press(button)
    expect(page.locator("#e-date")).to_contain_text("no such day")
    hand.write(date, "2027-02-28T18:00+01:00")
    hand.press(button)
    expect(page.locator("#set-at")).to_have_text("2027-02-28 17:00 UTC")
    expect(page.locator("#angles tbody tr")).to_have_count(len(bodies))
    for body in bodies:
        row = page.locator("#angles tr", has_text=body)
        expect(row.locator("[data-show=angle]")).to_have_text(row.locator("[data-show=true]").inner_text())


def test_a_design_is_passed_on_as_a_link_and_opens_filled_for_another(browser: Browser, service: Running) -> None:
    with opened(browser, service, permissions=["clipboard-read", "clipboard-write"]) as page:
        _fill(Hand(page))
        page.get_by_role("button", name="Copy a link to it").click()
        expect(page.locator("#link-said")).to_contain_text("Copied")
        link = page.evaluate("navigator.clipboard.readText()")
        file = page.locator("#file").inner_text()
    with opened(browser, service, viewport={"width": 360, "height": 740}, is_mobile=True, has_touch=True) as page:
        page.goto(link)
        expect(page.get_by_label("Title")).to_have_value("Moons of a stair")
        expect(page.locator("#file")).to_have_text(file)
        page.locator('[name="made.gears"]').evaluate("one => { one.closest('details').open = true }")
        page.get_by_label("Gears in the drawer").fill("3 of 9; 14")
        page.get_by_label("What is best").select_option("error, new_gears")
        page.get_by_label("Keep free").fill("250 to 290")
        expect(page.locator("#file")).to_contain_text("keep_free = [[250, 290]]")
        expect(page.locator("#file")).to_contain_text(re.compile(r"\[\[made\.gears\]\]\s*teeth = 9\s*count = 3"))
        expect(page.locator("#file-state")).to_have_text("This can be submitted.")
        assert page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth") <= 0
        page.get_by_role("button", name="Submit the design", exact=True).click()
        page.wait_for_url(re.compile(r"/jobs/[0-9a-f]{16}$"))
        expect(page.locator("#job .state")).to_have_text("solved, best is proven", timeout=MINUTES)
        assert solutions(service, page.url.rpartition("/")[2])[0]["solution"]["new_gears"] is not None
