"""The form filled: by another set, from a job, a file or a link; by keyboard, on a phone, without a script."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest
from commands import ROOT
from playwright.sync_api import Browser, Page, expect
from serving import Running

from page.common import complete, opened

pytestmark = pytest.mark.deep
HALL = (ROOT / "runs" / "configs" / "saturn-hall.toml").read_text(encoding="utf-8")
SWEEP = """title = "Two steps"
[bodies]
set = "jupiter"
grams = {Io = 12}
[rings]
inner_teeth = 24
blanks = 1
[search]
keep = 2
[vary]
rings.tooth_step = [4, 6]
"""


def test_another_set_brings_its_own_values_and_asks_about_what_was_typed(page: Page) -> None:
    page.goto("/")
    page.get_by_label("Tooth step from ring to ring").fill("3 to 9")
    page.get_by_label("Body set").select_option("planets")
    expect(page.get_by_label("Title")).to_have_value("The Sun's planets, Mercury to Neptune")
    expect(page.get_by_label("Blank rings")).to_have_value("0 to 4")
    expect(page.get_by_label("Tooth step from ring to ring")).to_have_value("3 to 9")
    expect(page.locator("#form-said")).to_contain_text("Kept as you have them: Tooth step from ring to ring.")
    expect(page.get_by_label("Tooth step from ring to ring")).to_be_focused()
    page.get_by_role("button", name="Take the starting values for these too").click()
    expect(page.get_by_label("Tooth step from ring to ring")).to_have_value("1 to 8")
    expect(page.locator("#file")).to_contain_text("tooth_step = {min = 1, max = 8}")
    page.get_by_label("Units of length").select_option("in")
    expect(page.get_by_label("Tooth pitch")).to_have_value("0.5")
    expect(page.locator("label", has_text="Tooth pitch")).to_have_text("Tooth pitch [in]")
    page.get_by_role("button", name="Start anew").click()
    expect(page.get_by_label("Title")).to_have_value("Saturn's seven large moons")


def test_what_is_chosen_by_a_choice_is_shown_with_its_units(page: Page) -> None:
    page.goto("/")
    page.get_by_text("What drives it", exact=True).click()
    expect(page.get_by_label("Motors that you have")).to_be_hidden()
    page.get_by_label("Driven by").select_option("motor")
    page.get_by_label("Motors that you have").fill("2; 5")
    page.get_by_label("The time wished for is of").fill("Titan")
    page.get_by_label("A revolution of it takes").fill("40")
    page.get_by_text("What holds the parts", exact=True).click()
    page.get_by_label("Arms, and how the model stands").select_option("table")
    page.get_by_text("Bars, saw and workmanship", exact=True).click()
    page.get_by_label("Lengths of the bars that you have").fill("914; 1829,5")
    expect(page.locator("#file")).to_contain_text("stock = [914, 1829.5]")
    data = tomllib.loads(page.locator("#file").inner_text())
    assert data["drive"] == {"motor_rpm": [2, 5], "turn": {"body": "Titan", "seconds": 40}}
    assert data["supports"] == {"model": "table"}
    expect(page.locator("#file-state")).to_have_text("This can be submitted.")


def test_a_fault_in_what_is_folded_away_is_unfolded_and_focused(page: Page) -> None:
    page.goto("/")
    page.get_by_text("Proportions of the rings", exact=True).click()
    page.get_by_label("Rim").fill("1,200")
    page.get_by_text("Proportions of the rings", exact=True).click()
    page.get_by_role("button", name="Submit the design").click()
    expect(page.get_by_label("Rim")).to_be_focused()
    beside = page.locator('[data-error="rings.rim"]')
    expect(beside).to_have_text("may be 1.200 or 1200; write one of them")
    assert beside.get_attribute("id") in page.get_by_label("Rim").get_attribute("aria-describedby").split()
    page.get_by_label("Title").focus()
    page.locator("#design-refused a").click()
    expect(page.get_by_label("Rim")).to_be_focused()
    page.get_by_label("Rim").fill("6,5")
    expect(page.locator("#file")).to_contain_text("rim = 6.5")
    expect(page.locator("#file-state")).to_have_text("This can be submitted.")


def test_a_sweep_is_made_in_the_form_and_solved(page: Page) -> None:
    page.goto("/")
    page.get_by_label("Body set").select_option("jupiter")
    expect(page.get_by_label("Title")).to_have_value("Jupiter's four large moons")
    page.get_by_text("Try several, one after the other", exact=True).click()
    page.get_by_label("Try these tooth steps").fill("4, 6")
    page.get_by_label("Try so many blanks").fill("1 to 2")
    expect(page.locator("#file-state")).to_have_text(re.compile("^A sweep: 4 designs, each solved by itself"))
    page.get_by_role("button", name="Submit the design").click()
    page.wait_for_url(re.compile("/jobs/[0-9a-f]{16}$"))
    expect(page.locator("#job progress")).to_have_attribute("max", "4")


def test_a_job_is_changed_and_unchanged_is_the_same_job(page: Page, service: Running) -> None:
    job = complete(service, SWEEP)
    page.goto(f"/jobs/{job}/change")
    expect(page.get_by_label("Try these tooth steps")).to_have_value("4, 6")
    expect(page.get_by_label("Also in the file, as TOML")).to_have_value(re.compile("grams = {Io = 12}"))
    expect(page.locator("#form-said")).to_contain_text("The form has no field for some of it")
    page.get_by_role("button", name="Submit the design").click()
    page.wait_for_url(re.compile(f"/jobs/{job}$"))
    with service.client() as client:
        points = client.get(f"/api/jobs/{job}/points").json()["points"]
    page.goto(f"/jobs/{job}/change?point={points[1]['point']}")
    expect(page.locator("#form-said")).to_contain_text("its point with tooth step 6")
    expect(page.get_by_label("Tooth step from ring to ring")).to_have_value("6")
    page.get_by_label("Blank rings").fill("2")
    page.get_by_role("button", name="Submit the design").click()
    page.wait_for_url(re.compile("/jobs/(?!" + job + ")[0-9a-f]{16}$"))


def test_a_design_in_a_link_fills_the_form_and_is_sent_to_nobody_by_opening_it(
    browser: Browser, service: Running
) -> None:
    with opened(browser, service, permissions=["clipboard-read", "clipboard-write"]) as page:
        page.goto("/")
        page.get_by_label("Title").fill("Für Ω, “shared”")
        expect(page.locator("#file")).to_contain_text("Für Ω")
        page.get_by_role("button", name="Copy a link to it").click()
        expect(page.locator("#link-said")).to_contain_text("Copied")
        link = page.evaluate("navigator.clipboard.readText()")
        text = page.locator("#file").inner_text()
    assert "#design=z." in link and len(link) < 1200
    plain = f"{service.address}#design=" + "title%20%3D%20%22Plain%22%0A%5Bbodies%5D%0Aset%20%3D%20%22uranus%22%0A"
    asked: list[str] = []
    for address, title in ((link, "Für Ω, “shared”"), (plain, "Plain")):
        with opened(browser, service) as page:
            asked.clear()
            page.on("request", lambda request: asked.append(request.url))
            page.goto(address)
            expect(page.get_by_label("Title")).to_have_value(title)
            assert not [url for url in asked if "z." in url or "Plain" in url]
            if address == link:
                expect(page.locator("#file")).to_have_text(text)
            page.get_by_label("Title").fill("Changed since")
            page.reload()
            expect(page.get_by_label("Title")).to_have_value("Changed since")
    with opened(browser, service) as page:
        page.goto(f"{service.address}#design=z.nonsense")
        expect(page.locator("#design-refused")).to_contain_text("damaged")


def test_a_file_is_chosen_pasted_or_dropped(page: Page) -> None:
    page.goto("/")
    page.get_by_label("A file of yours").set_input_files(
        [{"name": "hall.toml", "mimeType": "application/toml", "buffer": HALL.encode()}]
    )
    expect(page.get_by_label("Title")).to_have_value(tomllib.loads(HALL)["title"])
    expect(page.get_by_label("Title")).to_be_focused()
    expect(page.locator("#file-state")).to_have_text("This can be submitted.")
    page.get_by_label("A design or sweep, as TOML or JSON").fill("[bodies\n")
    page.get_by_role("button", name="Fill the form from it").click()
    expect(page.locator("#e-text")).to_contain_text("not valid TOML")
    expect(page.get_by_label("Title")).to_have_value(tomllib.loads(HALL)["title"])
    page.evaluate(
        """(text) => {
      const held = new DataTransfer();
      held.items.add(new File([text], "sweep.toml"));
      document.getElementById("whole").dispatchEvent(new DragEvent("drop", { dataTransfer: held, cancelable: true }));
    }""",
        SWEEP,
    )
    expect(page.get_by_label("Title")).to_have_value("Two steps")
    expect(page.locator("#file")).to_contain_text("Two steps")
    with page.expect_download() as waited:
        page.get_by_role("button", name="Save it as a file").click()
    assert waited.value.suggested_filename == "Two-steps.toml"
    assert Path(waited.value.path()).read_text(encoding="utf-8") == page.locator("#file").text_content()


def test_without_a_script_the_form_is_sent_with_faults_beside_fields(browser: Browser, service: Running) -> None:
    with opened(browser, service, java_script_enabled=False) as page:
        page.goto("/")
        assert page.get_by_role("button", name="Copy a link to it").count() == 0
        page.get_by_label("Body set").select_option("uranus")
        page.get_by_role("button", name="Take this set").click()
        expect(page.get_by_label("Title")).to_have_value("Uranus' five large moons")
        page.get_by_text("Proportions of the rings", exact=True).click()
        page.get_by_label("Rim").fill("-1")
        page.get_by_role("button", name="Submit the design").click()
        expect(page.locator('[data-error="rings.rim"]')).to_have_text("must be a length from 0 to 1000000 mm")
        expect(page.get_by_label("Rim")).to_have_attribute("aria-invalid", "true")
        expect(page.get_by_label("Rim")).to_be_focused()
        page.get_by_label("Rim").fill("6")
        page.get_by_label("Frame", exact=True).select_option("round")
        expect(page.get_by_label("Diameter")).to_be_visible()
        page.get_by_role("button", name="Check it and show its file").click()
        expect(page.locator("#file-state")).to_have_text("This can be submitted.")
        expect(page.locator("#file")).to_contain_text('frame = {shape = "round", diameter = 640}')
        page.get_by_label("Title").focus()
        page.keyboard.press("Enter")
        page.wait_for_url(re.compile("/jobs/[0-9a-f]{16}$"))


def test_by_keyboard_on_a_phone(browser: Browser, service: Running) -> None:
    with opened(browser, service, viewport={"width": 360, "height": 740}, is_mobile=True, has_touch=True) as page:
        page.goto("/")
        page.evaluate("for (const fold of document.querySelectorAll('details')) fold.open = true")
        for label, value in (("Driven by", "motor"), ("Arms, and how the model stands", "wall"), ("Tooth form", "saw")):
            page.get_by_label(label).select_option(value)
        over = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
        assert over <= 0
        page.get_by_label("Body set").focus()
        page.keyboard.press("ArrowDown")
        expect(page.get_by_label("Title")).to_have_value("The seven planets of TRAPPIST-1, b to h")
        expect(page.get_by_label("Body set")).to_be_focused()
        page.locator("summary", has_text="Try several").focus()
        page.keyboard.press("Enter")
        expect(page.get_by_label("Try these tooth steps")).to_be_hidden()


def test_faults_of_the_text_beside_the_form_are_said_there_or_at_the_field_that_says_it_too(page: Page) -> None:
    page.goto("/")
    page.get_by_label("Also in the file, as TOML").evaluate("area => { area.closest('details').open = true }")
    page.get_by_label("Also in the file, as TOML").fill("[rings]\nrim = 7\n")
    beside = page.locator('[data-error="rings.rim"]')
    expect(beside).to_contain_text("stands in the text beside the form as well")
    page.get_by_label("Also in the file, as TOML").fill("[loads]\nhand_n = -2\n")
    expect(page.locator('[data-error="rest"]')).to_contain_text("loads.hand_n = -2")
    page.get_by_role("button", name="Submit the design").click()
    expect(page.get_by_label("Also in the file, as TOML")).to_be_focused()
