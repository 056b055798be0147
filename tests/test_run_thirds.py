"""Third gears with short teeth: how they run with rings, against gears that shapely turns, and with the judge."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest
from gears_drawn import sizes, spec
from test_run_pairs import BEYOND, BUILT, UNEVEN, agree, drawn_sizes
from turned_by_shapely import TeethPair

from solver.design.errors import DesignError
from solver.forms import FORMS
from solver.forms.form import Sizes, Spec
from solver.forms.pins import SHORT
from solver.forms.saw import SAW

FORM = FORMS["saw"]


def ring_and_third(ring: int, third: int) -> tuple[Spec, Spec]:
    return spec("ring", ring, SAW, third), spec("gear", third, SHORT, ring)


def pair_of(given: Sizes, ring: int, third: int) -> TeethPair:
    one, other = (FORM.shape(given, each).outline[0] for each in ring_and_third(ring, third))
    return TeethPair(given, one, ring, other, third)


def drawn(draw: random.Random) -> tuple[Sizes, int, int]:
    """Wires and proportions, a ring and a third gear, of which a third or so run."""
    given = drawn_sizes(draw)
    pitch = given.pitch_mm
    thin = {"tooth_mm": draw.uniform(0.4, 0.1 * pitch), "jig_pin_mm": draw.uniform(0.5, 0.12 * pitch)}
    deep = {"addendum_mm": draw.uniform(0.15, 0.5) * pitch, "rim_mm": draw.uniform(0.3, 0.6) * pitch}
    return replace(given, **thin, **deep), draw.randint(12, 72), draw.randint(5, 24)


def disagreements(seed: int, pairs: int, most: int = 4) -> list[str]:
    """As for pins: random pairs at both ends and in the middle of their span, and where they may not run at all."""
    draw, done, wrong = random.Random(seed), 0, []
    while done < pairs:
        given, ring, third = drawn(draw)
        try:
            pair, span = pair_of(given, ring, third), FORM.span(given, *ring_and_third(ring, third), UNEVEN)
        except DesignError:
            continue
        done += 1
        places = [draw.uniform(-0.2, 0.3) * given.pitch_mm]
        if span is not None:
            places += [float(span.low_mm), float(span.low_mm + span.high_mm) / 2, float(span.high_mm)]
        for apart in draw.sample(places, min(most, len(places))):
            found, turned = FORM.run(given, *ring_and_third(ring, third), apart), pair.run(apart)
            if no := agree(found, turned, given.pitch_mm):
                told = f"{no}: {ring} with {third}, {apart:.3f} mm apart: {found}, {turned}, {given}"
                wrong.append(f"seed {seed}: {told}")
    return wrong


@pytest.mark.slow
def test_some_random_rings_and_third_gears_run_as_shapely_turns_them() -> None:
    assert disagreements(seed=1, pairs=10, most=1) == []


@pytest.mark.deep
@pytest.mark.parametrize("seed", range(300, 310))
def test_hundreds_of_random_rings_and_third_gears_run_as_shapely_turns_them(seed: int) -> None:
    assert disagreements(seed, pairs=35) == []


def ends_that_are_wrong(seed: int, pairs: int) -> list[str]:
    """Pairs that do not run at an end of their span, or still run BEYOND it."""
    draw, done, wrong = random.Random(seed), 0, []
    while done < pairs:
        given, ring, third = drawn(draw)
        try:
            span, pair = FORM.span(given, *ring_and_third(ring, third), UNEVEN), pair_of(given, ring, third)
        except DesignError:
            continue
        if span is None:
            continue
        done += 1
        for end, way in ((span.low_mm, -1), (span.high_mm, 1)):
            at, beyond = pair.run(float(end)), pair.run(float(end) + way * BEYOND * given.pitch_mm)
            if not at.runs(UNEVEN):
                wrong.append(f"seed {seed}: {ring} with {third} does not run at {float(end)}: {at}, {given}")
            if beyond.runs(UNEVEN) and beyond.caught < 0:
                wrong.append(f"seed {seed}: {ring} with {third} runs beyond {float(end)}: {beyond}, {given}")
    return wrong


@pytest.mark.slow
def test_two_pairs_run_at_the_ends_of_their_span_and_not_beyond() -> None:
    assert ends_that_are_wrong(seed=2, pairs=2) == []


@pytest.mark.deep
@pytest.mark.parametrize("seed", range(400, 404))
def test_rings_and_third_gears_run_at_the_ends_of_their_span_and_not_beyond(seed: int) -> None:
    assert ends_that_are_wrong(seed, pairs=9) == []


def test_rings_run_with_short_teeth_and_jam_with_their_own() -> None:
    """Measured with polygons of the wire, 600 points to half a tooth: how far 66, 24 and 30 teeth stray with 14, 14 and
    20 short ones, in pitches."""
    given = sizes(*BUILT)
    for ring, third, strays in ((66, 14, 0.041), (24, 14, 0.057), (30, 20, 0.041)):
        one, other = ring_and_third(ring, third)
        found = FORM.run(given, one, other)
        assert found.within(0.15 * 25.4) and found.uneven / 25.4 == pytest.approx(strays, abs=0.002)
        assert FORM.run(given, other, one) == found
    full = spec("gear", 14, SAW, 66)
    assert FORM.run(given, ring_and_third(66, 14)[0], full).jams
