"""What a certificate claims, read from `claim.json`, and what follows from it by arithmetic alone.

A claim names the periods, the tooth counts, and Q = (1 + E)**2, and says: each train that these allow has a worst error
of E or more (`strict`), or: there is none with E or less. A link between rings of Z and Z' teeth, a wheel of a and a
pinion of b teeth makes T'/T = (a/Z) * (Z'/b). A plain link on one arbor needs a - b = Z' - Z. A third gear of c teeth
between ring and gear puts the arbor 1 to 2c teeth of radius farther out than that gear's touch: nearer, the gear meets
its ring; farther, there is no triangle. Rules that leave out more (frame, clearance, how pairs run, places, jigs, all
teeth, envelopes) are not used: what holds for all these trains holds for those that keep them as well.

The worst error is below E if one rate r keeps r * m within [low / w, high * w] for each body of period m, where w is
1 + E or 1 + the body's own limit, if that is less. With reference "first" w is 1 for the first body. There is such a
rate if and only if each body's lowest one is not above any other's highest: a test of pairs, in squares, so that
nothing is rounded.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations, pairwise, product
from typing import Any

SCHEMA = "ringwright.certificate/1"
MOST_TEETH, MOST_CASES, MOST_BITS = 10_000, 20_000, 4_000
SENSES = ("same", "reverse", "either")


class Unreadable(ValueError):
    """What was read is no certificate, or is larger than one may be."""


class Unsound(ValueError):
    """A certificate that can be read and does not hold."""


@dataclass(frozen=True)
class Case:
    """One choice of rings: their teeth, and how many third gears a train with them may have."""

    rings: tuple[int, ...]
    thirds: int


@dataclass(frozen=True)
class Trains:
    """Trains with these bodies' rings (indices), and of each link a ratio wheel/pinion and its number of third gears."""

    case: int
    seats: tuple[int, ...]
    links: tuple[tuple[Fraction, int], ...]


