"""The third gears of a train whose rings, kinds, wheels and pinions are chosen: the best choice, exactly.

Every figure that a third gear can change (jigs, teeth, largest, envelope, the order itself) never falls when its
tooth count grows, except that a count which is already in use costs no jig. So once it is decided which new counts
get a jig, every third gear is the smallest of those it may have that has one; and a new count is worth a jig only if it
is the smallest that some of the third gears may all have: any other could be made that one. That leaves the sets of
those counts to be tried. Where a third gear may have every count from its smallest on, these are the smallest of each.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import combinations, pairwise, product
from math import prod

from solver.design.links import KIND_BY_NAME
from solver.design.made import NOTHING, OnBench
from solver.design.train import Train
from solver.search.options.caps import Caps
from solver.search.rank import Figures, counts, envelope_teeth, new_gears, sort_key
from solver.search.runs import RunningPairs

MOST_NEW = 10  # new counts of which every set is tried
MOST_COMMON = 5000  # sets of counts that several third gears have in common


class TooManyThirds(Exception):
    """So many third gears of different sizes that trying every set of them is not sensible."""


@dataclass(frozen=True)
class ThirdRules:
    """What the third gears of a whole train must keep: their tooth counts, the gap [teeth] between a wheel and the ring
    that it does not mesh with, whether places are asked for at all, the caps, which gears run (None: any), what exists
    already, whether it is told how many gears are to be made, and whether fewer of them are better or asked for."""

    teeth: tuple[int, ...]
    gap: int
    reverted: bool
    caps: Caps
    runs: RunningPairs | None = None
    made: OnBench = NOTHING
    counted: bool = False
    ranked: bool = False

    def allowed(self, ring: int, gear: int) -> tuple[int, ...]:
        """The third gears between a ring and a gear, as far as they must run."""
        return self.teeth if self.runs is None else self.runs.thirds(self.teeth, ring, gear)

    def figures(self, train: Train, error_square: Fraction, radii: tuple[int, ...] | None = None) -> Figures | None:
        """What counts of a train, or None where it has no place. radii: the arbors' [teeth]; None: the least."""
        reach = envelope_teeth(train, self.gap, radii) if self.reverted else 0
        if reach is None:
            return None
        new = new_gears(train, self.made) if self.counted else 0
        return Figures(error_square, *counts(train, self.made), reach, new)

    def kept_by(self, figures: Figures) -> bool:
        """Whether parts, jigs, teeth, largest gear and envelope are within the caps."""
        return all(figures.value(key) <= most for key, most in self.caps.items())


def choices(rules: ThirdRules, train: Train) -> Iterator[tuple[int, ...]]:
    """Teeth worth trying for the third gears, in the order of links, of a train given with the smallest ones.

    Where fewer gears to be made are better, a third gear is worth being any that is in the drawer; any other may as
    well be the smallest with a jig, which makes no more. Raises TooManyThirds.
    """
    sets = _allowed(rules, train) if _narrow(rules) else None
    drawer = sorted(set(rules.made.drawer) & set(rules.teeth)) if rules.ranked else []
    if not drawer:
        yield from _with_few_jigs(rules, train, sets)
        return
    least = [teeth for link in train.links for teeth in link.thirds]
    stock = [[z for z in drawer if z > teeth and (sets is None or z in sets[i])] for i, teeth in enumerate(least)]
    if prod(1 + len(there) for there in stock) > MOST_COMMON:
        raise TooManyThirds
    for chosen in _with_few_jigs(rules, train, sets):
        options = [(teeth, *(z for z in there if z > teeth)) for teeth, there in zip(chosen, stock, strict=True)]
        yield from product(*options)


def _narrow(rules: ThirdRules) -> bool:
    """Whether a third gear may be less than every count from its smallest on."""
    return rules.runs is not None or any(link.thirds for link in rules.made.links)


def _with_few_jigs(rules: ThirdRules, train: Train, sets: Sequence[frozenset[int]] | None) -> Iterator[tuple[int, ...]]:
    """Likewise, where it matters which counts have a jig and no more. sets: what each third gear may be; None: every
    count from its smallest on."""
    least = [teeth for link in train.links for teeth in link.thirds]
    with_jigs = {z for link in train.links for z in (link.wheel, link.pinion)} | rules.made.gear_counts
    in_use = with_jigs & set(rules.teeth)
    if sets is not None and not all(sets):
        return
    new = sorted((set(least) if sets is None else _worth(sets)) - in_use)
    if len(new) > MOST_NEW:
        raise TooManyThirds
    for size in range(len(new) + 1):
        for jigs in combinations(new, size):
            there = sorted(in_use | set(jigs))
            if sets is not None:
                found = [next((teeth for teeth in there if teeth in allowed), None) for allowed in sets]
                if None not in found:
                    yield tuple(teeth for teeth in found if teeth is not None)
                continue
            ranks = [bisect_left(there, teeth) for teeth in least]
            if all(rank < len(there) for rank in ranks):
                yield tuple(there[rank] for rank in ranks)


def _allowed(rules: ThirdRules, train: Train) -> list[frozenset[int]]:
    """What each third gear of a train may be, which has its smallest ones."""
    found = []
    for level, (link, (inner, outer)) in enumerate(zip(train.links, pairwise(train.rings), strict=True)):
        stays = rules.made.by_link.get(level)
        kind = KIND_BY_NAME[link.kind]
        sides = [(inner, link.wheel)] * kind.wheel_thirds + [(outer, link.pinion)] * kind.pinion_thirds
        for index, ((ring, gear), least) in enumerate(zip(sides, link.thirds, strict=True)):
            some = frozenset(third for third in rules.allowed(ring, gear) if third >= least)
            held = None if stays is None else stays.thirds
            found.append(some if held is None else some & {held[index]})
    return found


def _worth(sets: Sequence[frozenset[int]]) -> set[int]:
    """The smallest count that is in all of some of these sets, for each choice of some. Raises TooManyThirds."""
    common: set[frozenset[int]] = set()
    for one in dict.fromkeys(sets):
        common |= {one} | {both for other in common if (both := one & other)}
        if len(common) > MOST_COMMON:
            raise TooManyThirds
    return set(map(min, common))


def best_thirds(
    rules: ThirdRules, train: Train, keys: tuple[str, ...], error_square: Fraction, floor: int = 0
) -> tuple[Figures, Train] | None:
    """The train, given with its smallest third gears, with those that rank first within the limits, and its
    figures; None: none is within.

    floor: the envelope [teeth] is not less than this, whatever the third gears are. Raises TooManyThirds.
    """
    best: tuple[tuple[object, ...], Figures, Train] | None = None
    for chosen in choices(rules, train):
        rest = iter(chosen)
        links = tuple(replace(link, thirds=tuple(next(rest) for _ in link.thirds)) for link in train.links)
        candidate = replace(train, links=links)
        figures = rules.figures(candidate, error_square)
        if figures is not None:
            figures = replace(figures, envelope_teeth=max(figures.envelope_teeth, floor))
        if figures is None or not rules.kept_by(figures):
            continue
        key = sort_key(figures, candidate, keys)
        if best is None or key < best[0]:
            best = (key, figures, candidate)
    return (best[1], best[2]) if best else None
