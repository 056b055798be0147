"""What a certificate claims, read from `claim.json`, and what follows from it by arithmetic alone.

A claim names the periods, the tooth counts, and Q = (1 + E)**2, and says: each train that these allow has a worst error
of E or more (`strict`), or: there is none with E or less. A link between rings of Z and Z' teeth, a wheel of a and a
pinion of b teeth makes T'/T = (a/Z) * (Z'/b). A plain link on one arbor needs a - b = Z' - Z. A third gear of c teeth
between ring and gear puts the arbor `clear` to 2c teeth of radius farther out than where that gear would touch its
ring: nearer, they meet; farther, there is no triangle. Each third gear reverses the sense. Rules that leave out more
(frame, how pairs run, places, jigs, all teeth, envelopes) are not used: what holds for all these trains holds for those
that keep such rules as well.

The worst error is at most E if one rate r keeps r * m within [low / w, high * w] for each body of period m, where w is
1 + E or 1 + the body's own limit, if that is less. With reference "first" w is 1 for the first body. There is such a
rate if and only if each body's lowest one is not above any other's highest: a test of pairs, in squares, so that
nothing is rounded. The error is below E if that holds for some error below E: where w of one of the pair is 1 + E, the
two must then not be equal.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import pairwise, product
from typing import Any, NamedTuple

SCHEMA = "ringwright.certificate/1"
MOST_TEETH, MOST_CASES, MOST_PAIRS, MOST_TEXT = 10_000, 20_000, 100_000, 400


class Unreadable(ValueError):
    """What was read is no certificate, or is larger than one may be."""


class DoesNotHold(ValueError):
    """A certificate that can be read and does not hold."""


class Case(NamedTuple):
    """One choice of rings: their teeth, and how many third gears a train with them may have."""

    rings: tuple[int, ...]
    thirds: int


class Trains(NamedTuple):
    """Trains with these bodies' rings (indices), and of each link wheel/pinion and its number of third gears."""

    seats: tuple[int, ...]
    links: tuple[tuple[Fraction, int], ...]


