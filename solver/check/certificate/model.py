"""The model of one case: whole variables, and constraints that every train of the case within the error keeps.

Of n rings and m bodies. S is the scale, [x] the greatest whole number not above x. A train gives the variables these
values, and that it keeps each constraint is what makes the model sound:

- `c{r}`: how many bodies ride on rings 0 to r. It grows by one or by nothing, from 1 to m, and to m at the last ring.
- `u{i}`: the third gears of link i; all together at most as many as the case allows.
- `b{i}` = [S ln(wheel/pinion)] of link i: one of the values of the options with so many third gears.
- `p{r}` = p0 + b0 + ... + b{r-1}, p0 = 0 with reference "first", else [S ln rate]. As each part is rounded down by less
  than 1, S ln(rate * gears) - k < p{r} <= S ln(rate * gears), with k = r, or r + 1 with reference "best".
- `d{r}`: 1 if ring r turns against ring 0: as ring r - 1 does, unless the link has one third gear. Only where some body
  must turn one way.
- A body on ring r has low/w <= rate * gears * Z[r]/Z[0] <= high * w, so p{r} is within the scaled logarithms of that,
  the lower one less k. (With reference "first" the rate is that period.) It rides there where c{r-1} <= its number,
  counted from 0, and c{r} is more.
- An exception of the claim is forbidden by a clause: with these c, u and b.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from itertools import pairwise, product
from typing import Any

from .claim import Case, Claim, Trains, Unsound
from .logs import ceil_log, floor_log

MOST_ALIKE = 10_000

Atom = tuple[str, str, int]  # variable, one of <= >= == !=, value
Constraint = tuple[str, list[Any], int]  # "sum", [[factor, variable], ...], total: equal to it; "most": at most it;
#                                          "clause", [atom, ...], 0: at least one of them


class Model:
    """The model of a case. bounds: of each variable; constraints: in a fixed order."""

    def __init__(self, claim: Claim, case: Case, exceptions: list[Trains]) -> None:
        self.claim, self.case, self.bounds = claim, case, dict[str, tuple[int, int]]()
        rings, bodies = case.rings, len(claim.lows)
        self.last = len(rings) - 1
        self.turning = case.thirds > 0 and any(sense != "either" for sense in claim.senses)
        widths = [min(claim.square, top) for top in claim.tops]
        # Squares of what the first body's period may be; and of what any ring's may be, for what b and p can be at all.
        low, high = claim.lows[0] ** 2 / widths[0], claim.highs[0] ** 2 * widths[0]
        self.base = low if claim.first else Fraction(1)
        self.bounds["p0"] = (0, 0) if claim.first else (-(floor_log(1 / low, claim.scale) // 2) - 1, floor_log(high, claim.scale) // 2)
        self.bounds["c0"] = (1, 1)
        self.values: list[list[dict[int, set[Fraction]]]] = []  # of a link, of so many third gears: b and its ratios
        for i, (inner, outer) in enumerate(pairwise(rings)):
            values: list[dict[int, set[Fraction]]] = []
            for ratios in claim.options(outer - inner, case.thirds):
                values.append({})
                for ratio in ratios:
                    values[-1].setdefault(floor_log(ratio, claim.scale), set()).add(ratio)
            ends = [b for some in values for b in some]
            self.values.append(values)
            self.bounds[f"u{i}"] = (0, len(values) - 1)
            self.bounds[f"b{i}"] = least, most = min(ends), max(ends)
            before, r = self.bounds[f"p{i}"], i + 1
            self.bounds[f"p{r}"] = (before[0] + least, before[1] + most)
            self.bounds[f"c{r}"] = (max(1, bodies + r - self.last), min(r + 1, bodies - (r < self.last)))
        for r in range(len(rings) if self.turning else 0):
            self.bounds[f"d{r}"] = (0, min(r, 1))
        self.constraints = [*self._links(), *self._bodies(widths), *(self.forbid(one) for one in exceptions)]

    def _links(self) -> Iterator[Constraint]:
        yield "most", [[1, f"u{i}"] for i in range(self.last)], self.case.thirds
        for i, values in enumerate(self.values):
            u, b, r = f"u{i}", f"b{i}", i + 1
            yield "sum", [[1, f"p{r}"], [-1, f"p{i}"], [-1, b]], 0
            yield "most", [[1, f"c{r}"], [-1, f"c{i}"]], 1
            yield "most", [[1, f"c{i}"], [-1, f"c{r}"]], 0
            for thirds, some in enumerate(values):
                other: list[Atom] = [(u, "!=", thirds)]
                if not some:
                    yield "clause", other, 0
                    continue
                ends = sorted(some)
                yield "clause", [*other, (b, ">=", ends[0])], 0
                yield "clause", [*other, (b, "<=", ends[-1])], 0
                for below, above in pairwise(ends):
                    if above > below + 1:
                        yield "clause", [*other, (b, "<=", below), (b, ">=", above)], 0
            for inner, outer in product((0, 1), repeat=2) if self.turning else ():
                taken: list[Atom] = [(f"d{i}", "!=", inner), (f"d{r}", "!=", outer)]
                yield "clause", [*taken, (u, "==" if inner != outer else "!=", 1)], 0

    def _bodies(self, widths: list[Fraction]) -> Iterator[Constraint]:
        claim, rings, scale = self.claim, self.case.rings, self.claim.scale
        for body in range(1, len(claim.lows)):
            for r in range(body, self.last - len(claim.lows) + body + 2):
                there: list[Atom] = [(f"c{r - 1}", ">=", body + 1), (f"c{r}", "<=", body)]
                shown = Fraction(rings[0], rings[r]) ** 2 / self.base
                least = -(floor_log(widths[body] / (claim.lows[body] ** 2 * shown), scale) // 2)
                most = floor_log(claim.highs[body] ** 2 * widths[body] * shown, scale) // 2
                yield "clause", [*there, (f"p{r}", ">=", least - r - (not claim.first))], 0
                yield "clause", [*there, (f"p{r}", "<=", most)], 0
                if self.turning and claim.senses[body] != "either":
                    yield "clause", [*there, (f"d{r}", "==", int(claim.senses[body] == "reverse"))], 0

    def forbid(self, trains: Trains) -> Constraint:
        """Forbid an exception. Raises Unsound where what is forbidden with it has some better train that the claim does
        not tell."""
        claim, rings, atoms = self.claim, self.case.rings, list[Atom]()
        alike: list[set[Fraction]] = []
        if trains.seats not in claim.seats(len(rings)) or len(trains.links) != self.last:
            raise Unsound(f"an exception of case {trains.case} is no train of it")
        for i, (ratio, thirds) in enumerate(trains.links):
            value = floor_log(ratio, claim.scale)
            if thirds >= len(self.values[i]) or value not in self.values[i][thirds]:
                raise Unsound(f"an exception of case {trains.case} has a link that there is not: {ratio}")
            alike.append(self.values[i][thirds][value])
            atoms += [(f"u{i}", "!=", thirds), (f"b{i}", "!=", value)]
        count = 1
        for some in alike:
            count *= len(some)
        if count > MOST_ALIKE:
            raise Unsound(f"an exception of case {trains.case} stands for {count} trains")
        told = trains in claim.better
        if not told and any(claim.within(rings, trains.seats, ratios, claim.strict) for ratios in product(*alike)):
            raise Unsound(f"an exception of case {trains.case} is better than the claim says")
        atoms += [(f"c{r}", "!=", sum(seat <= r for seat in trains.seats)) for r in range(1, self.last)]
        return "clause", atoms, 0
