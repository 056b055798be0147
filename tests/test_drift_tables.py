"""Drift as it is told: lengths of time, the table and the plot on a terminal, the plot as SVG, plain data."""

from __future__ import annotations

import io
import json
import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from fractions import Fraction
from math import log10

import pytest
from cranked import cranked
from shipped import DISCS, shipped

from solver.cli.drift_tables import drift_plot, drift_svg, print_drift
from solver.cli.tables import Paper
from solver.sheets.draw.rays import Ray, RayWords, rays
from solver.sky.bodies import sky_of
from solver.sky.drift import YEAR_DAYS, Crossing, drift
from solver.sky.told import crossing_text, plain, time_text, turns_text

HALL = DISCS.name.removesuffix(".toml")
TABLE = "table"


def given(name: str):
    """A design and its answer: the hall with a motor, or the table with a crank."""
    return cranked() if name == TABLE else shipped(name)


WORDS = RayWords("A plot", "below", "years", "degrees", "in words")


def told(name: str, **more):
    design, answer = given(name)
    return drift(design, answer.solutions[0], sky_of(design), **more)


@pytest.mark.parametrize(
    ("days", "text"),
    [
        (None, "never"),
        (Fraction(1, 48), "0.500 hours"),
        (Fraction(23, 24), "23.0 hours"),
        (Fraction(2), "2.00 days"),
        (Fraction(729), "729 days"),
        (Fraction(1461, 2), "2.00 years"),
        (1234 * YEAR_DAYS, "1,234 years"),
        (1_000_000 * YEAR_DAYS, "over a million years"),
    ],
)
def test_lengths_of_time(days, text):
    assert time_text(days) == text


@pytest.mark.parametrize(
    ("days", "text"),
    [
        ((10, 10, 10), "10.0 days"),
        ((10, 9, 11), "10.0 days (9.00 to 11.0 days)"),
        ((700, 600, 800), "700 days (600 days to 2.19 years)"),
        ((10, 9, None), "10.0 days (9.00 days at the soonest)"),
        ((None, 9, None), "never (9.00 days at the soonest)"),
        ((2_000_000 * YEAR_DAYS, 929_000 * YEAR_DAYS, None), "929,000 years at the soonest"),
        ((2_000_000 * YEAR_DAYS, 1_100_000 * YEAR_DAYS, 9_000_000 * YEAR_DAYS), "over a million years"),
        ((2_000_000 * YEAR_DAYS, 1_100_000 * YEAR_DAYS, None), "over a million years"),
        ((None, None, None), "never"),
    ],
)
def test_when_with_its_range(days, text):
    values = (None if day is None else Fraction(day) for day in days)
    assert crossing_text(Crossing(Fraction(5), *values)) == text


def test_turn_the_crank_so_many_times_for_today():
    assert turns_text(told(TABLE), Fraction(31)) == "turn the crank 11.3 times for today"
    assert turns_text(told(TABLE), Fraction(-31)) == "turn the crank 11.3 times back for today"
    assert turns_text(told(HALL), Fraction(1)) == "the motor turns 0.2 times for today"
    assert turns_text(replace(told(TABLE), drive=None), Fraction(31)) is None


def printed(one) -> str:
    stream = io.StringIO()
    print_drift(Paper(stream), one)
    return stream.getvalue()


def test_the_table_says_when_and_by_how_many_turns():
    text = printed(told(TABLE))
    row = next(line for line in text.splitlines() if line.startswith(" Ganymede"))
    assert row.split() == [
        "Ganymede",
        "-176.6274",
        "+6.1e-04",
        "-176.6267",
        "2.07",
        "days",
        "10.3",
        "days",
        "20.7",
        "days",
        "7.5",
    ]
    assert "set it again after 10.3 days: Ganymede is 5 degrees off then" in text
    assert "a year is 132.72 turns of the crank" in text
    assert max(map(len, text.splitlines())) <= 120


def test_what_no_even_ring_can_show_is_told():
    assert "Mimas librates: an even ring strays by up to 87 degrees more in 50 years" in printed(told(HALL))
    design, answer = given(HALL)
    assert "librates" not in printed(drift(design, answer.solutions[0]))


def test_the_plot_on_a_terminal_has_each_body_where_it_belongs():
    """Parts are ten times the one before: where a figure stands, read back, is when the table says, within a column."""
    one = told(TABLE)
    head, *rows, axis, words = drift_plot(one)
    assert head.endswith("1 1°, 2 5°, 3 10°")
    powers = [place - axis.index("+") for place, sign in enumerate(axis) if sign == "+"]
    begin = axis.index("+")
    low = float(words[begin:].split()[0])
    for body, row in zip(one.bodies, rows, strict=True):
        assert row.strip().startswith(body.name)
        for number, when in enumerate(body.crossings, 1):
            place = row.find(str(number), begin)
            if place >= 0:
                years = low * 10 ** ((place - begin) * (len(powers) - 1) / powers[-1])
                assert years == pytest.approx(float(when.days / YEAR_DAYS), rel=0.5)