class Claim:
    """The claim. lows, highs: of the bodies' periods; tops: of each the square of 1 + its own greatest error."""

    def __init__(self, data: dict[str, Any]) -> None:
        """Raises Unreadable."""
        self._known: dict[tuple[int, int], list[set[Fraction]]] = {}
        try:
            self._read(data)
        except (KeyError, TypeError, ValueError, AttributeError, ZeroDivisionError, OverflowError) as fault:
            raise Unreadable(f"claim.json: {type(fault).__name__}: {str(fault)[:200]}") from None

    def _read(self, data: dict[str, Any]) -> None:
        _need(data["schema"] == SCHEMA, "schema")
        self.square, self.strict, self.scale = _fraction(data["square"]), data["strict"], _whole(data["scale"], 10**8)
        most = _fraction(data["max_error"])
        bodies = data["bodies"]
        _need(2 <= len(bodies) <= 100 and self.square >= 1 and self.scale >= 1 and most >= 0, "bodies, square, scale")
        _need(isinstance(self.strict, bool) and data["reference"] in ("first", "best"), "strict, reference")
        self.lows = [_fraction(body["low"]) for body in bodies]
        self.highs = [_fraction(body["high"]) for body in bodies]
        self.senses = [body["sense"] for body in bodies]
        _need(all(0 < low <= high for low, high in zip(self.lows, self.highs, strict=True)), "low, high")
        _need(all(sense in SENSES for sense in self.senses), "sense")
        caps = [most if body["cap"] is None else min(most, _fraction(body["cap"])) for body in bodies]
        _need(min(caps) >= 0, "cap")
        self.first = data["reference"] == "first"
        _need(not self.first or self.lows[0] == self.highs[0], "the reference has one period")
        caps[0] = Fraction(0) if self.first else caps[0]
        self.tops = [(1 + cap) ** 2 for cap in caps]
        rings, arbors = data["rings"], data["arbors"]
        self.counts = _wholes(rings["counts"], 200)
        _need(min(self.counts) >= len(bodies), "counts")
        self.teeth = None if rings["teeth"] is None else [_wholes(one) for one in rings["teeth"]]
        self.inner, self.steps = _wholes(rings["inner_teeth"]), _wholes(rings["tooth_step"])
        largest = MOST_TEETH if data["max_largest"] is None else _whole(data["max_largest"])
        self.wheels, self.pinions, self.third_teeth = (
            [teeth for teeth in _wholes(arbors[name]) if teeth <= largest] for name in ("wheel", "pinion", "third")
        )
        self.thirds, self.reverted = _whole(arbors["third_gears"], 400), arbors["reverted"]
        _need(isinstance(self.reverted, bool), "reverted")
        _need(min([1, *self.wheels, *self.pinions, *self.third_teeth, *self.inner]) > 0, "teeth")
        self.parts = None if data["max_parts"] is None else _whole(data["max_parts"])
        self.exceptions = [_trains(one) for one in data["exceptions"]]
        self.better = {_trains(one) for one in data["better"]}
        best, self.best_is_worse = data["best"], data["best_is_worse"]
        self.best = None if best is None else (tuple(_wholes(best["rings"])), tuple(_wholes(best["seats"])), best["links"])

    # -- which trains there are ----------------------------------------------------------------------------------------

    def cases(self) -> Iterator[Case]:
        """Every choice of rings that leaves trains at all: each number of rings; rings on one arbor's links grow
        outwards; each link has an option; with third gears within their limit and that of all parts (n rings, three
        parts a link, two more a third gear); where there are none, nobody has to turn in reverse."""
        found, looked = dict[Case, None](), 0
        for count in self.counts:
            if self.teeth is not None:
                _need(len(self.teeth) >= count, "teeth of each ring")
                chosen: Iterator[tuple[int, ...]] = product(*self.teeth[:count])
            else:
                chosen = (tuple(z + i * step for i in range(count)) for z in self.inner for step in self.steps)
            thirds = self.thirds if self.parts is None else min(self.thirds, (self.parts - 4 * count + 3) // 2)
            for rings in chosen if thirds >= 0 and (thirds or "reverse" not in self.senses) else ():
                looked += 1
                if looked > MOST_CASES:
                    raise Unreadable(f"more than {MOST_CASES} choices of rings")
                grows = not self.reverted or all(inner < outer for inner, outer in pairwise(rings))
                if grows and all(any(self.options(b - a, thirds)) for a, b in pairwise(rings)):
                    found[Case(rings, thirds)] = None
        return iter(found)

    def options(self, step: int, most: int) -> list[set[Fraction]]:
        """The ratios wheel/pinion that a link may have, with no third gear, with one, with two (at most `most`)."""
        key, reach = (step, min(most, 2)), 2 * max(self.third_teeth, default=0)
        if key not in self._known:
            found: list[set[Fraction]] = [set() for _ in range(1 + key[1])]
            for a, b in product(self.wheels, self.pinions):
                apart = step + b - a  # how much farther out the pinion's touch is than the wheel's
                fits = (apart == 0, 1 <= abs(apart) <= reach, abs(apart) + 1 <= reach)
                for thirds, kept in zip(found, fits if self.reverted else (True, reach > 0, reach > 0), strict=False):
                    if kept:
                        thirds.add(Fraction(a, b))
            self._known[key] = found
        return self._known[key]

    def seats(self, rings: int) -> Iterator[tuple[int, ...]]:
        """Every way to hand so many rings to the bodies, in their order: the first and the last ring have a body."""
        for middle in combinations(range(1, rings - 1), len(self.lows) - 2):
            yield (0, *middle, rings - 1)

    # -- how far a train is off ----------------------------------------------------------------------------------------

    def within(self, rings: Sequence[int], seats: Sequence[int], ratios: Sequence[Fraction], strict: bool) -> bool:
        """Whether a train with these ratios wheel/pinion has a worst error of at most E (strict: below E)."""
        gears = [Fraction(1)]
        for ratio in ratios:
            gears.append(gears[-1] * ratio)
        periods = [gears[seat] * rings[seat] / rings[0] for seat in seats]
        widths = [min(self.square, top) for top in self.tops]
        for j, slow in enumerate(periods):
            for k, fast in enumerate(periods):
                q = ((slow / self.highs[j]) / (fast / self.lows[k])) ** 2
                room = widths[j] * widths[k]
                # Below E, what is kept by errors below E: where both bodies' own limits are less, those count whole.
                open_end = strict and max(self.tops[j], self.tops[k]) >= self.square
                if q > 1 and (q > room or (open_end and q == room)):
                    return False
        return self.square > 1 or not strict


def _need(kept: bool, what: str) -> None:
    if not kept:
        raise ValueError(f"{what}: not what it may be")


def _whole(value: object, most: int = MOST_TEETH) -> int:
    _need(type(value) is int and 0 <= value <= most, str(value)[:40])
    assert isinstance(value, int)
    return value


def _wholes(values: object, most: int = MOST_TEETH) -> list[int]:
    _need(isinstance(values, list) and len(values) <= 1000, "a list")
    assert isinstance(values, list)
    return [_whole(value, most) for value in values]


def _fraction(text: object) -> Fraction:
    _need(isinstance(text, str) and len(text) < MOST_BITS and "e" not in text.lower(), str(text)[:40])
    return Fraction(str(text))


def _trains(one: dict[str, Any]) -> Trains:
    links = tuple((_fraction(ratio), _whole(thirds)) for ratio, thirds in one["links"])
    return Trains(_whole(one["case"], MOST_CASES), tuple(_wholes(one["seats"])), links)
