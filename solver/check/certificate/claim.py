"""What a certificate claims, read from `claim.json`, and what follows from it by arithmetic alone.

A claim names the periods, the tooth counts, and Q = (1 + E)**2, and says: each train that these allow has a worst error
of E or more (`strict`), or: there is none with E or less. A link between rings of Z and Z' teeth, a wheel of a and a
pinion of b teeth makes T'/T = (a/Z) * (Z'/b). A plain link on one arbor needs a - b = Z' - Z. A third gear of c teeth
between ring and gear puts the arbor `clear` to 2c teeth of radius farther out than where that gear would touch its
ring: nearer, they meet; farther, there is no triangle. `clear` is the least whole number of teeth, of p/(2 pi) or, with
a module m, of m/2 of radius each, that has room for what the ring and the gear behind reach beyond their pitch circles
and for the clearance; with a pi that is too small it is not too large. Each third gear reverses the sense. What is
built and stays may hold rings (teeth, and who may ride where) and links (ratio and number of third gears). Rules that
leave out more (frame, how pairs run, places, jigs, all teeth, envelopes) are not used: what holds for all these trains
holds for those that keep such rules as well.

The worst error is at most E if one rate r keeps r * m within [low / w, high * w] for each body of period m, where w is
1 + E or 1 + the body's own limit, if that is less. With reference "first" w is 1 for the first body. There is such a
rate if and only if each body's lowest one is not above any other's highest: a test of pairs, in squares, so that
nothing is rounded. The error is below E if that holds for some error below E: where w of one of the pair is 1 + E, the
two must then not be equal.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import accumulate, pairwise, permutations, product
from math import ceil
from operator import mul
from typing import Any, NamedTuple

SCHEMA = "ringwright.certificate/1"
MOST_TEETH, MOST_CASES, MOST_PAIRS, MOST_TEXT = 10_000, 20_000, 100_000, 400
PI = Fraction(314159265358979, 10**14)  # below pi


class Unreadable(ValueError):
    """What was read is no certificate, or is larger than one may be."""


class DoesNotHold(ValueError):
    """A certificate that can be read and does not hold."""


def need(kept: bool, told: str, fault: type[ValueError] = DoesNotHold) -> None:
    """Raise a fault unless something is so."""
    if not kept:
        raise fault(told)


class Case(NamedTuple):
    """One choice of rings: their teeth, and how many third gears a train with them may have."""

    rings: tuple[int, ...]
    thirds: int


class Trains(NamedTuple):
    """Trains with these bodies' rings (indices), and of each link wheel/pinion and its number of third gears."""

    seats: tuple[int, ...]
    links: tuple[tuple[Fraction, int], ...]