def test_the_plot_on_a_terminal_of_a_model_that_never_drifts_is_none():
    one = told(TABLE)
    still = [replace(body, rate=Fraction(0), crossings=()) for body in one.bodies]
    assert list(drift_plot(replace(one, bodies=tuple(still)))) == []


def lines_of(svg: str) -> list[tuple[tuple[float, float], tuple[float, float]]]:
    """Ends of the lines of a plot in the order drawn."""
    found = re.findall(
        r'<path d="M([\d.]+) ([\d.]+)L([\d.]+) ([\d.]+)" fill="none" stroke="#000" stroke-width="0.4"', svg
    )
    return [((float(a), float(b)), (float(c), float(d))) for a, b, c, d in found]


def texts_of(svg: str) -> list[ET.Element]:
    return list(ET.fromstring(svg).iter("{http://www.w3.org/2000/svg}text"))


def test_the_svg_has_a_line_for_each_body_where_its_rate_puts_it():
    one = told(HALL)
    svg = drift_svg(one, "hall")
    texts = {text.text: (float(text.get("x")), float(text.get("y"))) for text in texts_of(svg)}
    ticks = {float(word): at[0] for word, at in texts.items() if re.fullmatch(r"[\d.]+", word) and at[1] > 114}
    low, high = min(ticks), max(ticks)
    wide = (ticks[high] - ticks[low]) / (log10(high) - log10(low))
    growing = sorted(one.bodies, key=lambda body: -abs(body.rate))
    lines = lines_of(svg)
    assert len(lines) == len(growing) == 7
    for body, ((x, y), _) in zip(growing, lines, strict=True):
        years = low * 10 ** ((x - ticks[low]) / wide)
        assert y == max(line[0][1] for line in lines)  # on the axis of one degree
        assert years == pytest.approx(float(body.crossings[0].days / YEAR_DAYS), rel=2e-3)
    assert {body.name for body in growing} <= set(texts)


def test_the_svg_says_in_words_what_it_shows():
    root = ET.fromstring(drift_svg(told(TABLE), "A table"))
    title, words = (root.find(f"{{http://www.w3.org/2000/svg}}{tag}").text for tag in ("title", "desc"))
    assert root.get("role") == "img" and title == "Drift: A table"
    assert "Ganymede: 10 degrees after 20.7 days" in words


@pytest.mark.parametrize("slopes", [(1, 0.9, 0.5, 0.2, 0), (1000, 900, 800, 1, 1e-9), (1, 1, 1), (0, 0), ()])
def test_names_never_cover_each_other_and_nothing_leaves_the_paper(slopes):
    svg = rays([Ray(f"Body {number}", slope) for number, slope in enumerate(slopes)], [1, 5, 10], WORDS)
    boxes = []
    for text in texts_of(svg):
        wide, x, y = 1.6 * len(text.text), float(text.get("x")), float(text.get("y"))
        left = {"start": x, "middle": x - wide / 2, "end": x - wide}[text.get("text-anchor")]
        boxes.append((left, y - 1.8, left + wide, y))
        assert -0.5 <= x <= 180 and 0 <= y <= 130
    names = [box for box, text in zip(boxes, texts_of(svg), strict=True) if text.text.startswith("Body")]
    for index, one in enumerate(names):
        for other in names[index + 1 :]:
            assert one[2] <= other[0] or other[2] <= one[0] or one[3] <= other[1] or other[3] <= one[1]
    for (x0, y0), (x1, y1) in lines_of(svg):
        assert 18 <= x0 <= x1 <= 172.01 and 27.99 <= y1 <= y0 <= 114.01


def test_those_that_never_grow_and_those_that_are_too_slow_are_named():
    svg = rays([Ray("fast", 1000), Ray("slow", 1e-9), Ray("still", 0)], [1, 5, 10], WORDS)
    assert texts_of(svg)[-1].text == "never: still; later: slow"


def test_a_hostile_name_does_no_harm():
    svg = rays([Ray('<script>"&', 1), Ray("b", 0.5)], [1, 5, 10], WORDS)
    assert any(text.text == '<script>"&' for text in texts_of(svg))


def test_plain_data():
    one = told(TABLE)
    data = json.loads(json.dumps(plain(one)))
    assert [body["name"] for body in data] == ["Io", "Europa", "Ganymede", "Callisto"]
    ganymede = data[2]
    assert ganymede["gears_deg_a_year"] + ganymede["period_deg_a_year"] == pytest.approx(ganymede["deg_a_year"])
    assert [off["degrees"] for off in ganymede["off"]] == [1, 5, 10]
    assert ganymede["off"][2]["drive_turns"] == pytest.approx(7.514, abs=1e-3)
    assert ganymede["off"][1]["earliest_days"] < ganymede["off"][1]["days"] < ganymede["off"][1]["latest_days"]
