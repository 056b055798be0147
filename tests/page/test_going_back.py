"""What was typed is there again after going back or loading anew, and is what is sent."""

from __future__ import annotations

import re
import tomllib

import pytest
from browser import FLAGS, chromium
from playwright.sync_api import Browser, Page, Playwright, expect
from serving import Running

from page.common import PLAIN, open_model, opened

pytestmark = pytest.mark.deep


def sent_is_shown(page: Page) -> str:
    """Check that what would be sent is what the form shows and what its file says, and return that."""
    said = page.locator("#file-state:not(.stale)")
    expect(said).to_have_text("This can be submitted.")
    shown = page.evaluate("""() => {
      const form = document.getElementById("design");
      const field = (name) => form.querySelector(`[data-field="${name}"]`);
      const set = field("bodies.set").value;
      const open = [...form.querySelectorAll("[data-set]")].filter((one) => !one.hidden);
      const boxes = [...open[0].querySelectorAll("input")];
      const frames = [...form.querySelectorAll('[data-only-if^="fit.frame"]')].filter((one) => one.checkVisibility());
      return {
        title: field("title").value, set, open: open.map((one) => one.dataset.set), frames: frames.length,
        teeth: field("rings.inner_teeth").value, frame: field("fit.frame.shape").value,
        all: boxes.every((box) => box.checked), only: boxes.filter((box) => box.checked).map((box) => box.value),
        front: field("search.front").value !== "",
        units: field("units").value, unit: form.querySelector("[data-unit]").textContent,
      };
    }""")
    assert shown["open"] == [shown["set"]] and shown["unit"] == shown["units"]
    assert bool(shown["frames"]) == bool(shown["frame"])
    sent: list[str] = []
    page.route("**/api/jobs", lambda route: (sent.append(route.request.post_data), route.abort()))
    page.get_by_role("button", name="Submit the design").click()
    expect(page.locator("#design-refused")).to_contain_text("nothing was submitted")
    page.unroute("**/api/jobs")
    (text,) = sent
    assert page.locator("#file").text_content() == text
    data = tomllib.loads(text)
    assert (data["title"], data["bodies"]["set"], data["units"]) == (shown["title"], shown["set"], shown["units"])
    assert data["bodies"].get("only", shown["only"]) == shown["only"]
    assert ("only" in data["bodies"]) is not shown["all"]
    teeth = data["rings"]["inner_teeth"]
    assert (f"{teeth['min']} to {teeth['max']}" if isinstance(teeth, dict) else str(teeth)) == shown["teeth"]
    assert data["fit"].get("frame", {"shape": ""})["shape"] == shown["frame"]
    assert ("front" in data["search"]) is shown["front"]
    return text


def filled(page: Page) -> str:
    """A form with something of each kind changed; what it would send."""
    page.goto("/")
    page.get_by_label("Title").fill("Not what stands there at first")
    page.get_by_role("checkbox", name=re.compile("^Titan ")).uncheck()  # of a set that is not chosen in the end
    page.get_by_label("Body set").select_option("jupiter")
    page.get_by_role("checkbox", name=re.compile("^Europa ")).uncheck()
    page.get_by_label("Teeth of the innermost ring").fill("24")
    page.get_by_label("Frame", exact=True).select_option("round")
    page.get_by_label("Diameter").fill("2000")
    page.get_by_label("Units of length").select_option("in")
    expect(page.get_by_label("Tooth pitch")).to_have_value("0.5")  # what stood there was no one's wish
    page.get_by_label("Compromises").select_option("error, parts")
    expect(page.locator("#file")).to_contain_text("diameter = 2000")
    expect(page.locator("#file")).to_contain_text("front")
    page.get_by_label("A design or sweep, as TOML or JSON").fill("# half a thou")
    return sent_is_shown(page)


