"""A model set to a date: where rings stand, dates typed, run to and shown; when bodies meet; faults by the field."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from fractions import Fraction

import pytest
from browser import NotThere, axe
from playwright.sync_api import Browser, Page, expect
from serving import Running

from page.common import PLAIN, THIRDS, UNDATED, apart, model_of, open_model, opened, ring_angles, serious_faults
from page.test_model import IN_MESH

pytestmark = pytest.mark.deep

PLANETS = """
title = "Planets for the hall"
[bodies]
set = "planets"
only = ["Venus", "Earth", "Mars", "Jupiter", "Saturn"]
[rings]
inner_teeth = 28
tooth_step = 4
blanks = 1
tooth_pitch = 12
addendum = 2.5
rim = 3
[search]
keep = 2
"""
SOUTH = PLANETS + '[sky]\nzero_deg = 30\nseen_from = "south"\n'
# Mean longitudes at J2000.0 [deg] and motions [arc seconds in 1000 Julian years]: Simon et al. 1994 (A&A 282).
SIMON = {
    "Venus": ("181.97980085", "2106641364.33548"),
    "Earth": ("100.46645683", "1295977422.83429"),
    "Mars": ("355.43299958", "689050774.93988"),
    "Jupiter": ("34.35151874", "109256603.77991"),
    "Saturn": ("50.07744430", "43996098.55732"),
}
TT_LESS_UTC = Fraction(69184, 1000)  # seconds, since 2017 (IERS Bulletin C)


def days_of(utc: str) -> Fraction:
    """TT days since J2000.0 of a date after 2017."""
    since = datetime.fromisoformat(utc) - datetime(2000, 1, 1, 12, tzinfo=UTC)
    return (since / timedelta(seconds=1) + TT_LESS_UTC) / 86_400


def longitude(body: str, days: Fraction) -> Fraction:
    at, motion = SIMON[body]
    return (Fraction(at) + Fraction(motion) / 3600 / 365_250 * days) % 360


def set_to(page: Page, date: str, how: str = "Set to this date") -> None:
    page.get_by_label("Date and time").fill(date)
    page.get_by_role("button", name=how).click()


def bodies(page: Page) -> dict[str, float]:
    """The angle of each body's ring as it is drawn [degrees]."""
    rings = [int(row.get_attribute("data-ring")) for row in page.locator("#angles tbody tr").all()]
    names = page.locator("#angles tbody th").all_inner_texts()
    angles = ring_angles(page)
    assert len(rings) >= 4
    return {name: angles[ring] for name, ring in zip(names, rings, strict=True)}


def test_it_starts_at_this_moment_with_every_ring_where_its_body_is(page: Page, service: Running) -> None:
    """By default longitude 0 is straight up, and it is seen from the north: bodies run counterclockwise."""
    before = datetime.now(UTC) - timedelta(seconds=1)
    open_model(page, service, PLANETS)
    date = page.get_by_label("Date and time").input_value()
    assert before <= datetime.fromisoformat(date) <= datetime.now(UTC)
    expect(page.locator("#now")).to_have_text(f"{date[:16].replace('T', ' ')} UTC")
    for body, drawn in bodies(page).items():
        assert apart(drawn, 90 + float(longitude(body, days_of(date)))) < 0.02, body


@pytest.mark.parametrize("text, zero, way", [(PLANETS, 90, 1), (SOUTH, 30, -1)])
def test_set_to_a_date_and_run_on_by_the_exact_ratios(
    page: Page, service: Running, text: str, zero: int, way: int
) -> None:
    """Set at a date, then run 149 years by the train's own ratios, Venus being exact: whole turns lose nothing."""
    solution = open_model(page, service, text)
    set_to(page, "2020-11-02T18:00:00+00:00")
    expect(page.locator("#set-at")).to_have_text("2020-11-02 18:00 UTC")
    start = days_of("2020-11-02T18:00:00+00:00")
    for body, drawn in bodies(page).items():
        assert apart(drawn, zero + way * float(longitude(body, start))) < 0.02
    before = ring_angles(page)
    set_to(page, "2169-11-02T18:00", "Run to this date")
    expect(page.locator("#now")).to_have_text("2169-11-02 18:00 UTC")
    turns = (days_of("2169-11-02T18:00:00+00:00") - start) / Fraction("224.700800")
    for ring, begun, drawn in zip(solution["rings"], before, ring_angles(page), strict=True):
        exact = begun + way * 360 * float(turns / Fraction(*ring["ratio"]) % 1)
        assert apart(drawn, exact) < 3e-4, ring["name"]
    assert float(page.locator("#turns").input_value()) == pytest.approx(float(turns), abs=1e-3)
    assert all(mesh["within"] and not mesh["inMetal"] for mesh in page.evaluate(IN_MESH))
    page.get_by_role("button", name="Back to the setting").click()
    for drawn, begun in zip(ring_angles(page), before, strict=True):
        assert apart(drawn, begun) < 3e-4


