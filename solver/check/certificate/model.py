"""The model of one case: whole variables, and constraints that every train of the case within the error keeps.

Of n rings and m bodies. S is the scale, [x] the greatest whole number not above x. A train gives the variables these
values, and that it keeps each constraint is what makes the model sound:

- `c{r}`: how many bodies ride on rings 0 to r. It grows by one or by nothing, from 1 to m, and to m at the last ring.
- `u{i}`: the third gears of link i; all together at most as many as the case allows.
- `b{i}` = [S ln(wheel/pinion)] of link i: one of the values of the options with so many third gears.
- `p{r}` = p0 + b0 + ... + b{r-1}, p0 = 0 with reference "first", else [S ln rate]. As each part is rounded down by less
  than 1, S ln(rate * gears) - k < p{r} <= S ln(rate * gears), with k = r, or r + 1 with reference "best".
- `d{r}`: 1 if ring r turns against ring 0: as ring r - 1 does, unless the link has one third gear.
- A body on ring r has low/w <= rate * gears * Z[r]/Z[0] <= high * w, so p{r} is within the scaled logarithms of that,
  the lower one less k. (With reference "first" the rate is that body's period.) It rides there where c{r-1} <= its
  number, counted from 0, and c{r} is more.
- Where held rings do not let a body ride, it does not.
- An exception of the claim is forbidden by a clause: not these c, u and b all at once. All trains that have them are
  told apart exactly: none is within the error, or the claim says that they are better.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from itertools import pairwise, product
from math import prod
from typing import Any

from .claim import Case, TeethClaim, Trains, Unreadable, need
from .logs import ceil_log_root, floor_log, floor_log_root

MOST_ALIKE, MOST_OPTIONS = 10_000, 500_000

Fact = tuple[str, str, int]  # variable, one of <= >= == !=, value
Constraint = tuple[str, list[Any], int]  # "sum", [[factor, variable], ...], total: equal to it; "most": at most it;
#                                          "clause", [fact, ...], 0: at least one of them


class CaseModel:
    """The model of a case. bounds: of each variable; constraints: in a fixed order; values: of each link, of so many
    third gears, its b and the ratios that have it."""

    def __init__(self, claim: TeethClaim, case: Case) -> None:
        self.claim, self.case, self.last = claim, case, len(case.rings) - 1
        self.widths, bodies = [min(claim.square, top) for top in claim.tops], len(claim.lows)
        low = ceil_log_root(claim.lows[0] ** 2 / self.widths[0], claim.scale) - 1
        high = floor_log_root(claim.highs[0] ** 2 * self.widths[0], claim.scale)
        self.bounds = {"p0": (0, 0) if claim.first else (low, high), "c0": (1, 1)}
        self.values: list[list[dict[int, set[Fraction]]]] = []
        for i in range(self.last):
            options = claim.options(case, i)
            need(sum(map(len, options)) * self.last <= MOST_OPTIONS, "more options than there may be", Unreadable)
            self.values.append([{} for _ in options])
            for ratios, values in zip(options, self.values[i], strict=True):
                for ratio in ratios:
                    values.setdefault(floor_log(ratio, claim.scale), set()).add(ratio)
            ends, (low, high), r = [b for values in self.values[i] for b in values], self.bounds[f"p{i}"], i + 1
            self.bounds[f"u{i}"] = (0, len(options) - 1)
            self.bounds[f"b{i}"] = (min(ends), max(ends))
            self.bounds[f"p{r}"] = (low + min(ends), high + max(ends))
            self.bounds[f"c{r}"] = (max(1, bodies + r - self.last), min(r + 1, bodies - (r < self.last)))
        self.bounds |= {f"d{r}": (0, min(r, 1)) for r in range(self.last + 1)}
        self.constraints = [*self._links(), *self._bodies()]

    def _links(self) -> Iterator[Constraint]:
        yield "most", [[1, f"u{i}"] for i in range(self.last)], self.case.thirds
        for i, of_link in enumerate(self.values):
            u, b, r = f"u{i}", f"b{i}", i + 1
            yield "sum", [[1, f"p{r}"], [-1, f"p{i}"], [-1, b]], 0
            yield "most", [[1, f"c{r}"], [-1, f"c{i}"]], 1
            yield "most", [[1, f"c{i}"], [-1, f"c{r}"]], 0
            for thirds, values in enumerate(of_link):
                gaps: list[list[Fact]] = [[]]  # without values: not so many third gears
                if ends := sorted(values):
                    gaps = [[(b, ">=", ends[0])], [(b, "<=", ends[-1])]]
                    gaps += [[(b, "<=", x), (b, ">=", y)] for x, y in pairwise(ends) if y > x + 1]
                yield from (("clause", [(u, "!=", thirds), *gap], 0) for gap in gaps)
            for inner, outer in product((0, 1), repeat=2):
                turned = [(f"d{i}", "!=", inner), (f"d{r}", "!=", outer), (u, "!=" if inner == outer else "==", 1)]
                yield "clause", turned, 0

    def _bodies(self) -> Iterator[Constraint]:
        claim, rings = self.claim, self.case.rings
        for body in range(1, len(claim.lows)):
            for r in range(body, self.last - len(claim.lows) + body + 2):
                there: list[Fact] = [(f"c{r - 1}", ">=", body + 1), (f"c{r}", "<=", body)]
                if r not in claim.seats[body]:
                    yield "clause", there, 0
                shown = Fraction(rings[0], rings[r]) / (claim.lows[0] if claim.first else 1)
                low = ceil_log_root((claim.lows[body] * shown) ** 2 / self.widths[body], claim.scale)
                high = floor_log_root((claim.highs[body] * shown) ** 2 * self.widths[body], claim.scale)
                yield "clause", [*there, (f"p{r}", ">=", low - r - (not claim.first))], 0
                yield "clause", [*there, (f"p{r}", "<=", high)], 0
                if claim.senses[body] is not None:
                    yield "clause", [*there, (f"d{r}", "==", claim.senses[body])], 0

    def forbid(self, trains: Trains, better: bool) -> None:
        """Forbid an exception; better: as the claim says. Raises DoesNotHold where it forbids what it must not."""
        self.claim.check_train(self.case, trains)
        alike, facts = list[set[Fraction]](), list[Fact]()
        for i, (ratio, thirds) in enumerate(trains.links):
            value = floor_log(ratio, self.claim.scale)
            alike.append(self.values[i][thirds][value])
            facts += [(f"u{i}", "!=", thirds), (f"b{i}", "!=", value)]
        need(prod(map(len, alike)) <= MOST_ALIKE, "an exception stands for too many trains", Unreadable)
        told = [tuple(ratio for ratio, _ in trains.links)] if better else []
        for ratios in product(*alike):
            within = ratios not in told and self.claim.within(self.case, trains.seats, ratios, self.claim.strict)
            need(not within, "an exception is better than the claim says")
        facts += [(f"c{r}", "!=", sum(seat <= r for seat in trains.seats)) for r in range(1, self.last)]
        self.constraints.append(("clause", facts, 0))