class TeethClaim:
    """The claim. lows, highs: of the bodies' periods; tops: of each the square of 1 + its own greatest error."""

    def __init__(self, data: dict[str, Any]) -> None:
        self._known: dict[tuple[int, int], list[set[Fraction]]] = {}
        bodies, rings, arbors, best = data["bodies"], data["rings"], data["arbors"], data["best"]
        self.square, self.strict, self.scale = (
            _fraction(data["square"]),
            data["strict"] is True,
            _whole(data["scale"], 10**8),
        )
        self.lows, self.highs = ([_fraction(body[name]) for body in bodies] for name in ("low", "high"))
        self.senses = [{"same": 0, "reverse": 1, "either": None}[body["sense"]] for body in bodies]
        most = _fraction(data["max_error"])
        caps = [most if body["cap"] is None else min(most, _fraction(body["cap"])) for body in bodies]
        self.first = {"first": True, "best": False}[data["reference"]]
        self.tops = [(1 + (0 if self.first and not body else cap)) ** 2 for body, cap in enumerate(caps)]
        self.teeth = None if rings["teeth"] is None else [_wholes(one) for one in rings["teeth"]]
        self.inner, self.steps, self.counts = (_wholes(rings[name]) for name in ("inner_teeth", "tooth_step", "counts"))
        largest = MOST_TEETH if data["max_largest"] is None else _whole(data["max_largest"])
        self.wheels, self.pinions, third = (
            [teeth for teeth in _wholes(arbors[name]) if 0 < teeth <= largest] for name in ("wheel", "pinion", "third")
        )
        self.reach, self.reverted = 2 * max(third, default=0), {True: True, False: False}[arbors["reverted"]]
        self.clear = max(1, _whole(arbors["clear"]))
        self.thirds, self.parts = _whole(arbors["third_gears"]), data["max_parts"] and _whole(data["max_parts"])
        self.told = {
            name: [(_whole(one["case"], MOST_CASES), _trains(one)) for one in data[name]]
            for name in ("exceptions", "better")
        }
        self.best = None if best is None else (tuple(_wholes(best["rings"])), _trains(best))
        self.narrowed = data["best_is_worse"] is True
        _need(data["schema"] == SCHEMA, data["schema"])
        _need(2 <= len(bodies) <= min(self.counts) <= max(self.counts) <= 100, "bodies and counts of rings")
        _need(
            self.square >= 1 <= self.scale and min(caps) >= 0 and len(self.wheels) * len(self.pinions) <= MOST_PAIRS, ""
        )
        _need(all(0 < low <= high for low, high in zip(self.lows, self.highs, strict=True)), "periods")
        _need(not self.first or self.lows[0] == self.highs[0], "the reference has one period")

    # -- which trains there are ----------------------------------------------------------------------------------------

    def cases(self) -> list[Case]:
        """Every choice of rings that leaves trains at all: each number of rings; rings on one arbor's links grow
        outwards; each link has an option; with third gears within their limit and that of all parts (n rings, three
        parts a link, two more a third gear); the first body is not to turn in reverse, and without third gears nobody
        is. There is nothing to prove, and so no case, where E is 0: no error is below it."""
        return self.all_cases() if self.square > 1 or not self.strict else []

    def all_cases(self) -> list[Case]:
        found: dict[Case, None] = {}
        for looked, rings in enumerate(self._rings()):
            if looked >= MOST_CASES:
                raise Unreadable(f"more than {MOST_CASES} choices of rings")
            most = self.thirds if self.parts is None else min(self.thirds, (self.parts - 4 * len(rings) + 3) // 2)
            grows = not self.reverted or all(inner < outer for inner, outer in pairwise(rings))
            turns = self.senses[0] != 1 and (most > 0 or 1 not in self.senses)
            some = min(rings) > 0 and grows and most >= 0 and turns
            if some and all(any(self.options(outer - inner, most)) for inner, outer in pairwise(rings)):
                found[Case(rings, most)] = None
        return list(found)

    def _rings(self) -> Iterator[tuple[int, ...]]:
        for count in self.counts:
            if self.teeth is not None:
                yield from product(*self.teeth[:count]) if len(self.teeth) >= count else ()
            else:
                yield from (tuple(z + i * step for i in range(count)) for z in self.inner for step in self.steps)

    def options(self, step: int, most: int) -> list[set[Fraction]]:
        """The ratios wheel/pinion that a link may have, with no third gear, with one, with two (at most `most`)."""
        key = (step, min(most, 2))
        if key not in self._known:
            self._known[key] = found = [set[Fraction]() for _ in range(1 + key[1])]
            for a, b in product(self.wheels, self.pinions):
                apart = abs(step + b - a)  # between where wheel and pinion touch their rings
                kept = (apart == 0, self.clear <= apart <= self.reach, apart + self.clear <= self.reach)
                for ratios, fits in zip(found, kept, strict=False):
                    if fits or (not self.reverted and (ratios is found[0] or self.reach > 0)):
                        ratios.add(Fraction(a, b))
        return self._known[key]

    def check_train(self, case: Case, trains: Trains) -> None:
        """Whether trains are some of a case. Raises DoesNotHold."""
        seats, turned, last = trains.seats, [0], len(case.rings) - 1
        for i, (ratio, thirds) in enumerate(trains.links):
            options = self.options(case.rings[i + 1] - case.rings[i], case.thirds) if i < last else []
            if thirds >= len(options) or ratio not in options[thirds]:
                raise DoesNotHold(f"a train's link {i} is none that there may be")
            turned.append(turned[-1] ^ (thirds & 1))
        if len(turned) != last + 1 or sum(thirds for _, thirds in trains.links) > case.thirds:
            raise DoesNotHold("a train with other links or more third gears than there may be")
        grow = all(inner < outer for inner, outer in pairwise(seats))
        if len(seats) != len(self.lows) or not grow or (seats[0], seats[-1]) != (0, last):
            raise DoesNotHold("a train's bodies ride on other rings than they may")
        if any(sense not in (None, turned[seat]) for seat, sense in zip(seats, self.senses, strict=True)):
            raise DoesNotHold("a body of a train turns the wrong way")

    def within(self, case: Case, seats: Sequence[int], ratios: Sequence[Fraction], strict: bool) -> bool:
        """Whether a train with these ratios wheel/pinion has a worst error of at most E (strict: below E)."""
        gears = [Fraction(1)]
        for ratio in ratios:
            gears.append(gears[-1] * ratio)
        periods = [gears[seat] * case.rings[seat] / case.rings[0] for seat in seats]
        widths = [min(self.square, top) for top in self.tops]
        for j, slow in enumerate(periods):
            for k, fast in enumerate(periods):
                q, room = (slow / self.highs[j] / (fast / self.lows[k])) ** 2, widths[j] * widths[k]
                below = strict and max(self.tops[j], self.tops[k]) >= self.square
                if q > 1 and (q > room or (below and q == room)):
                    return False
        return self.square > 1 or not strict


def _need(kept: bool, what: Any) -> None:
    if not kept:
        raise Unreadable(f"{str(what)[:40]}: not what it may be")


def _whole(value: Any, most: int = MOST_TEETH) -> int:
    _need(type(value) is int and 0 <= value <= most, value)
    return int(value)


def _wholes(values: Any) -> list[int]:
    _need(isinstance(values, list) and len(values) <= 1000, "a list")
    return [_whole(value) for value in values]


def _fraction(text: Any) -> Fraction:
    _need(isinstance(text, str) and len(text) <= MOST_TEXT and "e" not in text.lower(), text)
    return Fraction(text)


def _trains(one: dict[str, Any]) -> Trains:
    return Trains(
        tuple(_wholes(one["seats"])), tuple((_fraction(ratio), _whole(thirds)) for ratio, thirds in one["links"])
    )