# Jovicentric mean longitudes, 2026-01-01 0h TT: L1.2 (Lainey, Duriez, Vienne), as in astronomy-engine.
JUPITER = {"Io": 332.8115, "Europa": 279.5605, "Ganymede": 342.9355, "Callisto": 90.6507}
MOONS_OF_JUPITER = (
    'title = "The moons of Jupiter"\n[bodies]\nset = "jupiter"\n[rings]\ninner_teeth = 24\ntooth_step = 5\n'
    "[search]\nkeep = 1\n"
)


def test_jupiters_moons_stand_where_the_table_has_them(page: Page, service: Running) -> None:
    open_model(page, service, MOONS_OF_JUPITER)
    set_to(page, "2025-12-31T23:58:50.816Z")  # 0h TT
    expect(page.locator("#set-at")).to_have_text(re.compile("2025-12-31 23:5"))
    for body, drawn in bodies(page).items():
        assert apart(drawn, 90 + JUPITER[body]) < 0.3, body


def test_the_date_that_it_shows_typed_back_gives_the_same(page: Page, service: Running) -> None:
    open_model(page, service, PLAIN)
    set_to(page, "2031-05-06T07:08:09+02:00")
    field = page.get_by_label("Date and time")
    expect(field).to_have_value("2031-05-06T05:08:09Z")
    before = ring_angles(page)
    page.locator("#turns").fill("12.5")
    assert apart(ring_angles(page)[0], before[0]) > 100
    field.press("Enter")
    expect(page.locator("#days")).to_have_text("0.00")
    assert ring_angles(page) == before
    page.reload()
    set_to(page, "2031-05-06T05:08:09")
    expect(page.locator("#set-at")).to_have_text("2031-05-06 05:08 UTC")
    assert ring_angles(page) == pytest.approx(before, abs=2e-4)


def test_a_tooth_meets_a_gap_whatever_the_date(page: Page, service: Running) -> None:
    open_model(page, service, THIRDS)
    for date in ("1950-01-01", "2026-02-28T03:04:05Z"):
        set_to(page, date)
        expect(page.locator("#set-at")).to_contain_text(date[:10])
        for turns in ("0", "7.77"):
            page.locator("#turns").fill(turns)
            assert all(mesh["within"] and not mesh["inMetal"] for mesh in page.evaluate(IN_MESH)), (date, turns)


@pytest.mark.parametrize(
    "date, said",
    [
        ("2027-02-30", "no such day"),
        ("2027-01-01T00:00+25:00", "2027-01-01T00:00+25:00"),
        ("5000-01-01", "is known from"),
        ("soon", "soon"),
        ("", "type a date first"),
    ],
)
def test_a_date_that_will_not_do_is_one_line_beside_the_field(
    page: Page, service: Running, date: str, said: str
) -> None:
    open_model(page, service, PLANETS)
    before = ring_angles(page)
    field, fault = page.get_by_label("Date and time"), page.locator("#e-date")
    for how in ("Set to this date", "Run to this date"):
        set_to(page, date, how)
        expect(fault).to_contain_text(said)
        expect(field).to_have_attribute("aria-invalid", "true")
        assert "\n" not in fault.inner_text() and "e-date" in field.get_attribute("aria-describedby")
        assert ring_angles(page) == before
    field.fill("2026-01-01")
    expect(fault).to_be_empty()
    field.press("Enter")
    expect(page.locator("#set-at")).to_have_text("2026-01-01 00:00 UTC")
    assert field.get_attribute("aria-invalid") is None


