"""What all searches of one design share: the stop rule, what is known and proven so far, and the tables they use."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from fractions import Fraction

from solver.design.design import Design, Family, Structure
from solver.design.exact import error_above, error_below
from solver.design.geometry import envelope_mm
from solver.design.kinematics import pairs
from solver.design.train import Train
from solver.search.options.candidates import Candidates
from solver.search.options.caps import Caps
from solver.search.options.choosing import Chooser
from solver.search.options.families import Families
from solver.search.order.crowds import Crowds
from solver.search.order.together import GLANCED, PATIENCE, Together
from solver.search.place.placing import Fitter
from solver.search.rank import Figures, key_order
from solver.search.reach.lattice import Lattice
from solver.search.reach.segments import Segments
from solver.search.reaches import Reaches
from solver.search.solves import Solves
from solver.search.stop import StopRule, Termination, ask


class Unproven(Exception):
    """An order that could not be settled: CROWDED, a crowd whose exact error could not be determined, or THIRDS, more
    third gears in one train than can be tried out."""

    def __init__(self, reason: Termination) -> None:
        super().__init__(reason)
        self.reason = reason


@dataclass(frozen=True)
class Progress:
    """The truth so far: best worst error, rounded up (None: none yet), proven lower bound of it, rounded down, both as
    fractions; structures not yet bounded.

    key: the first rank key where that is not the error, with its least value found and its proven lower bound; the
    envelope in mm.
    """

    best_error: float | None
    bound_error: float
    structures_left: int
    key: str | None = None
    best_value: float | None = None
    least_value: float | None = None


@dataclass
class Tally:
    """What the searches of one design did, for the report: structures whose trains were listed one by one (rings and
    the bodies' seats), structures that CP-SAT was asked about, and whether there was a crowd."""

    listed: set[tuple[tuple[tuple[int, ...], ...], tuple[int, ...]]] = field(default_factory=set)
    modelled: set[Structure] = field(default_factory=set)
    crowded: bool = False


@dataclass
class ErrorBound:
    """A proven lower bound: no train that is asked for has a smaller (1 + worst error)**2."""

    square: Fraction = Fraction(1)


def value_told(design: Design, key: str, value: int | None) -> float | None:
    """A value of a rank key other than the error, or a bound of it, as it is told: the envelope in mm, as whole
    micrometres that are never less."""
    if value is None or key != "envelope":
        return value
    return envelope_mm(design.rings.pitch, Reaches(design).most, value)


class Tables:
    """What searches share whose caps on single links agree: candidates, families, and segments by scale."""

    def __init__(self, candidates: Candidates, chooser: Chooser | None) -> None:
        self.candidates, self.families, self.chooser = candidates, Families(candidates.design, candidates), chooser
        self.crowds = Crowds(candidates.design, candidates, chooser)
        self._segments: dict[int, Segments] = {}
        self._lattices: dict[tuple[object, ...], Lattice] = {}

    def lattice(self, what: Family | Structure, scale: int, caps: Caps, tick: Callable[[], None]) -> Lattice:
        """The lattice of a family or a structure at a scale, made once; of the caps that on parts alone matters."""
        key = (what, scale, caps.get("parts"))
        if key not in self._lattices:
            self._lattices[key] = Lattice(self.candidates.design, what, self.segments(scale), caps, tick)
        return self._lattices[key]

    def segments(self, scale: int) -> Segments:
        """The segments at a scale, made once."""
        if scale not in self._segments:
            self._segments[scale] = Segments(self.candidates, scale)
        return self._segments[scale]


class Shared:
    """The state of all searches of one design.

    same: what makes two solutions the same. known: every train scored so far that may matter, by that, with its
    figures, so that a stopped search has something to show. bound, and least, of the first rank key where that is not
    the error: what is proven of the design itself. order_ties: False where it does not matter which of trains that tie
    by the keys come first.
    """

    def __init__(
        self,
        design: Design,
        stop: StopRule,
        progress: Callable[[Progress], None] | None = None,
        order_ties: bool = True,
    ) -> None:
        self.design, self.stop, self.progress, self.order_ties = design, stop, progress, order_ties
        self.keys, self.pairs = key_order(design.rank), pairs(design)
        self.same: Callable[[Train], tuple[object, ...]] = Train.gears if design.gathers_orders else Train.identity
        self.solves = Solves(design.seed, stop)
        self.known: dict[tuple[object, ...], tuple[Figures, Train]] = {}
        self.bound = ErrorBound()
        self.least: int | None = None
        self.tally = Tally()
        self.together = Together(design, self.solves, PATIENCE if order_ties else GLANCED, self.same)
        self._chooser: Chooser | None = None
        self._tables: dict[tuple[int | None, int | None], Tables] = {}

    def check_stop(self) -> None:
        """Raises SearchStopped where the stop rule strikes."""
        ask(self.stop)

    def tables(self, caps: Caps) -> Tables:
        """The tables under caps; what couples links (parts, jigs, teeth) does not matter to them."""
        key = (caps.get("largest"), caps.get("envelope"))
        if key not in self._tables:
            fitter = None if self._chooser is None else self._chooser.fitter
            candidates = Candidates(self.design, self.check_stop, caps, self.solves, fitter)
            if candidates.fitter is not None and self._chooser is None:
                self._chooser = Chooser(self.design, candidates.gap, candidates.fitter, self.check_stop)
            self._tables[key] = Tables(candidates, self._chooser)
        return self._tables[key]

    @property
    def fitter(self) -> Fitter | None:
        """What places the trains; None where none was placed yet."""
        return None if self._chooser is None else self._chooser.fitter

    def report(self, left: int) -> None:
        """Tell what is known of the design while so many structures are not yet bounded."""
        if self.progress is None:
            return
        key, figures = self.keys[0], [figures for figures, _ in list(self.known.values())]
        squares = [one.error_square for one in figures]
        best = error_above(min(squares)) if squares else None
        if key == "error":
            self.progress(Progress(best, error_below(self.bound.square), left))
            return
        value = min((int(one.value(key)) for one in figures), default=None)
        told, least = value_told(self.design, key, value), value_told(self.design, key, self.least)
        self.progress(Progress(best, 0.0, left, key, told, least))
