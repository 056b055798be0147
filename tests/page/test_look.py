"""How the turning model looks: what stands still is drawn, a legend tells it, nothing is cut or fights a finger."""

from __future__ import annotations

from itertools import combinations

import pytest
from commands import CONFIGS
from playwright.sync_api import Browser, Page, expect
from serving import Running

from page.common import MOONS, complete, model_of, opened

pytestmark = pytest.mark.deep

TABLE = (CONFIGS / "jupiter-table.toml").read_text("utf-8")  # a round frame, a plate, rollers, a crank
NAMES = (
    "The innermost of all the small moons, IV",
    "A moon of a far planet with forty letter",
    "Another one that is told at length, XXII",
)
LONG = MOONS.format(sense="same", thirds=0).replace(
    'set = "saturn"\nonly = ["Mimas", "Tethys", "Rhea"]\n',
    "list = ["
    + ", ".join(
        f'{{name = "{name}", period = "{days}"}}' for name, days in zip(NAMES, ("0.942422", "1.887802", "4.517"))
    )
    + "]\n",
)
PHONE = {"viewport": {"width": 360, "height": 740}, "is_mobile": True, "has_touch": True}


def test_frame_plate_and_rollers_stand_where_the_solution_has_them(page: Page, service: Running) -> None:
    address, solution = model_of(service, TABLE)
    page.goto(address)
    scale = float(page.locator("#view").get_attribute("data-scale"))
    drawn = page.eval_on_selector_all(
        "#view .roller", "all => all.map(one => [one.cx.baseVal.value, one.cy.baseVal.value])"
    )
    told = [(roller["x_mm"], roller["y_mm"]) for ring in solution["rings"] for roller in ring["rollers"]]
    assert told and sorted((x / scale, y / scale) for x, y in drawn) == [
        pytest.approx(at, abs=0.01) for at in sorted(told)
    ]
    box = page.locator("#view .edge").evaluate(
        "one => { const b = one.getBBox(); return [b.x, b.y, b.width, b.height]; }"
    )
    diameter = float(TABLE.split("diameter = ")[1].split("}")[0].split(",")[0])
    assert [side / scale for side in box] == pytest.approx([-diameter / 2, -diameter / 2, diameter, diameter], abs=0.1)
    seen = page.locator("#view").evaluate("one => one.viewBox.baseVal.width")
    assert seen >= box[2]
    for word in ("roller", "plate in its frame", "motor’s pinion", "arbor on its post", "rings, smallest to largest"):
        expect(page.locator(".key")).to_contain_text(word)
    expect(page.locator(".key")).not_to_contain_text("third gear")


@pytest.mark.parametrize("text", [TABLE, LONG], ids=["table", "long names"])
def test_nothing_is_empty_beside_the_model_and_nothing_is_cut(page: Page, service: Running, text: str) -> None:
    address, _ = model_of(service, text)
    page.goto(address)
    ends = [page.locator(part).bounding_box() for part in (".stage-side", ".desk")]
    bottoms = [box["y"] + box["height"] for box in ends]
    assert abs(bottoms[0] - bottoms[1]) < 200, bottoms
    not_cut(page)
    view = page.locator("#view").bounding_box()
    for turns in ("0", "0.3", "1.7", "8.4"):
        page.locator("#turns").fill(turns)
        page.locator("#turns").dispatch_event("change")
        boxes = [name.bounding_box() for name in page.locator("#names text").all()]
        for box in boxes:
            assert box["x"] >= view["x"] - 2 and box["x"] + box["width"] <= view["x"] + view["width"] + 2, (turns, box)
        for one, other in combinations(boxes, 2):
            across = min(one["x"] + one["width"], other["x"] + other["width"]) - max(one["x"], other["x"])
            along = min(one["y"] + one["height"], other["y"] + other["height"]) - max(one["y"], other["y"])
            assert across < 2 or along < 0.4 * one["height"], (turns, one, other)


def not_cut(page: Page) -> None:
    """Nothing is wider than the page; tables fit where they stand, and what is chosen can be read."""
    assert page.evaluate("document.documentElement.scrollWidth") <= page.viewport_size["width"]
    cut = page.eval_on_selector_all(
        ".scroll",
        "all => all.filter(one => one.scrollWidth > one.clientWidth + 1).map(one => one.innerText.slice(0, 60))",
    )
    assert cut == []
    narrow = page.eval_on_selector_all(
        "select",
        """all => all.filter((one) => {
             const free = one.cloneNode(true);
             free.style.cssText = "width: auto; max-width: none; position: absolute";
             document.body.append(free);
             const need = free.getBoundingClientRect().width;
             free.remove();
             return one.offsetParent && one.getBoundingClientRect().width < need - 30;
           }).map(one => one.id)""",
    )
    assert narrow == []


def test_a_long_list_of_solutions_fits(page: Page, service: Running) -> None:
    page.goto(f"/jobs/{complete(service, LONG)}")
    page.locator("table.ranked").wait_for()
    not_cut(page)


def test_up_and_down_a_finger_scrolls_and_two_fingers_turn_nothing(browser: Browser, service: Running) -> None:
    address, _ = model_of(service, MOONS.format(sense="same", thirds=0))
    with opened(browser, service, **PHONE) as page:
        page.goto(address)
        page.locator("#stage").scroll_into_view_if_needed()
        finger = page.context.new_cdp_session(page)
        box = page.locator("#view .ring[data-ring='2']").bounding_box()
        x, y = box["x"] + box["width"] / 2, box["y"] + 4  # on the outermost ring, at its top

        def touch(kind: str, *points: tuple[float, float]) -> None:
            told = [{"x": a, "y": b, "id": number} for number, (a, b) in enumerate(points)]
            finger.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": told})

        def turns() -> float:
            return float(page.locator("#view").get_attribute("data-turns"))

        before = page.evaluate("scrollY")
        touch("touchStart", (x, y))
        for step in range(1, 15):
            touch("touchMove", (x, y - 8 * step))
        touch("touchEnd")
        page.wait_for_function("before => scrollY > before + 40", arg=before)
        scrolled = turns()
        page.evaluate("scrollTo(0, 0)")
        page.locator("#stage").scroll_into_view_if_needed()
        touch("touchStart", (x, y), (x, y + 60))
        for step in range(1, 8):
            touch("touchMove", (x - 8 * step, y), (x + 8 * step, y + 60))
        touch("touchEnd")
        assert scrolled == pytest.approx(0.0, abs=0.02) and turns() == pytest.approx(0.0, abs=0.02)


def test_on_a_phone_the_model_and_its_buttons_are_seen_together(browser: Browser, service: Running) -> None:
    address, _ = model_of(service, LONG)
    with opened(browser, service, **PHONE) as page:
        page.goto(address)
        play = page.get_by_role("button", name="Play")
        for height in (0, 150):
            page.evaluate("height => scrollTo(0, height)", height)
            box, view = play.bounding_box(), page.locator("#view").bounding_box()
            assert box["y"] >= 0 and box["y"] + box["height"] <= 740 and box["height"] >= 40
            assert view["y"] < 740
        assert page.evaluate("document.documentElement.scrollWidth") <= 360