def test_true_places_stand_beside_the_mean_ones(page: Page, service: Running) -> None:
    """Mars at its true opposition of 2020-10-13 23:19 TT (DE421): the Earth's true longitude is the same, which the
    mean ones were on 2020-09-24 (Simon et al.)."""
    open_model(page, service, PLANETS)
    set_to(page, "2020-10-13T23:17:51Z")
    expect(page.locator("#set-at")).to_have_text("2020-10-13 23:17 UTC")
    cell = "#angles tr:has(th:text-is('{}')) [data-show={}]"
    places = {
        (body, what): float(page.locator(cell.format(body, what)).inner_text().removesuffix("°"))
        for body in ("Earth", "Mars") for what in ("true", "sky")
    }  # fmt: skip
    assert apart(places["Earth", "sky"], places["Mars", "sky"]) <= 0.15
    assert apart(places["Earth", "true"], places["Mars", "true"]) > 5
    for body in ("Earth", "Mars"):
        ring = page.locator(f"#angles tr:has(th:text-is('{body}'))").get_attribute("data-ring")
        spot = page.locator(f'.body[data-ring="{ring}"] .sky').get_attribute("transform")
        x, y = map(float, re.fullmatch(r"translate\((\S+) (\S+)\)", spot).groups())
        drawn = page.evaluate("([x, y]) => Math.atan2(y, x) * 180 / Math.PI", [x, y])
        assert apart(drawn, places[body, "sky"]) < 0.3


def test_it_goes_on_without_the_service(page: Page, service: Running) -> None:
    """Set and run to dates by the sky's mean rates, as told by the page; a date that does not exist is refused."""
    open_model(page, service, PLANETS)
    set_to(page, "2030-01-01")
    expect(page.locator("#set-at")).to_have_text("2030-01-01 00:00 UTC")
    page.context.set_offline(True)
    for how in ("Set to this date", "Run to this date"):
        set_to(page, "2034-07-01T12:00+02:00", how)
        expect(page.locator("#now")).to_have_text("2034-07-01 10:00 UTC")
        expect(page.locator("#beyond")).to_contain_text("The service cannot be reached")
    for body, drawn in bodies(page).items():
        assert apart(drawn, 90 + float(longitude(body, days_of("2034-07-01T10:00:00+00:00")))) < 0.02, body
    for wrong in ("2034-06-31", "2034-13-01", "tomorrow"):
        set_to(page, wrong)
        expect(page.locator("#e-date")).to_contain_text("the service cannot be reached")
    page.context.set_offline(False)


def test_its_speed_is_typed_in_days_a_second(browser: Browser, service: Running) -> None:
    address, _ = model_of(service, PLANETS)
    with opened(browser, service, reduced_motion="no-preference") as page:
        page.clock.install()
        page.goto(address)
        page.get_by_label("Days a second").fill("100")
        page.get_by_label("Days a second").press("Enter")
        page.get_by_role("button", name="Play").click()
        page.clock.pause_at(page.evaluate("Date.now()") + 1000)
        before = float(page.locator("#view").get_attribute("data-turns"))
        page.clock.run_for(5000)
        after = float(page.locator("#view").get_attribute("data-turns"))
        assert (after - before) * 224.7008 == pytest.approx(500, abs=5)
        assert page.locator("#told").inner_text() == "", "nothing is said while it runs"
        page.get_by_role("button", name="Pause").click()
        expect(page.locator("#told")).to_contain_text(
            re.compile(r"^Shows 2\d\d\d-\d\d-\d\d \d\d:\d\d UTC, .* days after")
        )


# True: DE421; mean: Simon et al. 1994. The hours are those of what they are checked for: one, and three.
GREAT = [("2020-11-02T18:31", "2020-09-22T19:21")]


