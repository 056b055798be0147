"""From the form to the model; faults beside their fields."""

from __future__ import annotations

import re
from fractions import Fraction

import pytest
from commands import LONG
from playwright.sync_api import Page, expect
from serving import JSON, TOML, Running
from sweeping import HARD, SMALL

from page.common import apart, going_on, ring_angles, should_stand, solutions

pytestmark = pytest.mark.slow


def test_fill_the_form_submit_watch_open_the_best_and_read_its_angles(page: Page, service: Running) -> None:
    page.goto("/")
    page.get_by_label("Title").fill("Galilean moons, by form")
    page.get_by_label("Body set").select_option("jupiter")
    page.get_by_role("checkbox", name=re.compile("^Europa ")).uncheck()
    page.get_by_label("Teeth of the innermost ring").fill("24, 30")
    page.get_by_label("Blank rings").fill("0 to 1")
    page.get_by_label("Time limit").fill("500")
    file = page.locator("#file")
    expect(file).to_contain_text('only = ["Io", "Ganymede", "Callisto"]')
    expect(file).to_contain_text("inner_teeth = [24, 30]")
    expect(file).to_contain_text("blanks = {min = 0, max = 1}")
    expect(page.locator("#file-state")).to_have_text("This can be submitted.")
    page.get_by_role("button", name="Submit the design").click()

    page.wait_for_url(re.compile(r"/jobs/[0-9a-f]{16}$"))
    expect(page.get_by_role("heading", level=1)).to_have_text("Galilean moons, by form")
    expect(page.locator("#job [data-show=state]")).to_have_text("solved, best is proven")
    best = page.locator("table.ranked tbody tr").first
    expect(best).to_contain_text("proven best")
    expect(page.locator("#job .facts")).to_contain_text("Time taken")
    best.get_by_role("link").click()

    page.wait_for_url(re.compile(r"/1$"))
    job = page.url.split("/")[-3]
    solution = solutions(service, job)[0]["solution"]
    expect(page.locator("#days")).to_have_text("0.00")
    begun = ring_angles(page)
    page.get_by_label("Turns of Io", exact=True).fill("12.375")
    angles = ring_angles(page)
    assert len(angles) == len(solution["rings"])
    for drawn, exact in zip(angles, should_stand(solution, Fraction("12.375"), begun)):
        assert apart(drawn, exact) < 1e-3


@pytest.mark.deep
def test_progress_of_a_sweep_comes_by_itself(page: Page, service: Running) -> None:
    page.goto("/")
    page.get_by_label("A design or sweep, as TOML or JSON").fill(SMALL)
    expect(page.locator("#text-state")).to_have_text("A sweep with 60 points; it can be submitted.")
    page.get_by_role("button", name="Submit this text").click()
    page.wait_for_url(re.compile(r"/jobs/"))
    expect(page.locator("#job [data-show=state]")).to_have_text("every point is proven")
    expect(page.locator("#job [data-show=counts]")).to_have_text("60 points: 60 proven.")
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
        expect(item.locator("[data-show=state]")).to_have_text("stopped, not proven")


@pytest.mark.deep
def test_stop_a_job_go_on_with_it_and_remove_it(page: Page, service: Running) -> None:
    with service.client() as client:
        job = client.post("/api/jobs", content=LONG, headers=TOML).json()["id"]
    page.goto(f"/jobs/{job}")
    state = page.locator("#job [data-show=state]")
    expect(state).to_have_text("being solved")
    page.get_by_role("button", name="Stop").click()
    expect(state).to_have_text("stopped, not proven")
    expect(page.locator("#job [data-show=reason]")).to_have_text("a user stopped it")
    expect(page.get_by_role("button", name="Stop")).to_be_hidden()
    page.get_by_role("button", name="Go on").click()
    expect(state).to_have_text("being solved")
    page.get_by_role("button", name="Stop").click()
    expect(state).to_have_text("stopped, not proven")
    page.get_by_text("Remove", exact=True).click()
    page.get_by_role("button", name="Remove this job").click()
    page.wait_for_url(re.compile(r":\d+/$"))
    assert page.locator(f'[data-job="{job}"]').count() == 0
    assert page.goto(f"/jobs/{job}").status == 404
    expect(page.get_by_role("heading", level=1)).to_have_text("Not here")


@pytest.mark.deep
def test_a_fault_is_said_beside_its_field_and_goes_when_it_is_mended(page: Page) -> None:
    page.goto("/")
    field = page.get_by_label("Teeth of the innermost ring")
    field.fill("2 to 30")
    beside = page.locator('[data-error="rings.inner_teeth"]')
    expect(beside).to_have_text("must lie within 3 and 1000")
    expect(field).to_have_attribute("aria-invalid", "true")
    assert beside.get_attribute("id") in field.get_attribute("aria-describedby").split()
    expect(page.locator("#file-state")).to_have_text(
        "1 thing is wrong: Teeth of the innermost ring; it cannot be submitted yet."
    )
    page.get_by_role("button", name="Submit the design").click()
    expect(page.locator("#design-refused")).to_contain_text("Not submitted: one thing is wrong.")
    expect(page.locator("#design-refused a")).to_have_text("Teeth of the innermost ring")
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
    expect(page.locator('[data-error="bodies.set"]')).to_contain_text("at least 2 are needed")
    expect(page.get_by_label("Body set")).to_have_attribute("aria-invalid", "true")
    page.get_by_role("checkbox", name=re.compile("^Titan ")).check()
    page.get_by_label("Frame", exact=True).select_option("round")
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