@pytest.mark.parametrize("way", ["submitted and back", "a link and back", "back and on", "reload", "reload at once"])
def test_what_was_typed_is_there_again_and_is_what_is_sent(browser: Browser, service: Running, way: str) -> None:
    with opened(browser, service) as page:
        text = filled(page)
        if way == "submitted and back":
            page.get_by_role("button", name="Submit the design").click()
            page.wait_for_url(re.compile("/jobs/"))
            page.go_back()
        elif way == "a link and back":
            page.goto("/jobs/0000000000000000")
            page.go_back()
        elif way == "back and on":
            page.goto("/jobs/0000000000000000")
            page.go_back()
            page.go_forward()
            page.go_back()
        elif way == "reload at once":
            page.get_by_label("Title").fill("Typed just now")
            text = text.replace("Not what stands there at first", "Typed just now")
            page.reload()
        else:
            page.reload()
        expect(page.get_by_label("Title")).not_to_have_value(re.compile("^Saturn"))
        assert sent_is_shown(page) == text
        assert page.get_by_label("A design or sweep, as TOML or JSON").input_value() == "# half a thou"
        page.get_by_label("Body set").select_option("saturn")
        assert '"Titan"' not in sent_is_shown(page)
        page.get_by_role("button", name="Start anew").click()
        expect(page.get_by_label("Title")).to_have_value(re.compile("^Saturn"))
        anew = sent_is_shown(page)
        assert "jupiter" not in anew and "only" not in anew
        page.reload()
        assert sent_is_shown(page) == anew


def test_what_a_browser_puts_into_the_form_by_itself_is_what_is_sent(page: Page) -> None:
    """However late it comes, and also where the whole page was kept: browsers tell of it by `pageshow` alone."""
    page.goto("/")
    for kept in (False, True):
        expect(page.locator("#file-state")).to_have_text("This can be submitted.")
        page.evaluate(
            """(persisted) => {
          const form = document.getElementById("design");
          form.querySelector('[data-field="bodies.set"]').value = persisted ? "uranus" : "planets";
          form.querySelector('[data-field="units"]').value = persisted ? "mm" : "in";
          form.querySelector('[data-field="fit.frame.shape"]').value = "";
          form.querySelector('[data-field="rings.inner_teeth"]').value = persisted ? "41" : "43";
          document.getElementById("text").value = "# put back by the browser";
          dispatchEvent(new PageTransitionEvent("pageshow", { persisted }));
        }""",
            kept,
        )
        expect(page.locator("#file")).to_contain_text(f"inner_teeth = {41 if kept else 43}")
        assert f'set = "{"uranus" if kept else "planets"}"' in sent_is_shown(page)
        expect(page.locator("#e-text")).to_contain_text("bodies")


def test_a_page_that_the_browser_has_kept_whole_is_what_is_sent(
    playwright: Playwright, browser: Browser, service: Running
) -> None:
    """The back/forward cache; a browser that does not use it for this page loads it anew, and the same holds."""
    keeps = playwright.chromium.launch(
        executable_path=chromium(), args=list(FLAGS), ignore_default_args=["--disable-back-forward-cache"]
    )
    with opened(keeps, service) as page:
        text = filled(page)
        page.evaluate("document.querySelector('[data-field=\"bodies.set\"]').value = 'uranus'")  # told to nobody
        page.goto("/jobs/0000000000000000", wait_until="commit")
        page.evaluate("history.back()")
        page.wait_for_url(re.compile(r"/$"), wait_until="commit")
        expect(page.get_by_label("Title")).to_have_value("Not what stands there at first")
        kept = page.get_by_label("Body set").input_value() == "uranus"
        assert (sent_is_shown(page) == text) is not kept
    keeps.close()


def test_a_model_does_what_its_controls_say_after_going_back(page: Page, service: Running) -> None:
    open_model(page, service, PLAIN)
    page.get_by_label("Seen from").select_option("back")
    page.locator("#speed").fill("0.5")
    page.goto("/")
    page.go_back()
    expect(page.get_by_role("button", name="Play")).to_be_visible()
    back = page.get_by_label("Seen from").input_value() == "back"
    speed = 10 ** float(page.locator("#speed").input_value())
    page.evaluate("dispatchEvent(new PageTransitionEvent('pageshow', { persisted: false }))")
    assert (page.locator("#upward").get_attribute("transform") == "scale(-1 -1)") is back
    assert float(page.locator("#speed-told").inner_text()) == pytest.approx(speed, rel=0.02)
    page.evaluate("""() => {
      document.getElementById("side").value = "back";
      document.getElementById("speed").value = "1";
      dispatchEvent(new PageTransitionEvent("pageshow", { persisted: false }));
    }""")
    assert page.locator("#upward").get_attribute("transform") == "scale(-1 -1)"
    expect(page.locator("#speed-told")).to_have_text("10")