class TeethClaim:
    """The claim. lows, highs: of the bodies' periods; tops: of each the square of 1 + its own greatest error; seats: of
    each the rings on which it may ride."""

    def __init__(self, data: dict[str, Any]) -> None:
        bodies, rings, arbors, clear = data["bodies"], data["rings"], data["arbors"], data["arbors"]["clear"]
        self.square, self.strict = _fraction(data["square"]), data["strict"] is True
        self.scale = _whole(data["scale"], 10**8)
        self.lows, self.highs = ([_fraction(body[name]) for body in bodies] for name in ("low", "high"))
        self.senses = [{"same": 0, "reverse": 1, "either": None}[body["sense"]] for body in bodies]
        most = _fraction(data["max_error"])
        caps = [most if body["cap"] is None else min(most, _fraction(body["cap"])) for body in bodies]
        self.first = {"first": True, "best": False}[data["reference"]]
        self.tops = [(1 + (0 if self.first and not body else cap)) ** 2 for body, cap in enumerate(caps)]
        self.teeth = None if rings["teeth"] is None else [_wholes(one) for one in rings["teeth"]]
        self.inner, self.steps, self.counts = (_wholes(rings[name]) for name in ("inner_teeth", "tooth_step", "counts"))
        self.held = {_whole(ring): _whole(teeth) for ring, teeth in data["held_rings"]}
        self.links = {_whole(i): (_fraction(ratio), _whole(thirds)) for i, ratio, thirds in data["held_links"]}
        self.seats = [_wholes(one) for one in data["held_seats"]] or [list(range(100))] * len(bodies)
        self.wheels, self.pinions, third = (_wholes(arbors[name]) for name in ("wheel", "pinion", "third"))
        self.reach, self.reverted = 2 * max(third, default=0), {True: True, False: False}[arbors["reverted"]]
        room = sum(_fraction(clear[name]) for name in ("ring", "behind", "clearance"))
        pi = {"circular": PI, "module": Fraction(1)}[clear["unit"]]
        self.clear = max(1, ceil(2 * room * pi / _fraction(clear["pitch"])))
        self.thirds, self.parts = _whole(arbors["third_gears"]), data["max_parts"] and _whole(data["max_parts"])
        telling = [(one, False) for one in data["exceptions"]] + [(one, True) for one in data["better"]]
        self.told = [(_whole(one["case"], MOST_CASES), _trains(one), better) for one, better in telling]
        self.best = data["best"] and (tuple(_wholes(data["best"]["rings"])), _trains(data["best"]))
        self.narrowed = data["best_is_worse"] is True
        self._known: dict[tuple[int, int], list[set[Fraction]]] = {}
        for kept, told in (
            (data["schema"] == SCHEMA, "schema"),
            (2 <= len(bodies) <= min(self.counts) <= max(self.counts) <= 100, "bodies and counts of rings"),
            (self.square >= 1 <= self.scale and min(caps) >= 0, "bounds and scale"),
            (min(self.wheels + self.pinions, default=1) > 0, "teeth"),
            (len(self.wheels) * len(self.pinions) <= MOST_PAIRS, "teeth"),
            (all(0 < low <= high for low, high in zip(self.lows, self.highs, strict=True)), "periods"),
            (not self.first or self.lows[0] == self.highs[0], "the reference has one period"),
            (self.senses[0] != 1, "the first body's sense"),
        ):
            need(kept, f"{told}: not what it may be", Unreadable)

    # -- which trains there are ----------------------------------------------------------------------------------------

    def cases(self) -> list[Case]:
        """Every choice of rings that leaves trains at all: each number of rings; held rings have their teeth; rings on
        one arbor's links grow outwards; each link has an option; with third gears within their limit and that of all
        parts (n rings, three parts a link, two more a third gear)."""
        found: dict[Case, None] = {}
        for looked, rings in enumerate(self._rings()):
            need(looked < MOST_CASES, f"more than {MOST_CASES} choices of rings", Unreadable)
            most = self.thirds if self.parts is None else min(self.thirds, (self.parts - 4 * len(rings) + 3) // 2)
            grows = not self.reverted or all(inner < outer for inner, outer in pairwise(rings))
            held = all(rings[ring] == teeth for ring, teeth in self.held.items() if ring < len(rings))
            case, links = Case(rings, most), range(len(rings) - 1)
            if min(rings) > 0 <= most and grows and held and all(any(self.options(case, link)) for link in links):
                found[case] = None
        return list(found)

    def _rings(self) -> Iterator[tuple[int, ...]]:
        for count in self.counts:
            if self.teeth is not None:
                yield from product(*self.teeth[:count]) if len(self.teeth) >= count else ()
            else:
                yield from (tuple(z + i * step for i in range(count)) for z in self.inner for step in self.steps)

    def options(self, case: Case, link: int) -> list[set[Fraction]]:
        """The ratios wheel/pinion that a link may have, with no third gear, with one, with two. A held link has its own
        alone."""
        key = (case.rings[link + 1] - case.rings[link], min(case.thirds, 2))
        if key not in self._known:
            self._known[key] = found = [set[Fraction]() for _ in range(1 + key[1])]
            for a, b in product(self.wheels, self.pinions):
                apart = abs(key[0] + b - a)  # between where wheel and pinion touch their rings
                kept = (apart == 0, self.clear <= apart <= self.reach, apart + self.clear <= self.reach)
                for number, ratios in enumerate(found):
                    if kept[number] if self.reverted else number == 0 or self.reach > 0:
                        ratios.add(Fraction(a, b))
        if link not in self.links:
            return self._known[key]
        own, thirds = self.links[link]
        return [ratios & {own} if number == thirds else set() for number, ratios in enumerate(self._known[key])]

    def check_train(self, case: Case, trains: Trains) -> None:
        """Whether trains are some of a case. Raises DoesNotHold."""
        seats, last = trains.seats, len(case.rings) - 1
        turned = list(accumulate((thirds for _, thirds in trains.links), initial=0))
        need(len(turned) == last + 1, "a train with other links than there may be")
        need(turned[last] <= case.thirds, "a train with more third gears than there may be")
        for i, (ratio, thirds) in enumerate(trains.links):
            options = self.options(case, i)
            need(thirds < len(options) and ratio in options[thirds], f"a train's link {i} is none that there may be")
        grow = all(inner < outer for inner, outer in pairwise(seats))
        ends = grow and len(seats) == len(self.lows) and (seats[0], seats[-1]) == (0, last)
        rides = ends and all(ring in own for ring, own in zip(seats, self.seats, strict=True))
        need(rides, "a train's bodies ride on other rings than they may")
        for seat, sense in zip(seats, self.senses, strict=True):
            need(sense in (None, turned[seat] % 2), "a body of a train turns the wrong way")

    def within(self, case: Case, seats: Sequence[int], ratios: Sequence[Fraction], strict: bool) -> bool:
        """Whether a train with these ratios wheel/pinion has a worst error of at most E (strict: below E)."""
        gears = list(accumulate(ratios, mul, initial=Fraction(1)))
        periods = [gears[seat] * case.rings[seat] / case.rings[0] for seat in seats]
        widths = [min(self.square, top) for top in self.tops]
        for j, k in permutations(range(len(seats)), 2):
            q, room = (periods[j] / self.highs[j] / (periods[k] / self.lows[k])) ** 2, widths[j] * widths[k]
            below = strict and max(self.tops[j], self.tops[k]) >= self.square
            if q > 1 and (q > room or (below and q == room)):
                return False
        return self.square > 1 or not strict


def _whole(value: Any, most: int = MOST_TEETH) -> int:
    need(type(value) is int and 0 <= value <= most, f"{str(value)[:40]}: not what it may be", Unreadable)
    return int(value)


def _wholes(values: Any) -> list[int]:
    need(isinstance(values, list) and len(values) <= 1000, "no list, or too long", Unreadable)
    return [_whole(value) for value in values]


def _fraction(text: Any) -> Fraction:
    kept = isinstance(text, str) and len(text) <= MOST_TEXT and "e" not in text.lower()
    need(kept, f"{str(text)[:40]}: not what it may be", Unreadable)
    return Fraction(text)


def _trains(one: dict[str, Any]) -> Trains:
    links = tuple((_fraction(ratio), _whole(thirds)) for ratio, thirds in one["links"])
    return Trains(tuple(_wholes(one["seats"])), links)
