"""Third gears with short teeth: how they run with rings, against gears that shapely turns, and with the judge."""

from __future__ import annotations

import math
import random
from dataclasses import replace

import numpy as np
import pytest
import shapely
from gears_drawn import sizes, spec
from shapely.geometry import LineString
from shapely.ops import unary_union
from test_run_pairs import BEYOND, BUILT, UNEVEN, agree, drawn_sizes
from turned_by_shapely import TeethPair

from solver.design.errors import DesignError
from solver.forms import FORMS
from solver.forms.form import Sizes, Spec
from solver.forms.hands import Errors, HandTips, by_hand, drawn_errors
from solver.forms.pins import SHORT
from solver.forms.saw import SAW, Saw

FORM = FORMS["saw"]
assert isinstance(FORM, Saw)


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
            if turned.jams and found.tips_mm < 0:
                continue
            if no := agree(found, turned, given.pitch_mm):
                told = f"{no}: {ring} with {third}, {apart:.3f} mm apart: {found}, {turned}, {given}"
                wrong.append(f"seed {seed}: {told}")
    return wrong


@pytest.mark.slow
def test_some_random_rings_and_third_gears_run_as_shapely_turns_them() -> None:
    assert disagreements(seed=1, pairs=4, most=1) == []


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


@pytest.mark.deep
def test_a_pair_runs_at_the_ends_of_its_span_and_not_beyond() -> None:
    assert ends_that_are_wrong(seed=2, pairs=1) == []


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


# -- as hands make them ------------------------------------------------------------------------------------------------


def by_hands(given: Sizes, ring: int, third: int, tries: int) -> tuple[HandTips, Errors, Errors]:
    errors = drawn_errors(ring, tries, 1), drawn_errors(third, tries, 2)
    return HandTips(FORM.tips(given, [ring_and_third(ring, third)]), third, *errors), *errors


def test_true_gears_run_as_without_hands() -> None:
    given = sizes(*BUILT)
    for ring, third in ((66, 14), (30, 20)):
        true, (low, high) = FORM.run(given, *ring_and_third(ring, third)), by_hands(given, ring, third, 2)[0].edges(0.0)
        assert np.ptp(low) == pytest.approx(true.uneven, abs=0.01 * 25.4)
        assert (high - low).min() == pytest.approx(true.backlash, abs=0.01 * 25.4)
        made = by_hand(FORM, given, *ring_and_third(ring, third), 0.0, 0.15, tries=3)
        assert (made.tried, made.jam, made.slip, made.hunt) == (3, 0, 0, 0)


def bent(half: np.ndarray, middle: float, errors: Errors, tooth: int, scale: tuple[float, float]) -> np.ndarray:
    """One tooth, drawn on the right, turned to the angle `middle` and moved by its errors; scale: accuracy and radius
    of the pitch circle [mm]. A gear's teeth are errors of one pair, the first."""
    accuracy, radius = scale
    moved = np.add(half, (errors.out[0, tooth] * accuracy, 0.0))
    turn = middle + errors.along[0, tooth] * accuracy / radius
    c, s = math.cos(turn), math.sin(turn)
    return moved @ np.array([[c, s], [-s, c]])


@pytest.mark.slow
@pytest.mark.parametrize(("ring", "third"), [(24, 14), (18, 9)])
def test_bent_teeth_are_held_where_shapely_feels_the_wire(ring: int, third: int) -> None:
    """As for pins: just within the edges nothing touches, just beyond them something does."""
    given, accuracy, felt = sizes(*BUILT), 0.3, 0
    made, mine, mates = by_hands(given, ring, third, 1)
    low, high = made.edges(accuracy)
    radius, circle = given.radius_mm(ring), given.radius_mm(third)
    lines = [np.array(FORM.shape(given, each).outline[0]) for each in ring_and_third(ring, third)]
    one, other = (line[: (len(line) - 1) // count + 1] for line, count in zip(lines, (ring, third), strict=True))
    # The middle of gap 0 is on the right, that of gap 1 below; each gap is between the tooth of its number and the one
    # that comes next.
    wires = [bent(one, (0.5 - tooth) * 2 * math.pi / ring, mine, tooth, (accuracy, radius)) for tooth in range(ring)]
    metal = unary_union([LineString(wire) for wire in wires])

    def free(tooth: int, phase: float, off_mm: float) -> bool:
        turned = (tooth + phase) * 2 * math.pi / ring + off_mm / radius
        for ahead in range(-3, 4):
            number = (tooth + ahead) % third
            past = (phase - ahead) * 2 * math.pi / third
            # A mate turns the other way round, and so are its errors along the pitch circle.
            wire = bent(other, past, mates, number, (accuracy, circle)) * (-1, 1) + (radius + circle, 0.0)
            c, s = math.cos(-turned), math.sin(-turned)
            if shapely.dwithin(metal, LineString(wire @ np.array([[c, s], [-s, c]])), given.tooth_mm):
                return False
        return True

    for tooth in range(0, ring, 2):
        for index in (0, 7, 15):
            edge = low[0, tooth, index], high[0, tooth, index]
            if not edge[0] + 0.3 < edge[1] or not all(map(math.isfinite, edge)):
                continue
            inside = [free(tooth, index / 24, off) for off in (edge[0] + 0.12, edge[1] - 0.12)]
            beyond = [free(tooth, index / 24, off) for off in (edge[0] - 0.12, edge[1] + 0.12)]
            felt += 1
            assert (inside, beyond) == ([True] * 2, [False] * 2), (tooth, index, edge)
    assert felt >= 15
