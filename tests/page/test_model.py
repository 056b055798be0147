"""The model turning: where rings and gears stand, what is said of them, and by what they go."""

from __future__ import annotations

import re
from fractions import Fraction

import pytest
from commands import CONFIGS
from playwright.sync_api import Browser, Page, expect
from serving import Running

from page.common import UNDATED as PLAIN
from page.common import UNDATED_THIRDS as THIRDS
from page.common import apart, model_of, open_model, opened, ring_angles, should_stand

pytestmark = pytest.mark.deep


@pytest.mark.parametrize("text", [PLAIN, THIRDS], ids=["plain", "thirds"])
def test_two_rings_stand_where_the_exact_ratios_say_at_any_time(page: Page, service: Running, text: str) -> None:
    solution = open_model(page, service, text)
    for turns in ("0", "1", "3.7", "-2.25", "1000.125"):
        page.get_by_label("Turns of Mimas", exact=True).fill(turns)
        for drawn, exact in zip(ring_angles(page), should_stand(solution, Fraction(turns))):
            assert apart(drawn, exact) < 1e-3


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
  // A gear with pins, made as circles: the middles of its pins are what is among the other's teeth, and those pass
  // between its loops.
  const pinned = (part) => part.querySelector(".teeth").getAttribute("d").split("a").length > 5;
  const tips = (part) => {
    const { teeth, pitch } = part.dataset;
    const tip = pinned(part) ? pitch : part.dataset.tip;
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
      if (pinned(into)) continue;
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


@pytest.mark.parametrize(
    "text", [PLAIN, THIRDS, (CONFIGS / "saturn-hall.toml").read_text()], ids=["plain", "thirds", "hall"]
)
def test_every_mesh_is_in_mesh_as_it_is_drawn(page: Page, service: Running, text: str) -> None:
    solution = open_model(page, service, text)
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


def test_a_gear_that_is_a_third_of_a_tooth_off_would_be_noticed(page: Page, service: Running) -> None:
    open_model(page, service, PLAIN)
    page.evaluate("""() => {
      const wheel = document.getElementById("wheel-0");
      const angle = Number(/rotate\\((.*)\\)/.exec(wheel.getAttribute("transform"))[1]);
      wheel.setAttribute("transform", `rotate(${angle + 120 / Number(wheel.dataset.teeth)})`);
    }""")
    assert any(mesh["inMetal"] for mesh in page.evaluate(IN_MESH) if mesh["mesh"] == "ring-0:wheel-0")


def test_errors_grow_beside_the_true_positions(page: Page, service: Running) -> None:
    solution = open_model(page, service, PLAIN)
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


def test_days_and_date_follow_the_first_bodys_period(page: Page, service: Running) -> None:
    open_model(page, service, PLAIN)
    page.get_by_label("Start date").fill("2026-03-01")
    page.get_by_label("Turns of Mimas", exact=True).fill("100")
    expect(page.locator("#days")).to_have_text("94.24")
    expect(page.locator("#now")).to_have_text("2026-06-03")


def test_step_start_and_what_is_said(page: Page, service: Running) -> None:
    open_model(page, service, PLAIN)
    page.get_by_label("A step, in turns").fill("0.25")
    for _ in range(3):
        page.get_by_role("button", name="Step on").click()
    page.get_by_role("button", name="Step back").click()
    assert page.get_by_label("Turns of Mimas", exact=True).input_value() == "0.5"
    expect(page.locator("#told")).to_contain_text("Stands at 0.50 turns of Mimas. Farthest from its true place:")
    page.get_by_role("button", name="Back to the start").click()
    assert page.locator("#view").get_attribute("data-turns") == "0"


@pytest.mark.parametrize("side", ["front", "back"])
def test_a_ring_goes_with_the_mouse(page: Page, service: Running, side: str) -> None:
    solution = open_model(page, service, PLAIN)
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


def test_it_starts_paused_for_those_who_want_less_motion_and_can_still_be_turned(page: Page, service: Running) -> None:
    open_model(page, service, PLAIN)
    expect(page.get_by_role("button", name="Play")).to_be_visible()
    assert page.locator("#view").get_attribute("data-turns") == "0"
    page.get_by_role("button", name="Step on").click()
    assert page.locator("#view").get_attribute("data-turns") == "0.05"


@pytest.mark.parametrize("arbors", ["", "reverted = false\n"], ids=["no places", "ratios alone"])
def test_a_model_without_places_turns_too_and_says_so(page: Page, service: Running, arbors: str) -> None:
    text = PLAIN.replace("[arbors]\n", f"[arbors]\n{arbors}") + '[fit]\ndirections = "none"\n'
    solution = open_model(page, service, text)
    expect(page.locator(".notice").first).to_contain_text("made up")
    page.locator("#turns").fill("2.5")
    for drawn, exact in zip(ring_angles(page), should_stand(solution, Fraction("2.5"))):
        assert apart(drawn, exact) < 1e-3
    assert all(mesh["within"] and not mesh["inMetal"] for mesh in page.evaluate(IN_MESH))
    expect(page.get_by_text("No picture and no sheets")).to_be_visible()
