"""The page in a real browser: from the form to the model that turns, by mouse, finger and keyboard."""

from __future__ import annotations

import json
import re
import signal
import tomllib
from collections.abc import Iterator
from contextlib import contextmanager
from fractions import Fraction
from pathlib import Path

import httpx
import pytest
from browser import FLAGS, NotThere, axe, chromium
from commands import CONFIGS, LONG
from playwright.sync_api import Browser, Page, Playwright, expect, sync_playwright
from serving import JSON, TOML, Running, running
from sweeping import HARD, SMALL

expect.set_options(timeout=30_000)

MOONS = """
title = "Three moons for the hall"
[bodies]
set = "saturn"
only = ["Mimas", "Tethys", "Rhea"]
sense = "{sense}"
[rings]
inner_teeth = 24
tooth_step = 4
blanks = 1
tooth_pitch = 12
addendum = 2.5
rim = 3
[arbors]
third_gears = {thirds}
[search]
keep = 8
"""
PLAIN = MOONS.format(sense="same", thirds=0)
THIRDS = MOONS.format(sense="either", thirds=2).replace("Three moons", "Three moons, either way,")
BARREN = MOONS.format(sense="same", thirds=0) + "max_error_pct = 0\nmax_parts = 1\n"

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def playwright() -> Iterator[Playwright]:
    with sync_playwright() as found:
        yield found


@pytest.fixture(scope="module")
def browser(playwright: Playwright) -> Iterator[Browser]:
    try:
        path = chromium()
    except NotThere as fault:
        pytest.skip(str(fault))
    found = playwright.chromium.launch(executable_path=path, args=list(FLAGS))
    yield found
    found.close()


@pytest.fixture(scope="module")
def service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    with running(tmp_path_factory.mktemp("page") / "jobs", "--solve-seconds", "1000000") as one:
        yield one


@contextmanager
def opened(browser: Browser, service: Running, **more: object) -> Iterator[Page]:
    """A page of a browser of its own; nothing that it runs may fail. The model does not move by itself."""
    words = {"base_url": service.address, "reduced_motion": "reduce", "viewport": {"width": 1280, "height": 900}}
    context = browser.new_context(**{**words, **more})
    faults: list[str] = []
    context.on("weberror", lambda fault: faults.append(str(fault.error)))
    context.on(
        "console", lambda said: faults.append(said.text) if "Content Security Policy" in said.text else None
    )  # fmt: skip
    try:
        yield context.new_page()
        assert not faults, faults
    finally:
        context.close()


@pytest.fixture
def page(browser: Browser, service: Running) -> Iterator[Page]:
    with opened(browser, service) as one:
        yield one


def complete(service: Running, text: str) -> str:
    """The id of a job with that text, once it is over."""
    with service.client() as client:
        job = str(client.post("/api/jobs", content=text, headers=TOML).json()["id"])
        with client.stream("GET", f"/api/jobs/{job}/events") as stream:
            assert any(line == "event: end" for line in stream.iter_lines())
    return job


@contextmanager
def going_on(service: Running, text: str) -> Iterator[str]:
    """The id of a job that no machine is done with, removed in the end."""
    with service.client() as client:
        job = str(client.post("/api/jobs", content=text, headers=TOML).json()["id"])
        try:
            yield job
        finally:
            client.post(f"/api/jobs/{job}/stop", headers=JSON)
            with client.stream("GET", f"/api/jobs/{job}/events") as stream:
                assert any(line == "event: end" for line in stream.iter_lines())
            assert client.delete(f"/api/jobs/{job}").status_code == 204


def solutions(service: Running, job: str) -> list[dict]:
    with service.client() as client:
        return client.get(f"/api/jobs/{job}/solutions").json()["solutions"]


def model_of(service: Running, text: str, place: int = 0) -> tuple[str, dict]:
    """The address of a model, and its solution."""
    job = complete(service, text)
    found = solutions(service, job)[place]
    return f"/jobs/{job}/{found['point']}/{found['rank']}", found["solution"]


def ring_angles(page: Page) -> list[float]:
    """The angle of every ring as it is drawn [degrees], innermost first."""
    found = page.eval_on_selector_all(
        ".ring", "rings => rings.map(ring => [Number(ring.dataset.ring), ring.getAttribute('transform')])"
    )
    return [float(re.fullmatch(r"rotate\((\S+)\)", told)[1]) for _, told in sorted(found)]