def test_the_next_ten_meetings_and_what_the_model_makes_of_them(page: Page, service: Running) -> None:
    solution = open_model(page, service, PLANETS)
    set_to(page, "2020-01-01")
    expect(page.locator("#set-at")).to_have_text("2020-01-01 00:00 UTC")
    page.get_by_label("One body").select_option("Jupiter")
    page.get_by_label("The other").select_option("Saturn")
    page.get_by_role("button", name="Find the next ten").click()
    expect(page.locator("#met")).to_have_text(
        re.compile("^10 conjunctions of Jupiter and Saturn, the first on 2020-11-02")
    )
    rows = [row.locator("td").all_inner_texts() for row in page.locator("#meetings tbody tr").all()]
    assert len(rows) == 10
    for shown, told, hours in zip(rows[0], GREAT[0], (1, 3), strict=False):
        off = datetime.fromisoformat(shown) - datetime.fromisoformat(told)
        assert abs(off) < timedelta(hours=hours, minutes=2)
    start = days_of("2020-01-01T00:00:00+00:00")
    ratios = {ring["name"]: Fraction(*ring["ratio"]) for ring in solution["rings"]}
    rate = 360 / Fraction("224.700800") * (1 / ratios["Jupiter"] - 1 / ratios["Saturn"])
    lead = longitude("Jupiter", start) - longitude("Saturn", start)
    shows = datetime(2020, 1, 1) + timedelta(days=float(-lead % 360 / rate))
    assert abs(datetime.fromisoformat(rows[0][2]) - shows) < timedelta(hours=3)
    page.get_by_label("The other").select_option("Jupiter")
    page.get_by_role("button", name="Find the next ten").click()
    expect(page.locator("#e-meet")).to_contain_text("choose two bodies")
    expect(page.locator("#meet-table")).to_be_hidden()


def test_all_of_it_by_keyboard(page: Page, service: Running) -> None:
    open_model(page, service, PLANETS)
    page.locator("#date").focus()
    page.keyboard.press("Control+A")
    page.keyboard.type("2029-03-04")
    page.keyboard.press("Enter")
    expect(page.locator("#set-at")).to_have_text("2029-03-04 00:00 UTC")
    expect(page.locator("#told")).to_contain_text("Shows 2029-03-04 00:00 UTC")
    page.keyboard.press("Control+A")
    page.keyboard.type("2030-03-04")
    for _ in range(2):
        page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.id") == "run-to"
    page.keyboard.press("Enter")
    expect(page.locator("#now")).to_have_text("2030-03-04 00:00 UTC")
    expect(page.locator("#set-at")).to_have_text("2029-03-04 00:00 UTC")
    page.keyboard.press("Tab")
    page.keyboard.press("Space")
    expect(page.locator("#days")).to_have_text("0.00")


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_no_serious_fault(browser: Browser, service: Running, scheme: str) -> None:
    try:
        script = axe()
    except NotThere as fault:
        pytest.skip(str(fault))
    address, _ = model_of(service, PLANETS)
    for width in (1280, 360):
        with opened(browser, service, color_scheme=scheme, viewport={"width": width, "height": 800}) as page:
            page.goto(address)
            page.get_by_role("button", name="Find the next ten").click()
            expect(page.locator("#meetings tbody tr")).to_have_count(10)
            set_to(page, "2027-02-30")
            expect(page.locator("#e-date")).to_contain_text("no such day")
            assert not serious_faults(page, script)
            over = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
            assert over <= 0


def test_without_a_script_it_stands_where_the_bodies_are_today(browser: Browser, service: Running) -> None:
    address, _ = model_of(service, PLANETS)
    with opened(browser, service, java_script_enabled=False) as page:
        page.goto(address)
        date = page.get_by_label("Date and time").get_attribute("value")
        assert date.endswith("T00:00:00Z")
        for body, drawn in bodies(page).items():
            assert apart(drawn, 90 + float(longitude(body, days_of(date)))) < 0.02, body


def test_a_design_without_longitudes_says_why_it_has_no_date(page: Page, service: Running) -> None:
    open_model(page, service, UNDATED)
    expect(page.locator(".notice").last).to_contain_text("It cannot be set to a date: no longitude is known of")
    assert page.locator("#set-to").count() == 0
    assert all(apart(drawn, 90) < 1e-3 for drawn in ring_angles(page))
