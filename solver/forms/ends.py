"""From where to where pairs run: the span of the distance of centres, from jam to slip.

Spans are whole twentieths of a millimetre. Both ends were tried and run, with `rolling.MARGIN` to spare; one step
beyond they do not. The way to them from the nominal distance was tried in strides of a fortieth of a pitch.
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

import numpy as np

from solver.forms.gaps import Floats, Ints
from solver.forms.rolling import Bools
from solver.forms.runs import STEPS_PER_MM, Span

_STRIDES = 40  # of a pitch
_MOST = 400

Asked = Callable[[Ints, Floats], Bools]


def span_of_each(count: int, perhaps: Asked, runs: Asked, pitch_mm: float) -> list[Span | None]:
    """The spans of so many pairs about 0; None where one does not run there. runs: whether some pairs do, at these
    offsets [mm]; perhaps: the same for less work, where a no is sure."""
    ends = _Ends(perhaps, runs, max(1, round(pitch_mm * STEPS_PER_MM / _STRIDES)))
    some = np.flatnonzero(runs(np.arange(count), np.zeros(count)))
    low, high = ends.end(some, -1), ends.end(some, 1)
    found: list[Span | None] = [None] * count
    for index, first, last in zip(some.tolist(), low.tolist(), high.tolist(), strict=True):
        found[index] = Span(Fraction(first, STEPS_PER_MM), Fraction(last, STEPS_PER_MM))
    return found


class _Ends:
    def __init__(self, perhaps: Asked, runs: Asked, stride: int) -> None:
        self.perhaps, self.runs, self.stride = perhaps, runs, stride

    def end(self, some: Ints, way: int) -> Ints:
        """The last step in one direction up to which pairs run that do at 0."""
        stride = way * self.stride
        good = np.zeros(len(some), dtype=np.intp)
        going = np.arange(len(some))
        for _ in range(_MOST):
            going = going[self.perhaps(some[going], (good[going] + stride) / STEPS_PER_MM)]
            good[going] += stride
            if not len(going):
                break
        bad = good + stride
        # What perhaps runs must be sure to: strides back until it does.
        back = np.flatnonzero(good)
        while len(back):
            back = back[~self.runs(some[back], good[back] / STEPS_PER_MM)]
            bad[back] = good[back]
            good[back] -= stride
            back = back[good[back] != 0]
        while len(left := np.flatnonzero(np.abs(bad - good) > 1)):
            middle = (good[left] + bad[left]) // 2
            fine = self.runs(some[left], middle / STEPS_PER_MM)
            good[left] = np.where(fine, middle, good[left])
            bad[left] = np.where(fine, bad[left], middle)
        return good