def apart(one: float, other: float) -> float:
    """How far two angles are from each other [degrees]."""
    return abs((one - other + 180) % 360 - 180)


def should_stand(solution: dict, turns: Fraction) -> list[float]:
    """Where every ring should stand [degrees] after so many turns of the first, from the answer's exact ratios."""
    found = []
    for ring in solution["rings"]:
        sign = -1 if ring["sense"] == "reverse" else 1
        found.append(float((Fraction(1, 4) + sign * turns / Fraction(*ring["ratio"])) % 1) * 360)
    return found


# -- from the form to the model ----------------------------------------------------------------------------------------


def test_fill_the_form_submit_watch_open_the_best_and_read_its_angles(page: Page, service: Running) -> None:
    page.goto("/")
    page.get_by_label("Title").fill("Galilean moons, by form")
    page.get_by_label("Body set").select_option("jupiter")
    page.get_by_role("checkbox", name=re.compile("^Europa ")).uncheck()
    page.get_by_label("Teeth of the innermost ring").fill("24, 30")
    page.get_by_label("Blank rings").fill("0 to 1")
    page.get_by_label("Time limit, s").fill("500")
    file = page.locator("#file")
    expect(file).to_contain_text('only = ["Io", "Ganymede", "Callisto"]')
    expect(file).to_contain_text("inner_teeth = [24, 30]")
    expect(file).to_contain_text("blanks = {min = 0, max = 1}")
    expect(page.locator("#file-state")).to_have_text("This can be submitted.")
    page.get_by_role("button", name="Submit the design").click()

    page.wait_for_url(re.compile(r"/jobs/[0-9a-f]{16}$"))
    expect(page.get_by_role("heading", level=1)).to_have_text("Galilean moons, by form")
    expect(page.locator("#job [data-show=state]")).to_have_text("complete")
    best = page.locator("table.ranked tbody tr").first
    expect(best).to_contain_text("proven best")
    assert page.locator("#job progress").evaluate("bar => bar.value / bar.max") == 1
    best.get_by_role("link").click()

    page.wait_for_url(re.compile(r"/1$"))
    job = page.url.split("/")[-3]
    solution = solutions(service, job)[0]["solution"]
    page.get_by_label("Turns of Io", exact=True).fill("12.375")
    angles = ring_angles(page)
    assert len(angles) == len(solution["rings"])
    for drawn, exact in zip(angles, should_stand(solution, Fraction("12.375"))):
        assert apart(drawn, exact) < 1e-3


@pytest.mark.deep
def test_progress_of_a_sweep_comes_by_itself(page: Page, service: Running) -> None:
    page.goto("/")
    page.get_by_label("A design or sweep, as TOML or JSON").fill(SMALL)
    expect(page.locator("#text-state")).to_have_text("A sweep with 60 points; it can be submitted.")
    page.get_by_role("button", name="Submit this text").click()
    page.wait_for_url(re.compile(r"/jobs/"))
    expect(page.locator("#job [data-show=state]")).to_have_text("complete")
    expect(page.locator("#job [data-show=counts]")).to_have_text("60 points: 60 solved")
    total = len(solutions(service, page.url.rsplit("/", 1)[1]))
    expect(page.locator("#results h2")).to_have_text("Solutions")
    with service.client() as client:
        total = client.get(f"/api/jobs/{page.url.rsplit('/', 1)[1]}/solutions").json()["total"]
    expect(page.locator("#count")).to_have_text(f"{total} solutions")
    page.goto("/")
    expect(page.locator("#jobs").get_by_role("link", name="Three moons of Saturn").first).to_be_visible()


@pytest.mark.deep
def test_the_list_of_jobs_follows_a_job_from_its_start_to_its_end(page: Page, service: Running) -> None:
    with going_on(service, HARD) as job:
        page.goto("/")
        item = page.locator(f'[data-job="{job}"]')
        expect(item.locator("[data-show=finished]")).to_have_text("2")
        expect(item.locator("[data-show=state]")).to_have_text("being solved")
        with service.client() as client:
            client.post(f"/api/jobs/{job}/stop", headers=JSON)
        expect(item.locator("[data-show=state]")).to_have_text("stopped")


