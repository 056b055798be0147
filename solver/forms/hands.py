"""Gears as hands make them: how many pairs run whose teeth and pins are not quite where they should be.

Each gear has errors within an accuracy: of every tooth or pin along the pitch circle, of its radius as a whole, and of
its roundness, an oval of any lie. They are drawn once from a fixed seed, all alike, and grow with the accuracy. A pair
is turned through a whole turn of the toothed gear, every pin in every gap that it comes to there; each flank of a gap
goes with its own tooth. Hunting is looked at within each tooth, as between true gears: what builds up slowly over a
turn does not count. For forms with pins, at the distance of the pitch radii. Plane geometry; the errors' shapes common
practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from solver.forms.form import Sizes, Spec
from solver.forms.gaps import Floats, Gaps, Ints
from solver.forms.pinned import PinForm, in_order
from solver.forms.rolling import Bools
from solver.forms.tips import TipGaps, flank_turn

TRIES, SEED = 200, 1
_PHASES = 24
_FIRST = 4  # steps: the finest accuracy that is tried at first
_SOME = 20  # pairs that are looked at before it is asked whether it is plain already
STEP_MM, _MOST_MM = 0.05, 5.0
_DEEPEST_MM, _FINE_MM = 50.0, 0.005
_ROUNDED = 1e-9  # of a pitch


@dataclass(frozen=True)
class HandMade:
    """Of so many pairs: how many jam, lose contact, or else hunt more than allowed at some place of a turn."""

    tried: int
    jam: int
    slip: int
    hunt: int

    @property
    def running(self) -> float:
        """The share that runs."""
        return 1 - (self.jam + self.slip + self.hunt) / self.tried


@dataclass(frozen=True)
class Errors:
    """Errors of some gears [mm], arrays of shape (gears, teeth): along the pitch circle, and outwards."""

    along: Floats
    out: Floats


def drawn_errors(teeth: int, tries: int, seed: int) -> Errors:
    """Errors of so many gears with so many teeth or pins, made to an accuracy of 1 mm."""
    draw = np.random.default_rng([seed, teeth])
    around = np.arange(teeth) * 2 * np.pi / teeth
    along = draw.uniform(-1, 1, (tries, teeth))
    radius = draw.uniform(-1, 1, (tries, 1))
    oval, lie = draw.uniform(-1, 1, (tries, 1)), draw.uniform(0, np.pi, (tries, 1))
    return Errors(along, radius + oval * np.cos(2 * (around - lie)))


Table = tuple[Floats, Floats]  # places, rising, and a value at each


def free_of(gaps: Gaps) -> Table:
    """Half of what the gaps of one gear leave free [rad], at distances from its middle [mm] from farther in than any
    pin comes to the outermost. What is taken between two of them is off by far less than any accuracy of hands."""
    outermost = float(gaps.outermost_mm[0])
    nearest = max(float(gaps.radius_mm[0]) - _DEEPEST_MM, outermost / 100)
    places = np.linspace(nearest, outermost, int((outermost - nearest) / _FINE_MM) + 2)
    return places, gaps.half_width(np.zeros(1, dtype=np.intp), places[None, :])[0]


class HandPairs:
    """A toothed gear and a pin gear, many times over, with errors at an accuracy of 1 mm."""

    def __init__(self, gaps: Gaps, pins: int, teeth: Errors, dowels: Errors, free: Table | None = None) -> None:
        """free: of these gaps, where it is known."""
        self.gaps, self.pins, self.teeth, self.dowels = gaps, pins, teeth, dowels
        self.free = free or free_of(gaps)
        self.count = int(gaps.teeth[0])
        self.radius = float(gaps.radius_mm[0])
        self.rolls = self.radius * pins / self.count
        self.centres = self.radius + self.rolls
        self.circle = self.stands_on()

    def stands_on(self) -> float:
        """The radius of the circle on which the pins stand [mm]."""
        return self.rolls

    def edges(self, accuracy_mm: float) -> tuple[Floats, Floats]:
        """How far the toothed gear may stand behind and before even turning [mm at the pitch circle], arrays of shape
        (gears, teeth, phases): pin 0 in gap 0 is on the line of centres at first. -inf and inf where nothing holds
        it."""
        shape = (len(self.teeth.along), self.count, _PHASES)
        low, high = np.full(shape, -np.inf), np.full(shape, np.inf)
        near = self._near(accuracy_mm)
        wide = int(near) + 1
        phases = np.arange(_PHASES) / _PHASES
        tooth = np.arange(self.count)
        for ahead in range(-wide, wide + 1):
            # The pin that comes so many pitches after the one of this tooth, at the same moment.
            at = phases - ahead
            near_by = np.flatnonzero((np.abs(at) < near) & (np.abs(at) <= self.pins / 2))
            if not len(near_by):
                continue
            some = slice(int(near_by[0]), int(near_by[-1]) + 1)  # they follow each other
            gap = (tooth + ahead) % self.count
            pin = (tooth + ahead) % self.pins
            lean = self.dowels.along[:, pin] * accuracy_mm / self.rolls
            turn = at[some] * 2 * np.pi / self.pins
            reach = self.circle + self.dowels.out[:, pin] * accuracy_mm
            # Of turn + lean, by the theorems of addition: sines of whole arrays would take longest of all here.
            along, across = ((reach * of(lean))[:, :, None] for of in (np.cos, np.sin))
            x = self.centres - (along * np.cos(turn) - across * np.sin(turn))
            y = along * np.sin(turn) + across * np.cos(turn)
            far = np.sqrt(x * x + y * y)
            off = np.arctan2(y, x) - at[some] * 2 * np.pi / self.count
            # A gap lies between the tooth of its number, on the side to which the gear turns, and the next that comes.
            for side, mine in ((-1, gap), (1, (gap + 1) % self.count)):
                free, held = self._half(far - (self.teeth.out[:, mine] * accuracy_mm)[:, :, None])
                shift = (self.teeth.along[:, mine] * accuracy_mm / self.radius)[:, :, None]
                limit = np.where(held, off + side * free - shift, side * np.inf)
                edge, tighter = (high, np.minimum) if side > 0 else (low, np.maximum)
                tighter(edge[:, :, some], limit, out=edge[:, :, some])
        return low * self.radius, high * self.radius

    def _near(self, accuracy_mm: float) -> float:
        """How many pitches from the line of centres a pin may stand that any tooth holds, at this accuracy. At a
        distance r from its own middle a pin is F from the other where cos(angle) = (C^2 + r^2 - F^2) / (2 C r), C
        between the middles: farthest for the outermost tooth, at r = sqrt(C^2 - F^2), or the nearest that there is."""
        out, off = (accuracy_mm * float(np.abs(one.out).max()) for one in (self.teeth, self.dowels))
        far = float(self.gaps.outermost_mm[0]) + out
        where = float(np.sqrt(max(self.centres**2 - far**2, 0.0)))
        r = min(max(where, self.circle - off), self.circle + off)
        if far >= self.centres or r <= 0:
            return self.pins / 2 + 1
        cosine = (self.centres**2 + r**2 - far**2) / (2 * self.centres * r)
        lean = accuracy_mm * float(np.abs(self.dowels.along).max()) / self.rolls
        angle = float(np.arccos(np.clip(cosine, -1, 1))) + lean
        return angle * self.pins / 2 / np.pi + _ROUNDED

    def _half(self, far: Floats) -> tuple[Floats, Bools]:
        """Half of what a gap leaves free at distances [mm] from the middle, and where it is between teeth at all. The
        places of the table are evenly apart, so that nothing needs to be looked for."""
        places, free = self.free
        steps = (far - places[0]) * ((len(places) - 1) / (places[-1] - places[0]))
        np.clip(steps, 0.0, len(places) - 1.0, out=steps)
        left = np.minimum(steps.astype(np.intp), len(places) - 2)
        steps -= left
        below = free[left]
        return below + steps * (free[left + 1] - below), far < places[-1]

    def made(self, accuracy_mm: float, uneven_mm: float) -> HandMade:
        """How they run with their errors at this accuracy, straying at most so far."""
        jams, slips, hunts = self.faults(accuracy_mm, uneven_mm)
        return HandMade(len(jams), int(jams.sum()), int(slips.sum()), int(hunts.sum()))

    def faults(self, accuracy_mm: float, uneven_mm: float) -> tuple[Bools, Bools, Bools]:
        """Which of them jam, lose contact, or else hunt."""
        low, high = self.edges(accuracy_mm)
        jams: Bools = np.any(low > high, axis=(1, 2))
        held: Bools = np.all(np.isfinite(low) & np.isfinite(high), axis=(1, 2))
        hunts = jams & ~jams
        good = np.flatnonzero(~jams & held)
        for edge in (low[good], high[good]):
            # Within each tooth, with the beginning of the next; after the last another pin comes than the first.
            after = np.concatenate([edge[:, 1:, :1], edge[:, -1:, -1:]], axis=1)
            whole = np.concatenate([edge, after], axis=2)
            hunts[good] |= np.any(np.ptp(whole, axis=2) > uneven_mm, axis=1)
        return jams, ~jams & ~held, hunts

    def enough(self, accuracy_mm: float, uneven_mm: float, share: float, order: Ints | None = None) -> bool:
        """Whether at least this share of the pairs runs at an accuracy; said as soon as too many do not. order: in
        which they are looked at; those that did not run are then first in it, as the next time they are the likeliest
        not to."""
        order = np.arange(len(self.teeth.along)) if order is None else order
        most = (1 - share) * len(order) + 1e-9
        bad = np.zeros(len(order), dtype=bool)
        for first in range(0, len(order), _SOME):
            some = slice(first, first + _SOME)
            bad[some] = np.any(self.some(order[some]).faults(accuracy_mm, uneven_mm), axis=0)
            if bad.sum() > most:
                order[:] = np.concatenate([order[bad], order[~bad]])
                return False
        return True

    def some(self, which: Ints) -> HandPairs:
        """Some of the pairs, by number."""
        teeth, dowels = (Errors(each.along[which], each.out[which]) for each in (self.teeth, self.dowels))
        return type(self)(self.gaps, self.pins, teeth, dowels, self.free)


class HandTips(HandPairs):
    """Two toothed gears, many times over; the mate's teeth have the errors of dowels."""

    gaps: TipGaps

    def stands_on(self) -> float:
        return float(self.gaps.mates.tip_mm[0])

    def edges(self, accuracy_mm: float) -> tuple[Floats, Floats]:
        low, high = super().edges(accuracy_mm)
        tip, far = float(self.gaps.own.tip_mm[0]), float(self.gaps.mates.outermost_mm[0])
        cosine = (self.centres**2 + tip**2 - far**2) / (2 * self.centres * tip)
        reach = float(np.arccos(np.clip(cosine, -1, 1))) * self.count / 2 / np.pi + 0.5
        phases, tooth = np.arange(_PHASES) / _PHASES, np.arange(self.count)
        for ahead in range(-int(reach + 1.5), int(reach + 1.5) + 1):
            gap, pin = (tooth + ahead) % self.count, (tooth + ahead) % self.pins
            # Each side of the mate's tooth beside the gear's own that comes before its gap, or after it.
            for side, mine in ((-1, gap), (1, (gap + 1) % self.count)):
                at = -side * (phases - ahead)
                some = np.flatnonzero((np.abs(at + 0.5) < reach) & (np.abs(at) <= self.pins / 2))
                if len(some):
                    found = self._stopped(at[some], side, mine, pin, accuracy_mm)
                    if side < 0:
                        low[:, :, some] = np.maximum(low[:, :, some], found)
                    else:
                        high[:, :, some] = np.minimum(high[:, :, some], -found)
        return low, high

    def _stopped(self, at: Floats, side: int, mine: Ints, pin: Ints, accuracy_mm: float) -> Floats:
        """How far [mm] the gear lags at most by its own teeth `mine` at flanks of the mate's, or leads (side 1), all
        looked at as if it lagged."""
        mates, teeth, dowels = self.gaps.mates, self.teeth, self.dowels
        normal, mate_tip = float(mates.normal[0]), float(mates.tip_mm[0])
        lean = -side * dowels.along[:, pin] * accuracy_mm / self.rolls
        out = (dowels.out[:, pin] * accuracy_mm)[:, :, None]
        circle = float(self.gaps.own.tip_mm[0]) + (teeth.out[:, mine] * accuracy_mm)[:, :, None]
        edge = (mate_tip + out) * np.cos(normal) + float(mates.bend_mm[0] + mates.reach_mm[0])
        turn = at * 2 * np.pi / self.pins + lean[:, :, None]
        angle, along = flank_turn(turn, np.array(self.centres), circle, edge, np.array(normal))
        first = -(mate_tip + out) * np.sin(normal)
        shift = -side * (teeth.along[:, mine] * accuracy_mm)[:, :, None]
        held = (along >= first) & (along <= first + float(mates.edge_mm[0]))
        limit = (angle - (at + 0.5) * 2 * np.pi / self.count) * self.radius - shift
        return np.where(held, limit, -np.inf)


