"""Cuts pieces from bars: the fewest bars, then the least length of bars, proven or said not to be.

Lengths count in tenths of a millimetre: pieces and saw cuts rounded up, bars down. A bar holds pieces whose lengths and
the cuts between them are no longer than it; adding one cut to every piece and every bar says the same. First packings
are made by hand's rules and compared with bounds that need no search; where these leave a gap, CP-SAT closes it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import ceil, floor

from solver.design.errors import DesignError, single
from solver.sheets.packing_hand import RULES, Loads, Task, by_hand, filled, least_bars, least_total, total, used
from solver.sheets.packing_model import Solver

PER_MM = 10
WORK = 6.0  # CP-SAT's deterministic time for one question, a few seconds


@dataclass(frozen=True)
class Bar:
    """A bar [mm], and the pieces sawn from it, longest first: (length in mm, label)."""

    stock_mm: float
    pieces: tuple[tuple[float, str], ...]


@dataclass(frozen=True)
class Packing:
    """Bars, longest first. least_bars: no packing has fewer; least_mm: none with as few bars takes less length of bars;
    proven: both are reached, so no packing is better."""

    bars: tuple[Bar, ...]
    least_bars: int
    least_mm: float

    @property
    def total_mm(self) -> float:
        """Length of all bars."""
        return sum(bar.stock_mm for bar in self.bars)

    @property
    def proven_bars(self) -> bool:
        return len(self.bars) == self.least_bars

    @property
    def proven(self) -> bool:
        return self.proven_bars and self.total_mm <= self.least_mm + 1e-6

    def text(self) -> str:
        """What is known, in words."""
        count = len(self.bars)
        bars = f"{count} bar{'' if count == 1 else 's'}"
        if self.proven:
            return f"{bars}: the fewest, and of these the least length, proven"
        if self.proven_bars:
            return (
                f"{bars}: the fewest, proven; their length could be up to {self.total_mm - self.least_mm:.0f} mm less"
            )
        return f"{bars}: a limit stopped the search; at least {self.least_bars} are needed"


def pack(pieces: Iterable[tuple[float, str]], stock_mm: Sequence[float], kerf_mm: float, work: float = WORK) -> Packing:
    """Pieces (length in mm, label) on bars of these lengths, any number of each; kerf_mm: what a saw cut takes.

    work: CP-SAT's deterministic limit for each question. The same pieces give the same packing. Raises DesignError
    for a piece longer than every bar.
    """
    pieces = list(pieces)
    if not pieces:
        return Packing((), 0, 0.0)
    kerf = ceil(kerf_mm * PER_MM - 1e-6)
    lengths = [ceil(mm * PER_MM - 1e-6) for mm, _ in pieces]
    bars = tuple(sorted({floor(mm * PER_MM + 1e-6) for mm in stock_mm}))
    longest = max(range(len(pieces)), key=lambda index: lengths[index])
    if lengths[longest] > bars[-1]:
        raise _too_long(pieces[longest], stock_mm)
    counted = Counter(lengths)
    sizes = tuple(sorted(counted, reverse=True))
    task = Task(
        tuple(size + kerf for size in sizes), tuple(counted[size] for size in sizes), tuple(b + kerf for b in bars)
    )
    loads, least_bars, least_total = _solve(task, work)
    labels: dict[int, list[tuple[float, str]]] = {size: [] for size in sizes}
    for length, piece in zip(lengths, pieces, strict=True):
        labels[length].append(piece)
    found = []
    for bar, load in sorted(loads, key=lambda one: (-one[0], one[1])):
        taken = tuple(labels[sizes[kind]].pop(0) for kind, count in load for _ in range(count))
        found.append(Bar((bar - kerf) / PER_MM, taken))
    return Packing(tuple(found), least_bars, (least_total - kerf * len(found)) / PER_MM)


def _too_long(piece: tuple[float, str], stock_mm: Sequence[float]) -> DesignError:
    told = f"the longest bar is shorter than a piece: {piece[1]}, {piece[0]:g} mm"
    return single("wire.stock", [float(f"{mm:.6g}") for mm in sorted(stock_mm)], told)


def _solve(task: Task, work: float) -> tuple[Loads, int, int]:
    """Bars with their loads, a lower bound of their number, and one of their length for that number."""
    least = least_bars(task)
    packed = (filled(task, [task.bars[-1]] * sum(task.demand), rule) for rule in RULES)
    best = min((loads for loads in packed if loads is not None), key=len)
    ask = Solver(task, work)
    while least < len(best):
        answer = ask.fit(least)
        if answer.loads is not None:
            best = answer.loads
        elif answer.closed:
            least += 1
        else:
            break
    best = [(min(bar for bar in task.bars if bar >= used(task, load)), load) for _, load in best]
    count = len(best)
    shortest = least_total(task, count)
    if total(best) > shortest:
        best = by_hand(task, count, total(best)) or best
    if total(best) > shortest:
        answer = ask.shorten(best, shortest)
        best = answer.loads or best
        shortest = max(shortest, answer.bound)
    return best, least, min(shortest, total(best))