@pytest.mark.deep
def test_stop_a_job_go_on_with_it_and_remove_it(page: Page, service: Running) -> None:
    with service.client() as client:
        job = client.post("/api/jobs", content=LONG, headers=TOML).json()["id"]
    page.goto(f"/jobs/{job}")
    state = page.locator("#job [data-show=state]")
    expect(state).to_have_text("being solved")
    page.get_by_role("button", name="Stop").click()
    expect(state).to_have_text("stopped")
    expect(page.locator("#job [data-show=reason]")).to_have_text("a user stopped it")
    expect(page.get_by_role("button", name="Stop")).to_be_hidden()
    page.get_by_role("button", name="Go on").click()
    expect(state).to_have_text("being solved")
    page.get_by_role("button", name="Stop").click()
    expect(state).to_have_text("stopped")
    page.get_by_text("Remove", exact=True).click()
    page.get_by_role("button", name="Remove this job").click()
    page.wait_for_url(re.compile(r":\d+/$"))
    assert page.locator(f'[data-job="{job}"]').count() == 0
    assert page.goto(f"/jobs/{job}").status == 404
    expect(page.get_by_role("heading", level=1)).to_have_text("Not here")


# -- faults ------------------------------------------------------------------------------------------------------------


@pytest.mark.deep
def test_a_fault_is_said_beside_its_field_and_goes_when_it_is_mended(page: Page) -> None:
    page.goto("/")
    field = page.get_by_label("Teeth of the innermost ring")
    field.fill("2 to 30")
    beside = page.locator('[data-error="rings.inner_teeth"]')
    expect(beside).to_have_text("must lie within 3 and 1000")
    expect(field).to_have_attribute("aria-invalid", "true")
    assert beside.get_attribute("id") in field.get_attribute("aria-describedby").split()
    expect(page.locator("#file-state")).to_have_text("1 thing is wrong; it cannot be submitted yet.")
    page.get_by_role("button", name="Submit the design").click()
    expect(page.locator("#design-refused")).to_contain_text("Not submitted: one thing is wrong. rings.inner_teeth")
    expect(field).to_be_focused()
    field.fill("30")
    expect(beside).to_be_empty()
    assert field.get_attribute("aria-invalid") is None
    expect(page.locator("#file-state")).to_have_text("This can be submitted.")


@pytest.mark.deep
def test_faults_of_tables_and_lists_are_said_beside_the_nearest_field(page: Page) -> None:
    page.goto("/")
    for body in ("Enceladus", "Tethys", "Dione", "Rhea", "Titan", "Iapetus"):
        page.get_by_role("checkbox", name=re.compile(f"^{body} ")).uncheck()
    expect(page.locator('[data-error="bodies"]')).to_contain_text("at least 2 are needed")
    expect(page.get_by_label("Body set")).to_have_attribute("aria-invalid", "true")
    page.get_by_role("checkbox", name=re.compile("^Titan ")).check()
    page.get_by_label("Frame").select_option("round")
    page.get_by_label("Diameter").fill("")
    expect(page.locator('[data-error="fit.frame.diameter"]')).to_contain_text("is missing")


@pytest.mark.deep
def test_faults_of_a_whole_file_are_listed_beside_the_box(page: Page) -> None:
    page.goto("/")
    box = page.get_by_label("A design or sweep, as TOML or JSON")
    box.fill("[bodies]\nset = 'satrun'\n")
    errors = page.locator("#e-text")
    expect(errors).to_contain_text('bodies.set = "satrun": no set of that name; did you mean "saturn"?')
    expect(box).to_have_attribute("aria-invalid", "true")
    page.get_by_role("button", name="Submit this text").click()
    expect(page.locator("#paste-refused")).to_have_text("Not submitted.")
    box.fill('{"bodies": {"set": "saturn"}}')
    expect(page.locator("#text-state")).to_have_text("A design; it can be submitted.")
    expect(errors).to_be_empty()


@pytest.mark.deep
def test_the_form_goes_on_as_text(page: Page) -> None:
    page.goto("/")
    expect(page.locator("#file")).to_contain_text("[rings]")
    page.get_by_role("button", name="Go on with it as text, below").click()
    box = page.get_by_label("A design or sweep, as TOML or JSON")
    expect(box).to_be_focused()
    assert box.input_value() == page.locator("#file").text_content()


