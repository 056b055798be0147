"""For everyone: by keyboard, on a phone, without a script, with a token, after the service was killed."""

from __future__ import annotations

import re
import signal
from pathlib import Path

import httpx
import pytest
from browser import NotThere, axe, chromium
from playwright.sync_api import Browser, Page, expect
from serving import JSON, TOML, Running, running
from sweeping import HARD, SMALL

from page.common import BARREN, PLAIN, THIRDS, complete, model_of, opened, ring_angles, serious_faults, solutions

pytestmark = pytest.mark.deep


def _tab_to(page: Page, selector: str, most: int = 90) -> None:
    for _ in range(most):
        page.keyboard.press("Tab")
        if page.evaluate("selector => document.activeElement.matches(selector)", selector):
            return
    raise AssertionError(f"{selector} cannot be reached by the tabulator key")


def test_from_the_form_to_the_turning_model_by_keyboard_alone(page: Page) -> None:
    page.goto("/")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "Skip to the content"
    _tab_to(page, "#f-title")
    page.keyboard.press("Control+A")
    page.keyboard.type("By keyboard")
    _tab_to(page, '[data-set="saturn"] input[value="Enceladus"]')
    page.keyboard.press("Space")
    _tab_to(page, "#design button[type=submit]")
    page.keyboard.press("Enter")
    page.wait_for_url(re.compile("/jobs/"))
    expect(page.locator("#job [data-show=state]")).to_have_text("solved, best is proven")
    expect(page.locator("#results h2")).to_have_text("Solutions")
    _tab_to(page, "#sort-jigs")
    page.keyboard.press("Enter")
    expect(page.locator("th:has(#sort-jigs)")).to_have_attribute("aria-sort", "ascending")
    _tab_to(page, "table.ranked tbody a")
    page.keyboard.press("Enter")
    page.wait_for_url(re.compile(r"/\d+$"))
    _tab_to(page, "#stage")
    for _ in range(3):
        page.keyboard.press("ArrowRight")
    page.keyboard.press("PageUp")
    assert page.locator("#view").get_attribute("data-turns") == "1.03"
    expect(page.locator("#stage")).to_have_attribute("aria-valuetext", re.compile("^1.03 turns of Mimas, 2.* UTC$"))
    page.keyboard.press("Home")
    assert page.locator("#view").get_attribute("data-turns") == "0"
    page.keyboard.press("Space")
    expect(page.get_by_role("button", name="Pause")).to_be_visible()
    expect(page.locator("#view")).to_have_attribute("data-turns", re.compile(r"^0\.[1-9]"))
    page.keyboard.press("Space")
    expect(page.get_by_role("button", name="Play")).to_be_visible()


def every_page(service: Running) -> dict[str, str]:
    """The address of each kind of page, as full as it gets."""
    job, sweep = complete(service, PLAIN), complete(service, SMALL)
    first, third = (
        f"{job}.{row['point']}.{row['rank']}" for row in (solutions(service, job)[place] for place in (0, 2))
    )
    return {
        "start": "/",
        "job": f"/jobs/{job}?compare={first.partition('.')[2]}&compare={third.partition('.')[2]}&parts=few",
        "sweep": f"/jobs/{sweep}",
        "compare": f"/compare?a={first}&a={third}&a={job}.99",
        "why": f"/jobs/{complete(service, BARREN)}",
        "model": model_of(service, THIRDS)[0],
        "fault": "/jobs/0000000000000000",
    }


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_no_serious_fault_on_any_page(browser: Browser, service: Running, scheme: str) -> None:
    try:
        script = axe()
    except NotThere as fault:
        pytest.skip(str(fault))
    with opened(browser, service, color_scheme=scheme) as page:
        for name, address in every_page(service).items():
            page.goto(address)
            if name == "start":
                page.get_by_label("Teeth of the innermost ring").fill("none")
                expect(page.get_by_label("Teeth of the innermost ring")).to_have_attribute("aria-invalid", "true")
            if name == "why":
                page.locator("#take-1").wait_for()
            if name == "model":
                page.locator("#turns").fill("31.3")
            serious = serious_faults(page, script)
            assert not serious, f"{name}, {scheme}: {serious}"


def test_no_page_is_wider_than_a_phone(browser: Browser, service: Running) -> None:
    with opened(browser, service, viewport={"width": 360, "height": 740}, is_mobile=True, has_touch=True) as page:
        for name, address in every_page(service).items():
            page.goto(address)
            over = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
            assert over <= 0, f"{name} is {over} pixels too wide"


