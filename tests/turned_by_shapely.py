"""Teeth of wire and pins turned against each other by shapely, to say how they run: an answer by other means.

The wire is its drawn centre line, buffered by half its thickness; a pin touches it when it is nearer than its radius:
so its middle is nearer to the line than both together, which has far fewer points to look at.
Every place of the two gears is a point of a chart: how far the pins have turned within their pitch, and how far the
toothed gear stands off even turning. What can be reached from a pin in the middle of a gap, on the line of centres, is
filled in; its lower edge, found by halving, is how the toothed gear follows the pins, or the pins follow it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import LineString

from solver.forms.form import Line, Sizes

TURNS, OFFS, HALVINGS = 48, 40, 12
BAND = 6  # columns of the chart on either side of what is known
LOOKED_AT = 60  # places together, where only the first that is not free is looked for
SIDE = 6  # teeth on either side that are drawn


@dataclass(frozen=True)
class Turned:
    """Whether they jam and whether a tooth can come past a pin; in pitches: how far one strays, least and most play;
    and how far inside the play a tip stands when its pin comes in, below 0 where it stands outside."""

    jams: bool
    slips: bool
    uneven: float = 0.0
    play: float = 0.0
    most: float = 0.0
    caught: float = -1.0

    def runs(self, uneven: float) -> bool:
        return not self.jams and not self.slips and self.uneven <= uneven


class Pair:
    """A toothed gear, drawn as `outline`, and a pin gear of so many pins. soon: how soon before and after it comes in a
    pin is looked at, in pitches."""

    soon = 2e-4

    def __init__(self, given: Sizes, outline: Line, teeth: int, pins: int) -> None:
        self.given, self.teeth, self.pins = given, teeth, pins
        self.radius, self.circle = given.radius_mm(teeth), given.radius_mm(pins)
        points = np.array(outline[:-1])
        each = len(points) // teeth
        some = np.arange(-SIDE * each, (SIDE + 1) * each + 1) % len(points)
        turn = math.pi / teeth  # the middle of a gap to the right
        c, s = math.cos(turn), math.sin(turn)
        self.line = LineString(points[some] @ np.array([[c, s], [-s, c]]))
        self.tip = max(math.hypot(*point) for point in outline) + given.tooth_mm / 2
        shapely.prepare(self.line)

    def free(self, turns: np.ndarray, offs: np.ndarray, apart: float, only: int | None = None) -> np.ndarray:
        """Whether no pin touches the wire, or one that is named; turns in pitches of the pins, offs in pitches of the
        teeth, of one shape."""
        result = np.ones(turns.shape, dtype=bool)
        centres = self.radius + self.circle + apart
        every = range(-(self.pins // 2), self.pins - self.pins // 2)
        for pin in every if only is None else (only,):
            past = (turns + pin) * 2 * math.pi / self.pins
            x, y = centres - self.circle * np.cos(past), self.circle * np.sin(past)
            far = np.hypot(x, y)
            near = result & (far < self.tip + self.given.pin_mm / 2)
            if not near.any():
                continue
            at = np.arctan2(y, x)[near] - (turns + offs)[near] * 2 * math.pi / self.teeth
            points = shapely.points(far[near] * np.cos(at), far[near] * np.sin(at))
            result[near] = ~shapely.dwithin(self.line, points, (self.given.pin_mm + self.given.tooth_mm) / 2)
        return result

    def run(self, apart: float = 0.0) -> Turned:
        offs = np.arange(-int(1.2 * OFFS), int(1.2 * OFFS) + 1) / OFFS
        turns = np.arange(TURNS) / TURNS
        reached = self.reached(turns, offs, apart)
        slips = any(row.sum() >= OFFS for row in reached)
        held = [index for index in range(TURNS) if reached[index].any()]
        if not held:
            return Turned(True, False)
        if slips:
            return Turned(False, True)
        middle = np.empty(TURNS)
        for index in range(TURNS):
            if (row := reached[index]).sum() >= 3:
                middle[index] = offs[row].mean()
                continue
            # A narrow place, or none: looked at closely, about the nearest that is known.
            nearest = reached[min(held, key=lambda other: min((index - other) % TURNS, (other - index) % TURNS))]
            close = offs[nearest].mean() + np.arange(-200, 201) * 5e-4
            fine = close[self.free(np.full(len(close), turns[index]), close, apart)]
            if not len(fine):
                return Turned(True, False)
            middle[index] = fine[np.argmin(np.abs(fine - offs[nearest].mean()))]
        wide = reached.sum(axis=1) >= 3
        low, high = np.empty(TURNS), np.empty(TURNS)
        for edge, way in ((low, -1), (high, 1)):
            ends = np.array([offs[row][0 if way < 0 else -1] for row in reached[wide]])
            edge[wide] = self.halved(turns[wide], ends, apart, way)
            edge[~wide] = self.edge(turns[~wide], middle[~wide], apart, way)
        # Between the steps, about the lowest and the highest place of the edge.
        lows = [low]
        for index in (int(low.argmin()), int(low.argmax())):
            between = turns[index] + np.linspace(-1, 1, 17) / TURNS
            known = np.interp(between % 1, np.append(turns, 1), np.append(middle, middle[0]))
            some = self.free(between, known, apart)
            lows.append(self.edge(between[some], known[some], apart, -1))
        uneven, play = float(np.ptp(np.concatenate(lows))), high - low
        return Turned(False, False, uneven, float(play.min()), float(play.max()), self.caught(apart, low, high))

    def reached(self, turns: np.ndarray, offs: np.ndarray, apart: float) -> np.ndarray:
        """The places of the chart that can be reached from its middle: of as many columns about it as are needed."""
        middle, side = len(offs) // 2, 0
        chart = np.zeros((len(turns), len(offs)), dtype=bool)
        while True:
            known, side = side, min(side + BAND, middle)
            for some in (slice(middle - side, middle - known), slice(middle + known + (known > 0), middle + side + 1)):
                chart[:, some] = self.free(*np.meshgrid(turns, offs[some], indexing="ij"), apart)
            found = filled(chart, (0, middle))
            if side == middle or not (found[:, middle - side].any() or found[:, middle + side].any()):
                return found

    def edge(self, turns: np.ndarray, middle: np.ndarray, apart: float, way: int) -> np.ndarray:
        """The end of what is free, from a free middle on to one side."""
        good, going = middle, np.arange(len(turns))
        for step in range(1, int(1.2 * OFFS)):
            further = middle + way * step / OFFS
            going = going[self.free(turns[going], further[going], apart)]
            if not len(going):
                break
            good = np.where(np.isin(np.arange(len(turns)), going), further, good)
        return self.halved(turns, good, apart, way)

    def halved(self, turns: np.ndarray, good: np.ndarray, apart: float, way: int) -> np.ndarray:
        """The end of what is free, from a free place that is less than a step of the chart away from it."""
        bad = good + way / OFFS
        for _ in range(HALVINGS):
            half = (good + bad) / 2
            fine = self.free(turns, half, apart)
            good, bad = np.where(fine, half, good), np.where(fine, bad, half)
        return good

    def comes(self, apart: float) -> float:
        """Where a pin comes in, in pitches past the line of centres."""
        centres, far = self.radius + self.circle + apart, self.tip + self.given.pin_mm / 2
        past = math.acos(max(-1.0, (centres**2 + self.circle**2 - far**2) / (2 * centres * self.circle)))
        return -past * self.pins / 2 / math.pi

    def caught(self, apart: float, low: np.ndarray, high: np.ndarray) -> float:
        """How far inside the play that the other pins leave a tip stands, as a pin comes in."""
        comes = self.comes(apart)
        pin = math.floor(comes)
        fine = np.arange(-1000, 1001) / 1000
        before, after = comes - pin - self.soon, comes - pin + self.soon
        tips = fine[~self.free(np.full(len(fine), after), fine, apart, pin)]
        # What the others leave just before, about the middle of what was found for the step nearest to it.
        step = round(before * TURNS) % TURNS
        start = int(np.argmin(np.abs(fine - (low[step] + high[step]) / 2)))

        def left(some: np.ndarray) -> np.ndarray:
            return self.free(np.full(len(some), before), fine[some], apart)

        def end(way: int) -> int:
            """The first place on that side that is not free, else the last of all."""
            some = np.arange(start, -1 if way < 0 else len(fine), way)
            for block in np.split(some, range(LOOKED_AT, len(some), LOOKED_AT)):
                if not (free := left(block)).all():
                    return int(block[np.argmin(free)])
            return int(some[-1])

        if not left(np.array([start])).all():
            return -1.0
        first, last = end(-1), end(1)
        return max((min(tip - fine[first], fine[last] - tip) for tip in tips), default=-1.0)


class TeethPair(Pair):
    """Two toothed gears, the first drawn as `outline`, the other as `mate`; what `Pair` calls pins are the other's
    teeth. Both are centre lines, nearer than a wire's thickness where they touch."""

    soon = 4e-4  # tips are drawn with chords

    def __init__(self, given: Sizes, outline: Line, teeth: int, mate: Line, mates: int) -> None:
        super().__init__(given, outline, teeth, mates)
        points = np.array(mate[:-1])
        each = len(points) // mates
        side = min(3, mates // 2)
        # The first point is one of the gap before the tooth on the right; a mate's tooth points the other way.
        self.mate = -points[np.arange(-side * each, (side + 1) * each) % len(points)]
        self.bend = (given.jig_pin_mm + given.tooth_mm) / 2
        self.tip_pin = max(math.hypot(*point) for point in mate) - self.bend

    def free(self, turns: np.ndarray, offs: np.ndarray, apart: float, only: int | None = None) -> np.ndarray:
        """Of the mate's teeth one alone is its tip: a disc about its jig pin."""
        points, near = self.mate, self.given.tooth_mm
        if only is not None:
            points, near = np.array([[-self.tip_pin, 0.0]]), self.bend + self.given.tooth_mm
        past = (turns + (only or 0)).ravel() * 2 * math.pi / self.pins
        back = (turns + offs).ravel() * 2 * math.pi / self.teeth
        # A mate turns the other way round: its teeth come past the line of centres upwards, on its left.
        c, s = np.cos(-past)[:, None], np.sin(-past)[:, None]
        x, y = points[:, 0] * c - points[:, 1] * s, points[:, 0] * s + points[:, 1] * c
        x += self.radius + self.circle + apart
        c, s = np.cos(-back)[:, None], np.sin(-back)[:, None]
        placed = np.stack([x * c - y * s, x * s + y * c], axis=-1)
        metal = shapely.linestrings(placed) if only is None else shapely.points(placed[:, 0])
        return ~shapely.dwithin(self.line, metal, near).reshape(turns.shape)

    def comes(self, apart: float) -> float:
        far = self.tip + self.given.tooth_mm / 2 + self.bend
        centres = self.radius + self.circle + apart
        past = math.acos(max(-1.0, min(1.0, (centres**2 + self.tip_pin**2 - far**2) / (2 * centres * self.tip_pin))))
        return -past * self.pins / 2 / math.pi


def filled(chart: np.ndarray, start: tuple[int, int]) -> np.ndarray:
    """What is free and connected with the start; turning a whole pitch leads back to the first row."""
    reached = np.zeros_like(chart)
    reached[start] = chart[start]
    while True:
        more = reached | np.roll(reached, 1, axis=0) | np.roll(reached, -1, axis=0)
        more[:, 1:] |= reached[:, :-1]
        more[:, :-1] |= reached[:, 1:]
        more &= chart
        if (more == reached).all():
            return reached
        reached = more


def turned_plates(one: Line, other: Line, teeth: tuple[int, int], pitch_mm: float, apart: float = 0.0) -> Turned:
    """Two outlines cut from plate, each with the middle of a tooth on the right, turned past each other."""
    radii = [count * pitch_mm / 2 / math.pi for count in teeth]
    fixed = shapely.Polygon(one)
    shapely.prepare(fixed)
    points = np.array(other)
    phases = 40
    edges: dict[int, list[float]] = {1: [], -1: []}

    def free(phase: float, off: float) -> bool:
        """Whether the other, `phase` of its pitch past the line of centres, is free; off: of the one's pitch."""
        own = math.pi / teeth[0] + (phase + off) * 2 * math.pi / teeth[0]  # a gap of the one on the line of centres
        turn = math.pi - phase * 2 * math.pi / teeth[1]
        c, s = math.cos(turn), math.sin(turn)
        placed = points @ np.array([[c, s], [-s, c]]) + (sum(radii) + apart, 0.0)
        c, s = math.cos(-own), math.sin(-own)
        return not fixed.intersects(shapely.Polygon(placed @ np.array([[c, s], [-s, c]])))

    for index in range(phases):
        phase = index / phases
        middle = next((off for off in sorted(np.arange(-60, 61) / 400, key=abs) if free(phase, off)), None)
        if middle is None:
            return Turned(True, False)
        for way, found in edges.items():
            places = (middle + way * step / 100 for step in range(1, 100))
            good, bad = middle, next(off for off in places if not free(phase, off))
            for _ in range(12):
                half = (good + bad) / 2
                good, bad = (half, bad) if free(phase, half) else (good, half)
            found.append(good)
    play = np.array(edges[1]) - np.array(edges[-1])
    return Turned(False, False, float(np.ptp(edges[-1])), float(play.min()), float(play.max()))