# -- going back --------------------------------------------------------------------------------------------------------


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
      const frames = [...form.querySelectorAll("[data-only-if]")].filter((one) => one.checkVisibility());
      return {
        title: field("title").value, set, open: open.map((one) => one.dataset.set), frames: frames.length,
        teeth: field("rings.inner_teeth").value, frame: field("fit.frame.shape").value,
        all: boxes.every((box) => box.checked), only: boxes.filter((box) => box.checked).map((box) => box.value),
        front: field("search.front").checked,
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
    page.get_by_label("Frame").select_option("round")
    page.get_by_label("Diameter").fill("2000")
    page.get_by_label("Units of length").select_option("in")
    page.get_by_role("checkbox", name=re.compile("^also find every solution")).check()
    expect(page.locator("#file")).to_contain_text("diameter = 2000")
    expect(page.locator("#file")).to_contain_text("front")
    page.get_by_label("A design or sweep, as TOML or JSON").fill("# half a thou")
    return sent_is_shown(page)


@pytest.mark.deep
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


@pytest.mark.deep
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


@pytest.mark.deep
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


@pytest.mark.deep
def test_a_model_does_what_its_controls_say_after_going_back(page: Page, service: Running) -> None:
    address, _ = model_of(service, PLAIN)
    page.goto(address)
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


@pytest.mark.deep
def test_hostile_titles_stay_text(page: Page, service: Running) -> None:
    title = '<img src=x onerror=alert(1)> & "quotes" </script> {{ 7 * 7 }}'
    job = complete(service, PLAIN.replace('"Three moons for the hall"', json.dumps(title)))
    page.goto("/")
    expect(page.get_by_role("link", name=title)).to_be_visible()
    page.goto(f"/jobs/{job}")
    expect(page.get_by_role("heading", level=1)).to_have_text(title)
    page.locator("table.ranked tbody a").first.click()
    expect(page.get_by_role("heading", level=1)).to_contain_text(title)


@pytest.mark.deep
def test_a_job_without_a_solution_says_that_this_is_proven(page: Page, service: Running) -> None:
    page.goto(f"/jobs/{complete(service, BARREN)}")
    expect(page.locator("#results")).to_contain_text("proven: none exists")
    expect(page.locator("#count")).to_have_text("There is no solution.")
    expect(page.locator("#results")).to_contain_text("ringwright explain FILE")


# -- the table ---------------------------------------------------------------------------------------------------------


def column(page: Page, place: int) -> list[float]:
    return [float(text) for text in page.locator(f"table.ranked tbody td:nth-child({place})").all_text_contents()]


def test_sort_filter_and_compare(page: Page, service: Running) -> None:
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


def solutions_all(service: Running, page: Page) -> list[dict]:
    job = re.search("/jobs/([0-9a-f]{16})", page.url)[1]
    with service.client() as client:
        return client.get(f"/api/jobs/{job}/solutions", params={"limit": 10000}).json()["solutions"]


@pytest.mark.deep
def test_two_are_compared_side_by_side_and_a_reload_shows_the_same(page: Page, service: Running) -> None:
    page.goto(f"/jobs/{complete(service, PLAIN)}")
    found = solutions_all(service, page)
    boxes = page.get_by_role("checkbox")
    boxes.nth(0).check()
    page.get_by_role("button", name="Compare the two chosen").click()
    expect(page.get_by_text("Choose two to compare; 1 is chosen.")).to_be_visible()
    page.get_by_role("checkbox").nth(2).check()
    page.get_by_role("button", name="Compare the two chosen").click()
    both = page.locator("table.both")
    expect(both).to_be_visible()
    teeth = both.locator("tr", has_text="Teeth").first.locator("td").all_text_contents()
    assert teeth == [str(found[place]["solution"]["teeth"]) for place in (0, 2)]
    said = page.locator("#results").inner_text()
    page.reload()
    assert page.locator("#results").inner_text() == said


@pytest.mark.deep
def test_a_limit_that_is_no_number_is_said_beside_its_field(page: Page, service: Running) -> None:
    page.goto(f"/jobs/{complete(service, PLAIN)}")
    page.get_by_label("Parts, at most").fill("few")
    page.get_by_role("button", name="Filter").click()
    expect(page.locator("#wrong-parts")).to_have_text("must be a number")
    expect(page.get_by_label("Parts, at most")).to_have_attribute("aria-invalid", "true")


@pytest.mark.deep
def test_pages_of_the_table_hold_every_solution_once(page: Page, service: Running) -> None:
    page.goto(f"/jobs/{complete(service, SMALL)}?by=-parts")
    seen: list[str] = []
    while True:
        seen += page.eval_on_selector_all("table.ranked tbody a", "links => links.map(link => link.href)")
        further = page.get_by_role("button", name="Next")
        if not further.count():
            break
        number = int(re.search(r"page (\d+)", page.locator("#results .pages").inner_text())[1])
        further.click()
        expect(page.locator("#results .pages")).to_contain_text(f"page {number + 1} of")
    assert len(seen) == len(set(seen)) == len(solutions_all(service, page))


@pytest.mark.deep
def test_solutions_of_two_pages_are_compared_with_what_sets_their_points_apart(page: Page, service: Running) -> None:
    page.goto(f"/jobs/{complete(service, SMALL)}")
    page.get_by_role("checkbox").first.check()
    chosen = page.get_by_role("checkbox").first.get_attribute("value")
    page.get_by_role("button", name="Next").click()
    expect(page.locator("#results .pages")).to_contain_text("page 2 of")
    for box in page.get_by_role("checkbox").all():
        if box.get_attribute("value").split(".")[0] != chosen.split(".")[0]:
            box.check()
            break
    page.get_by_role("button", name="Compare the two chosen").click()
    both = page.locator("#both")
    expect(both).to_be_visible()
    expect(both.locator("tbody tr").first).to_contain_text(".")  # a field that is varied, before all figures
    expect(both.locator("tbody tr").first).to_have_class("differs")


@pytest.mark.deep
def test_a_text_that_is_looked_for_limits_the_plot_too(page: Page, service: Running) -> None:
    page.goto(f"/jobs/{complete(service, SMALL)}?text=nothing+of+the+kind")
    expect(page.locator("#count")).to_have_text("None of the solutions found is within these limits.")
    assert page.locator("svg.plot").count() == 0


@pytest.mark.deep
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


@pytest.mark.deep
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


# -- the model turning -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("text", [pytest.param(PLAIN, marks=pytest.mark.deep), THIRDS], ids=["plain", "thirds"])
def test_two_rings_stand_where_the_exact_ratios_say_at_any_time(page: Page, service: Running, text: str) -> None:
    address, solution = model_of(service, text)
    page.goto(address)
    for turns in ("0", "1", "3.7", "-2.25", "1000.125"):
        page.get_by_label("Turns of Mimas", exact=True).fill(turns)
        for drawn, exact in zip(ring_angles(page), should_stand(solution, Fraction(turns))):
            assert apart(drawn, exact) < 1e-3


@pytest.mark.deep
def test_running_it_turns_by_the_clock_at_its_speed(browser: Browser, service: Running) -> None:
    address, solution = model_of(service, PLAIN)
    with opened(browser, service, reduced_motion="no-preference") as page:
        page.clock.install()
        page.goto(address)
        expect(page.get_by_role("button", name="Pause")).to_be_visible()
        page.clock.pause_at(page.evaluate("Date.now()") + 1000)
        before = Fraction(page.locator("#view").get_attribute("data-turns"))
        page.clock.run_for(8000)
        after = Fraction(page.locator("#view").get_attribute("data-turns"))
        speed = Fraction(page.locator("#speed").evaluate("slider => 10 ** Number(slider.value)"))
        assert float((after - before) / speed) == pytest.approx(8, abs=0.1)
        for drawn, exact in zip(ring_angles(page), should_stand(solution, after)):
            assert apart(drawn, exact) < 1e-3
        page.get_by_role("button", name="Pause").click()
        page.clock.run_for(3000)
        assert Fraction(page.locator("#view").get_attribute("data-turns")) == after


IN_MESH = """() => {
  // For each mesh: how many tips of one gear are within the other's tip circle, and how many of those are in its metal.
  const view = document.getElementById("view");
  const tips = (part) => {
    const { teeth, tip } = part.dataset;
    const place = part.getCTM();
    return Array.from({ length: Number(teeth) }, (_, tooth) => {
      const turn = 2 * Math.PI * tooth / Number(teeth);
      return new DOMPoint(tip * Math.cos(turn), tip * Math.sin(turn)).matrixTransform(place);
    });
  };
  return view.dataset.meshes.split(" ").map((mesh) => {
    const [one, other] = mesh.split(":").map((id) => document.getElementById(id));
    let within = 0;
    let inMetal = 0;
    for (const [from, into] of [[one, other], [other, one]]) {
      const inverse = into.getCTM().inverse();
      for (const tip of tips(from)) {
        const at = tip.matrixTransform(inverse);
        if (Math.hypot(at.x, at.y) >= Number(into.dataset.tip)) continue;
        within += 1;
        if (into.querySelector(".teeth").isPointInFill(at)) inMetal += 1;
      }
    }
    return { mesh, within, inMetal };
  });
}"""


@pytest.mark.deep
@pytest.mark.parametrize(
    "text", [PLAIN, THIRDS, (CONFIGS / "saturn-hall.toml").read_text()], ids=["plain", "thirds", "hall"]
)
def test_every_mesh_is_in_mesh_as_it_is_drawn(page: Page, service: Running, text: str) -> None:
    address, solution = model_of(service, text)
    page.goto(address)
    drive = solution["drive"]
    gears = sum(2 + len(link["thirds"]) for link in solution["links"])
    gears += 0 if drive is None else 1 + len(drive["thirds"])
    for turns in ("0", "0.31", "7.77", "-123.4"):
        page.locator("#turns").fill(turns)
        meshes = page.evaluate(IN_MESH)
        assert len(meshes) == gears
        for mesh in meshes:
            assert mesh["within"] >= 1 and mesh["inMetal"] == 0, f"{mesh} after {turns} turns"
    page.get_by_label("Seen from").select_option("back")
    assert all(mesh["within"] >= 1 and mesh["inMetal"] == 0 for mesh in page.evaluate(IN_MESH))


@pytest.mark.deep
def test_a_gear_that_is_a_third_of_a_tooth_off_would_be_noticed(page: Page, service: Running) -> None:
    address, _ = model_of(service, PLAIN)
    page.goto(address)
    page.evaluate("""() => {
      const wheel = document.getElementById("wheel-0");
      const angle = Number(/rotate\\((.*)\\)/.exec(wheel.getAttribute("transform"))[1]);
      wheel.setAttribute("transform", `rotate(${angle + 120 / Number(wheel.dataset.teeth)})`);
    }""")
    assert any(mesh["inMetal"] for mesh in page.evaluate(IN_MESH) if mesh["mesh"] == "ring-0:wheel-0")


@pytest.mark.deep
def test_errors_grow_beside_the_true_positions(page: Page, service: Running) -> None:
    address, solution = model_of(service, PLAIN)
    page.goto(address)
    worst = max(solution["rings"], key=lambda ring: ring["error_pct"] or 0)
    ring = solution["rings"].index(worst)
    row = page.locator(f'#angles tr[data-ring="{ring}"]')
    seen = []
    for turns in ("0", "5", "10", "40"):
        page.get_by_label("Turns of Mimas", exact=True).fill(turns)
        rate = 1 / Fraction(*worst["ratio"])
        true = 1 / Fraction(worst["target"])
        exact = float((rate - true) * Fraction(turns) * 360)
        said = row.locator("[data-show=error]").inner_text()
        assert float(said.split("°")[0]) == pytest.approx(abs(exact), abs=0.06)
        assert said == "0.0°" or said.endswith("ahead" if exact > 0 else "behind")
        seen.append(float(said.split("°")[0]))
        true_angle = float(row.locator("[data-show=true]").inner_text().removesuffix("°"))
        assert apart(true_angle, float((Fraction(1, 4) + true * Fraction(turns)) % 1) * 360) < 0.06
        spot = page.locator(f'.body[data-ring="{ring}"] .true').get_attribute("transform")
        x, y = map(float, re.fullmatch(r"translate\((\S+) (\S+)\)", spot).groups())
        drawn = page.evaluate("([x, y]) => Math.atan2(y, x) * 180 / Math.PI", [x, y])
        assert apart(drawn, true_angle) < 0.2
    assert seen == sorted(seen) and seen[0] < seen[1] < seen[-1]


@pytest.mark.deep
def test_days_and_date_follow_the_first_bodys_period(page: Page, service: Running) -> None:
    address, _ = model_of(service, PLAIN)
    page.goto(address)
    page.get_by_label("Start date").fill("2026-03-01")
    page.get_by_label("Turns of Mimas", exact=True).fill("100")
    expect(page.locator("#days")).to_have_text("94.24")
    expect(page.locator("#now")).to_have_text("2026-06-03")


@pytest.mark.deep
def test_step_start_and_what_is_said(page: Page, service: Running) -> None:
    address, _ = model_of(service, PLAIN)
    page.goto(address)
    page.get_by_label("A step, in turns").fill("0.25")
    for _ in range(3):
        page.get_by_role("button", name="Step on").click()
    page.get_by_role("button", name="Step back").click()
    assert page.get_by_label("Turns of Mimas", exact=True).input_value() == "0.5"
    expect(page.locator("#told")).to_contain_text("Stands at 0.50 turns of Mimas. Farthest from its true place:")
    page.get_by_role("button", name="Back to the start").click()
    assert page.locator("#view").get_attribute("data-turns") == "0"


@pytest.mark.parametrize("side", ["front", pytest.param("back", marks=pytest.mark.deep)])
def test_a_ring_goes_with_the_mouse(page: Page, service: Running, side: str) -> None:
    address, solution = model_of(service, PLAIN)
    page.goto(address)
    page.get_by_label("Seen from").select_option(side)
    ring = len(solution["rings"]) - 1
    _drag(page, ring, -90, 0, 12, page.mouse.move, page.mouse.down, page.mouse.up)
    turned = -0.25 if side == "back" else 0.25  # to the right of the bottom, as it is seen
    turns = float(page.locator("#view").get_attribute("data-turns"))
    assert turns == pytest.approx(turned * Fraction(*solution["rings"][ring]["ratio"]), rel=0.01)


def _drag(page: Page, ring: int, start: float, end: float, steps: int, move, down, up) -> None:
    """Along a ring's pitch circle from one direction [degrees, as seen] to another."""
    where = """([ring, degrees]) => {
      const element = document.querySelector(`.ring[data-ring="${ring}"]`);
      const place = document.getElementById("upward").getScreenCTM();
      const middle = new DOMPoint(0, 0).matrixTransform(place);
      const radius = Number(element.dataset.pitch) * Math.hypot(place.a, place.b);
      const turn = degrees * Math.PI / 180;
      return [middle.x + radius * Math.cos(turn), middle.y - radius * Math.sin(turn)];
    }"""
    move(*page.evaluate(where, [ring, start]))
    down()
    for step in range(1, steps + 1):
        move(*page.evaluate(where, [ring, start + (end - start) * step / steps]))
    up()


@pytest.mark.deep
def test_a_ring_goes_with_a_finger(browser: Browser, service: Running) -> None:
    address, _ = model_of(service, PLAIN)
    with opened(browser, service, viewport={"width": 360, "height": 740}, has_touch=True, is_mobile=True) as page:
        page.goto(address)
        page.locator("#stage").scroll_into_view_if_needed()
        finger = page.context.new_cdp_session(page)
        at: list[float] = [0, 0]

        def touch(kind: str) -> None:
            points = [] if kind == "touchEnd" else [{"x": at[0], "y": at[1]}]
            finger.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

        touching = [False]

        def move(x: float, y: float) -> None:
            at[:] = [x, y]
            if touching[0]:
                touch("touchMove")

        def down() -> None:
            touching[0] = True
            touch("touchStart")

        _drag(page, 0, -120, -60, 8, move, down, lambda: touch("touchEnd"))
        turns = float(page.locator("#view").get_attribute("data-turns"))
        assert turns == pytest.approx(1 / 6, rel=0.02)


@pytest.mark.deep
def test_it_starts_paused_for_those_who_want_less_motion_and_can_still_be_turned(page: Page, service: Running) -> None:
    address, _ = model_of(service, PLAIN)
    page.goto(address)
    expect(page.get_by_role("button", name="Play")).to_be_visible()
    assert page.locator("#view").get_attribute("data-turns") == "0"
    page.get_by_role("button", name="Step on").click()
    assert page.locator("#view").get_attribute("data-turns") == "0.05"


@pytest.mark.deep
@pytest.mark.parametrize("arbors", ["", "reverted = false\n"], ids=["no places", "ratios alone"])
def test_a_model_without_places_turns_too_and_says_so(page: Page, service: Running, arbors: str) -> None:
    text = PLAIN.replace("[arbors]\n", f"[arbors]\n{arbors}") + '[fit]\ndirections = "none"\n'
    address, solution = model_of(service, text)
    page.goto(address)
    expect(page.locator(".notice").first).to_contain_text("made up")
    page.locator("#turns").fill("2.5")
    for drawn, exact in zip(ring_angles(page), should_stand(solution, Fraction("2.5"))):
        assert apart(drawn, exact) < 1e-3
    assert all(mesh["within"] and not mesh["inMetal"] for mesh in page.evaluate(IN_MESH))
    expect(page.get_by_text("No picture and no sheets")).to_be_visible()


# -- for everyone ------------------------------------------------------------------------------------------------------


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
    expect(page.locator("#job [data-show=state]")).to_have_text("complete")
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
    expect(page.locator("#stage")).to_have_attribute("aria-valuetext", "1.03 turns of Mimas")
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
    first, third = (f"{row['point']}.{row['rank']}" for row in (solutions(service, job)[place] for place in (0, 2)))
    return {
        "start": "/",
        "job": f"/jobs/{job}?compare={first}&compare={third}&parts=few",
        "sweep": f"/jobs/{sweep}",
        "model": model_of(service, THIRDS)[0],
        "fault": "/jobs/0000000000000000",
    }


@pytest.mark.parametrize("scheme", ["light", pytest.param("dark", marks=pytest.mark.deep)])
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
            if name == "model":
                page.locator("#turns").fill("31.3")
            page.evaluate(script)
            found = page.evaluate("axe.run().then(({ violations, passes }) => ({ violations, passes: passes.length }))")
            assert found["passes"] > 10
            serious = [
                (one["id"], node["target"], node["failureSummary"])
                for one in found["violations"] if one["impact"] in ("serious", "critical")
                for node in one["nodes"]
            ]  # fmt: skip
            assert not serious, f"{name}, {scheme}: {serious}"


@pytest.mark.deep
def test_no_page_is_wider_than_a_phone(browser: Browser, service: Running) -> None:
    with opened(browser, service, viewport={"width": 360, "height": 740}, is_mobile=True, has_touch=True) as page:
        for name, address in every_page(service).items():
            page.goto(address)
            over = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
            assert over <= 0, f"{name} is {over} pixels too wide"


@pytest.mark.deep
def test_without_a_script_everything_can_be_read_and_a_file_submitted(browser: Browser, service: Running) -> None:
    with opened(browser, service, java_script_enabled=False) as page:
        page.goto("/")
        assert "The form needs JavaScript." in page.locator("noscript").text_content()
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


@pytest.mark.deep
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
            expect(page.locator("#job [data-show=state]")).to_have_text("stopped")
            assert page.evaluate("window.stayed"), "the page was not loaded anew"


@pytest.mark.deep
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


@pytest.mark.deep
def test_nothing_comes_from_elsewhere(browser: Browser, service: Running) -> None:
    asked: set[str] = set()
    with opened(browser, service) as page:
        page.on("request", lambda request: asked.add(httpx.URL(request.url).netloc.decode()))
        for address in every_page(service).values():
            page.goto(address)
    assert asked == {httpx.URL(service.address).netloc.decode()}


@pytest.mark.deep
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


@pytest.mark.deep
def test_a_browser_is_named_or_the_reason_is(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("browser.shutil.which", lambda _: None)
    with pytest.raises(NotThere, match="apt-get install chromium"):
        chromium.__wrapped__()
    with pytest.raises(NotThere, match="no npm"):
        axe_without_npm()


def axe_without_npm() -> None:
    from browser import _packed

    _packed()