def test_without_a_script_everything_can_be_read_and_a_file_submitted(browser: Browser, service: Running) -> None:
    with opened(browser, service, java_script_enabled=False) as page:
        page.goto("/")
        box = page.get_by_label("A design or sweep, as TOML or JSON")
        box.fill("[bodies]\nset = 'satrun'\n")
        page.get_by_role("button", name="Submit this text").click()
        expect(page.locator("#e-text")).to_contain_text('did you mean "saturn"?')
        assert box.input_value() == "[bodies]\nset = 'satrun'\n"
        complete(service, PLAIN)
        box.fill(PLAIN)
        page.get_by_role("button", name="Submit this text").click()
        expect(page.get_by_role("heading", level=1)).to_have_text("Three moons for the hall")
        page.get_by_role("button", name="Parts").click()
        expect(page.locator("th:has(#sort-parts)")).to_have_attribute("aria-sort", "ascending")
        page.locator("table.ranked tbody a").first.click()
        assert len(ring_angles(page)) >= 3
        assert "the model stands still" in page.locator("noscript").text_content()


def test_killed_and_started_again_the_page_comes_back_by_itself(browser: Browser, tmp_path: Path) -> None:
    data, words = tmp_path / "jobs", ("--solve-seconds", "1000000")
    with running(data, *words) as first, opened(browser, first) as page:
        with first.client() as client:
            job = client.post("/api/jobs", content=HARD, headers=TOML).json()["id"]
        page.goto(f"/jobs/{job}")
        expect(page.locator("#job [data-show=finished]")).to_have_text("2")
        before = int(page.locator("#job").get_attribute("data-version"))
        page.evaluate("window.stayed = true")
        first.end(signal.SIGKILL)
        expect(page.locator("#lost")).to_have_text("Connection lost, trying again.")
        with running(data, *words, "--port", str(first.port)) as second:
            expect(page.locator("#lost")).to_have_text(re.compile("Connected again.|The job is .*"))
            expect(page.locator("#job [data-show=state]")).to_have_text("being solved")
            assert int(page.locator("#job").get_attribute("data-version")) > before
            with second.client() as client:
                client.post(f"/api/jobs/{job}/stop", headers=JSON)
            expect(page.locator("#job [data-show=state]")).to_have_text("stopped, not proven")
            assert page.evaluate("window.stayed"), "the page was not loaded anew"


def test_with_a_token_a_browser_enters_by_a_page_and_submits_without_a_script(browser: Browser, tmp_path: Path) -> None:
    token = "a-token-that-nobody-guesses-0123456789"
    with (
        running(tmp_path / "jobs", RINGWRIGHT_TOKEN=token) as one,
        opened(browser, one, java_script_enabled=False) as page,
    ):
        page.goto("/")
        assert page.url.endswith("/enter")
        page.get_by_label("Token of this service").fill("not-the-token")
        page.get_by_role("button", name="Open").click()
        expect(page.get_by_role("alert")).to_have_text("That is not the token.")
        page.get_by_label("Token of this service").fill(token)
        page.get_by_role("button", name="Open").click()
        expect(page).to_have_url(f"{one.address.rstrip('/')}/")
        page.locator("textarea[name=text]").fill(PLAIN)
        page.locator("form:has(textarea[name=text]) button").first.click()
        expect(page).to_have_url(re.compile("/jobs/[0-9a-f]{16}$"))
        page.get_by_role("link", name="Log out").click()
        page.get_by_role("button", name="Log out").click()
        expect(page.get_by_label("Token of this service")).to_be_visible()
        page.goto("/")
        assert page.url.endswith("/enter")


def test_nothing_comes_from_elsewhere(browser: Browser, service: Running) -> None:
    asked: set[str] = set()
    with opened(browser, service) as page:
        page.on("request", lambda request: asked.add(httpx.URL(request.url).netloc.decode()))
        for address in every_page(service).values():
            page.goto(address)
    assert asked == {httpx.URL(service.address).netloc.decode()}


def test_static_files_may_be_kept_and_are_named_by_their_content(service: Running) -> None:
    with service.client() as client:
        text = client.get("/").text
        names = set(re.findall(r"/static/[0-9a-f]{12}/[\w.]+", text))
        assert {name.rsplit("/", 1)[1] for name in names} == {"icon.svg", "style.css", "start.js"}
        for name in names:
            assert "immutable" in client.get(name).headers["cache-control"]
        script = next(name for name in names if name.endswith("start.js"))
        folder = script.rsplit("/", 1)[0]
        assert client.get(f"{folder}/pages.py").status_code == 404
        assert client.get(script.replace(folder, "/static/000000000000")).status_code == 404


def test_a_browser_is_named_or_the_reason_is(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("browser.shutil.which", lambda _: None)
    with pytest.raises(NotThere, match="apt-get install chromium"):
        chromium.__wrapped__()
    with pytest.raises(NotThere, match="no npm"):
        axe_without_npm()


def axe_without_npm() -> None:
    from browser import _packed

    _packed()
