"""Cuts pieces from bars: the fewest bars, then the least length of bars, proven or said not to be; then long pieces in
as few parts as are found.

Lengths count in tenths of a millimetre: pieces and saw cuts rounded up, bars down. A bar holds pieces whose lengths and
the cuts between them are no longer than it; adding one cut to every piece and every bar says the same. First packings
are made by hand's rules and compared with bounds that need no search; where these leave a gap, CP-SAT closes it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from math import ceil, floor

from solver.design.errors import DesignError, single
from solver.sheets.stock.packing_hand import (
    Loads,
    PackingTask,
    by_hand,
    least_bars,
    least_total,
    parts_of,
    total,
    tried,
    used,
)
from solver.sheets.stock.packing_long import FINE, Long
from solver.sheets.stock.packing_model import Solver

PER_MM = 10
WORK = 6.0  # CP-SAT's deterministic time for one question, a few seconds


@dataclass(frozen=True)
class Joined:
    """A piece that is longer than every bar and is joined from parts: its label, its units, the length of each [mm],
    what a part is longer on the saw, and how many units it has at least. It may be cut between any two units; word:
    what they are called where that is told ("teeth"); which: of several alike ("of no. 2")."""

    label: str
    units: int
    unit_mm: float
    extra_mm: float
    least: int = 1
    word: str = ""
    which: str = ""

    def told(self, number: int, parts: int, units: int) -> str:
        """ "2 of 3, 41 teeth": a part of so many units."""
        words = f"{units} {self.word}" if self.word else ""
        return ", ".join(filter(None, (f"{number} of {parts} {self.which}".rstrip(), words)))


@dataclass(frozen=True)
class Bar:
    """A bar [mm], and the pieces sawn from it, longest first: (length in mm, label)."""

    stock_mm: float
    pieces: tuple[tuple[float, str], ...]


@dataclass(frozen=True)
class Packing:
    """Bars, longest first. least_bars: no packing has fewer; least_mm: none with as few bars takes less length of bars;
    proven: both are reached, so that no packing buys less. parts: of each joined piece the units of its parts, in the
    order in which they are numbered."""

    bars: tuple[Bar, ...]
    least_bars: int
    least_mm: float
    parts: tuple[tuple[int, ...], ...] = ()

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

    def text(self, told: Callable[[float], str] = "{:.0f} mm".format) -> str:
        """What is known, in words; told: how a length [mm] is told."""
        bars = bars_told(len(self.bars))
        ways = ", however long pieces are joined" if self.parts else ""
        if self.proven:
            return f"{bars}: the fewest, and of these the least length, proven{ways}"
        if self.proven_bars:
            less = f"their length could be up to {told(self.total_mm - self.least_mm)} less"
            return f"{bars}: the fewest, proven{ways}; {less}"
        return f"{bars}: a limit stopped the search; at least {self.least_bars} are needed{ways}"


def bars_told(count: int) -> str:
    """ "1 bar" or "7 bars"."""
    return f"{count} bar{'' if count == 1 else 's'}"


def pack(
    pieces: Iterable[tuple[float, str]],
    stock_mm: Sequence[float],
    kerf_mm: float,
    work: float = WORK,
    joined: Sequence[Joined] = (),
) -> Packing:
    """Pieces (length in mm, label) on bars of these lengths, any number of each; kerf_mm: what a saw cut takes. joined:
    pieces longer than every bar.

    work: CP-SAT's deterministic limit for each question. The same pieces give the same packing. Raises DesignError
    for a piece longer than every bar.
    """
    pieces = list(pieces)
    if not pieces and not joined:
        return Packing((), 0, 0.0)
    kerf = ceil(kerf_mm * PER_MM - 1e-6)
    lengths = [ceil(mm * PER_MM - 1e-6) for mm, _ in pieces]
    bars = tuple(sorted({floor(mm * PER_MM + 1e-6) for mm in stock_mm}))
    longest = max(range(len(pieces)), key=lambda index: lengths[index], default=0)
    if pieces and lengths[longest] > bars[-1]:
        raise _too_long(pieces[longest], stock_mm)
    counted = Counter(lengths)
    sizes = tuple(sorted(counted, reverse=True))
    task = PackingTask(
        tuple(size + kerf for size in sizes),
        tuple(counted[size] for size in sizes),
        tuple(b + kerf for b in bars),
        tuple(_long(one, kerf) for one in joined),
    )
    loads, least_bars, least_total = _solve(task, work)
    loads.sort(key=lambda one: (-one[0], one[1]))
    labels: dict[int, list[tuple[float, str]]] = {size: [] for size in sizes}
    for length, piece in zip(lengths, pieces, strict=True):
        labels[length].append(piece)
    parts = _parts(task, loads)
    found = [
        [labels[sizes[kind]].pop(0) for kind, count in load if kind < len(sizes) for _ in range(count)]
        for _, load in loads
    ]
    for one, long, some in zip(joined, task.longs, parts, strict=True):
        for number, (index, units) in enumerate(some, start=1):
            label = f"{one.label}, {one.told(number, len(some), units)}"
            found[index].append((long.sawn(units) / PER_MM, label))
    return Packing(
        tuple(
            Bar((bar - kerf) / PER_MM, tuple(sorted(pieces, key=lambda piece: -piece[0])))
            for (bar, _), pieces in zip(loads, found, strict=True)
        ),
        least_bars,
        (least_total - kerf * len(found)) / PER_MM,
        tuple(tuple(units for _, units in some) for some in parts),
    )


def _long(one: Joined, kerf: int) -> Long:
    fine = PER_MM * FINE
    unit, extra = (ceil(mm * fine - 1e-3) for mm in (one.unit_mm, one.extra_mm))
    return Long(one.units, unit, extra, kerf, one.least)


def _parts(task: PackingTask, loads: Loads) -> list[list[tuple[int, int]]]:
    """The parts of each long piece, (bar, units), the longest first."""
    found: list[list[tuple[int, int]]] = [[] for _ in task.longs]
    for index, (_, load) in enumerate(loads):
        for kind, count in load:
            if kind >= len(task.sizes):
                found[kind - len(task.sizes)].append((index, count))
    return [sorted(some, key=lambda part: (-part[1], part[0])) for some in found]


def _too_long(piece: tuple[float, str], stock_mm: Sequence[float]) -> DesignError:
    told = f"the longest bar is shorter than a piece: {piece[1]}, {piece[0]:g} mm"
    return single("wire.stock", [float(f"{mm:.6g}") for mm in sorted(stock_mm)], told)


def _solve(task: PackingTask, work: float) -> tuple[Loads, int, int]:
    """Bars with their loads, a lower bound of their number, and one of their length for that number."""
    least = least_bars(task)
    best = min(tried(task, [task.bars[-1]] * task.most_bars), key=lambda loads: (len(loads), parts_of(task, loads)))
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
    if parts_of(task, best) > sum(long.fewest_parts(task.bars[-1]) for long in task.longs):
        best = ask.join_less(best).loads or best
    return best, least, min(shortest, total(best))
