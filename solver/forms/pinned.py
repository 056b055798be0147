"""Forms of toothed gears that work with pin gears: what they have in common, whatever the curve of their teeth.

Pins work with teeth only, and teeth of wire with pins only, so gears take turns: a ring has teeth, what works with it
has pins, and so on. numpy is loaded when the first pair is worked out, as reading a file does not need it.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import TYPE_CHECKING

from solver.design.errors import DesignError
from solver.forms.form import Pairing, Quantity, Remark, Roles, Sizes, Spec, ToothedGear, only
from solver.forms.pins import PINS, addendum_of, inside_mm, pin_gear, spokes_of, wired_outline
from solver.forms.runs import Counts, MeshRun, Outline, PairTable, Span

if TYPE_CHECKING:
    from solver.forms.gaps import Gaps


class PinForm:
    """A form whose toothed gears work with pin gears. teeth: the toothing of those that are not pin gears. for_mates:
    whether they are made for the mate with the fewest pins."""

    name: str
    title: str
    source: str
    teeth: str
    plate: bool = False
    for_mates = False
    thirds: tuple[str, ...] = ("pins",)

    def toothed(self, sizes: Sizes, spec: Spec) -> ToothedGear:
        """A gear with teeth. Raises DesignError where it cannot be made."""
        raise NotImplementedError

    def reach_mm(self, sizes: Sizes, spec: Spec) -> float:
        """How far its teeth stand beyond the pitch circle. Raises DesignError as `toothed` does."""
        raise NotImplementedError

    def gaps(self, sizes: Sizes, specs: Sequence[Spec]) -> Gaps:
        """The gaps of toothed gears as pins see them. Raises DesignError as `toothed` does."""
        raise NotImplementedError

    def roles(self, third: str) -> Roles:
        return only(third, self.thirds, Roles(self.teeth, PINS, PINS, self.teeth))

    def shape(self, sizes: Sizes, spec: Spec) -> ToothedGear:
        return pin_gear(sizes, spec) if spec.toothing == PINS else self.toothed(sizes, spec)

    def outline(self, sizes: Sizes, spec: Spec) -> Outline:
        beyond, unmade = sizes.addendum_mm, ""
        try:
            if spec.toothing != PINS:
                beyond = self.reach_mm(sizes, spec)
            if spec.kind == "gear":
                spokes_of(sizes, spec, inside_mm(sizes, spec), 1)
        except DesignError as error:
            unmade = str(error)
        return wired_outline(sizes, spec, beyond, unmade)

    def beyond_mm(self, sizes: Sizes, spec: Spec) -> float:
        return sizes.pin_mm / 2 if spec.toothing == PINS else addendum_of(sizes, spec)

    def run(self, sizes: Sizes, one: Spec, other: Spec, apart_mm: float = 0.0) -> MeshRun:
        import numpy as np

        from solver.forms.pairs import run_of

        toothed, pins = in_order(one, other)
        gaps = _gaps(self, sizes, (toothed,))
        return run_of(sizes, gaps, np.zeros(1, dtype=np.intp), np.array([pins.teeth]), np.array([apart_mm]))[0]

    def span(self, sizes: Sizes, one: Spec, other: Spec, uneven: float) -> Span | None:
        import numpy as np

        from solver.forms.pairs import spans_of

        toothed, pins = in_order(one, other)
        gaps = _gaps(self, sizes, (toothed,))
        return spans_of(sizes, gaps, np.zeros(1, dtype=np.intp), np.array([pins.teeth]), uneven)[0]

    def table(self, sizes: Sizes, kind: str, teeth: Counts, mates: Counts, uneven: float) -> PairTable:
        return _table(self, sizes, kind, teeth, mates, uneven)

    def running(
        self, sizes: Sizes, kind: str, teeth: Counts, mates: Counts, uneven: float
    ) -> frozenset[tuple[int, int]]:
        from solver.forms.pairs import running_for_all, running_of

        mates = tuple(mate for mate in mates if not self.outline(sizes, Spec("gear", mate, PINS, teeth)).unmade)
        if not self.for_mates:
            teeth = tuple(count for count in teeth if not self.outline(sizes, Spec(kind, count, self.teeth, ())).unmade)
        specs = [Spec(kind, count, self.teeth, (mate,)) for count in teeth for mate in mates]
        if self.for_mates:
            specs = [spec for spec in specs if not self.outline(sizes, spec).unmade]
        if not specs:
            return frozenset()
        asked = running_for_all if self.for_mates else running_of
        return asked(sizes, self.gaps(sizes, specs), specs, uneven)

    def pair(self, sizes: Sizes, one: Spec, other: Spec) -> Pairing:
        toothed, pins = in_order(one, other)
        where = f"{toothed.name} with {pins.name}"
        found = self.run(sizes, one, other)
        pitch = sizes.pitch_mm
        figures = (
            Quantity("backlash at the pitch circle", found.backlash),
            Quantity("unevenness at the pitch circle", found.uneven),
            Quantity("pins among the teeth, at least", found.least_pins, ""),
        )
        remarks = []
        if found.backlash < 0:
            text = f"jams: pins and teeth overlap by {sizes.told(-found.backlash)}; take thinner wire, or a wider rim"
            remarks.append(Remark(where, text, False))
        elif found.slips:
            told = "at times no tooth holds a pin" if found.least_pins == 0 else "a pin can come in beside its own gap"
            remarks.append(Remark(where, f"slips: {told}; take a larger rings.addendum", False))
        elif found.uneven > sizes.uneven * pitch:
            told = (
                f"turns unevenly: it hunts {sizes.told(found.uneven)} ({100 * found.uneven / pitch:.0f} % of a tooth)"
            )
            remarks.append(Remark(where, told + " within each tooth"))
        if pins.kind == "gear" and found.tips_mm <= 0:
            told = f"tips reach {sizes.told(-found.tips_mm)} into the hub of {pins.name}"
            remarks.append(Remark(where, told, False))
        return Pairing(figures, tuple(remarks))


def in_order(one: Spec, other: Spec) -> tuple[Spec, Spec]:
    """The toothed gear and the pin gear of a pair."""
    return (one, other) if other.toothing == PINS else (other, one)


@lru_cache(maxsize=64)
def _gaps(form: PinForm, sizes: Sizes, specs: tuple[Spec, ...]) -> Gaps:
    return form.gaps(sizes, specs)


@lru_cache(maxsize=16)
def _table(form: PinForm, sizes: Sizes, kind: str, teeth: Counts, mates: Counts, uneven: float) -> PairTable:
    from solver.forms.pairs import table_of

    specs = [Spec(kind, count, form.teeth, (mate,)) for count in teeth for mate in mates]
    made = []
    for spec in specs:
        try:
            form.reach_mm(sizes, spec)
            made.append(spec)
        except DesignError:
            continue
    return table_of(sizes, form.gaps(sizes, made), made, uneven)
