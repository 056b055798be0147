"""How exactly each gear of a train must be made, where hands make them (`forms.hands`)."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache

from solver.forms import FORMS
from solver.forms.form import Sizes, Spec
from solver.forms.hands import HandMade, accuracy_needed, by_hand
from solver.forms.pinned import PinForm
from solver.sheets.gears.inventory import Inventory

SHARE = 0.95  # of pairs that are to run (common practice, no source)
TRIES = 100  # pairs by which the accuracy that is needed is found


@dataclass(frozen=True)
class PairByHand:
    """Two gears that work together: how pairs of them run at the maker's accuracy, and the coarsest at which SHARE of
    them run [mm]; None where not even true ones do."""

    one: Spec
    other: Spec
    made: HandMade
    need_mm: float | None


@dataclass(frozen=True)
class Exactness:
    """How exactly gears must be made. accuracy_mm: the maker's."""

    accuracy_mm: float
    pairs: tuple[PairByHand, ...]

    def gears(self) -> tuple[tuple[Spec, PairByHand], ...]:
        """Each kind of gear, and of its pairs the one that asks most of it; rings first."""
        most: dict[Spec, PairByHand] = {}
        for pair in self.pairs:
            for spec in (pair.one, pair.other):
                if spec not in most or _asks(pair) < _asks(most[spec]):
                    most[spec] = pair
        return tuple(sorted(most.items(), key=lambda item: (item[0].kind != "ring", item[0].teeth, item[0].toothing)))


def _asks(pair: PairByHand) -> float:
    return -1.0 if pair.need_mm is None else pair.need_mm


def exactness_of(stock: Inventory, tell: Callable[[str], None] | None = None) -> Exactness | None:
    """How exactly the gears of a train must be made; None for a form without pins, for which it is not worked out.
    tell: called with words about what is being worked out. Each pair is worked out once in a process."""
    if not isinstance(stock.form, PinForm):
        return None
    accuracy, found = float(stock.design.wire.accuracy), []
    pairs: Sequence[tuple[Spec, Spec, object]] = stock.pairs
    for number, (one, other, _) in enumerate(pairs, start=1):
        if tell is not None:
            tell(f"how exactly gears must be made: pair {number} of {len(pairs)}")
        found.append(_by_hand(stock.form.name, stock.sizes, one, other, accuracy))
    return Exactness(accuracy, tuple(found))


@lru_cache(maxsize=512)
def _by_hand(name: str, sizes: Sizes, one: Spec, other: Spec, accuracy_mm: float) -> PairByHand:
    form = FORMS[name]
    assert isinstance(form, PinForm)
    made = by_hand(form, sizes, one, other, accuracy_mm, sizes.uneven)
    return PairByHand(one, other, made, accuracy_needed(form, sizes, one, other, sizes.uneven, SHARE, TRIES))