def by_hand(
    form: PinForm, sizes: Sizes, one: Spec, other: Spec, accuracy_mm: float, uneven: float, tries: int = TRIES
) -> HandMade:
    """How pairs run whose gears are made to an accuracy; uneven: how far they may stray, as a share of a pitch. Raises
    DesignError where a gear cannot be made."""
    return _pairs(form, sizes, one, other, tries).made(accuracy_mm, uneven * sizes.pitch_mm)


def accuracy_needed(
    form: PinForm, sizes: Sizes, one: Spec, other: Spec, uneven: float, share: float = 0.95, tries: int = TRIES
) -> float | None:
    """The coarsest accuracy [mm], to a twentieth, at which at least this share of pairs runs; None where not even true
    gears do. Raises DesignError where a gear cannot be made."""
    pairs, most = _pairs(form, sizes, one, other, tries), uneven * sizes.pitch_mm
    if not pairs.some(np.zeros(1, dtype=np.intp)).enough(0.0, most, share):
        return None
    order = np.arange(tries)
    # Wider and wider until one does not do: most need far less than _MOST_MM, and coarse ones take longest.
    good, bad, last = 0, _FIRST, round(_MOST_MM / STEP_MM)
    while bad < last and pairs.enough(bad * STEP_MM, most, share, order):
        good, bad = bad, 2 * bad
    bad = min(bad, last)
    while bad - good > 1:
        middle = (good + bad) // 2
        runs = pairs.enough(middle * STEP_MM, most, share, order)
        good, bad = (middle, bad) if runs else (good, middle)
    return round(good * STEP_MM, 2)


def accuracy_of_gears(
    form: PinForm,
    sizes: Sizes,
    pairs: Iterable[tuple[Spec, Spec]],
    uneven: float,
    share: float = 0.95,
    tries: int = TRIES,
) -> dict[Spec, float | None]:
    """For each gear of these pairs the accuracy [mm] that the most exacting of its pairs needs; None where one does not
    run even if it is true."""
    found: dict[Spec, float | None] = {}
    for one, other in pairs:
        need = accuracy_needed(form, sizes, one, other, uneven, share, tries)
        for spec in (one, other):
            known = found.get(spec, _MOST_MM)
            found[spec] = None if need is None or known is None else min(need, known)
    return found


@lru_cache(maxsize=16)
def _pairs(form: PinForm, sizes: Sizes, one: Spec, other: Spec, tries: int) -> HandPairs:
    pair = in_order(one, other)
    teeth, dowels = (drawn_errors(spec.teeth, tries, seed) for seed, spec in enumerate(pair, start=SEED))
    gaps = form.among(sizes, (pair,))
    return (HandTips if isinstance(gaps, TipGaps) else HandPairs)(gaps, pair[1].teeth, teeth, dowels)
