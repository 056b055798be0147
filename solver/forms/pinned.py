"""Forms of toothed gears that work with pin gears: what they have in common, whatever the curve of their teeth.

Pins work with teeth only, and teeth of wire with pins, so gears take turns: a ring has teeth, what works with it has
pins, and so on. Of some forms short teeth of third gears work with the teeth of rings. numpy is loaded when the first
pair is worked out, as reading a file does not need it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache
from itertools import product
from typing import TYPE_CHECKING

from solver.design.errors import DesignError
from solver.forms.form import MeshSort, Pairing, Quantity, Remark, Roles, Sizes, Spec, ToothedGear, only
from solver.forms.pins import PINS, SHORT, addendum_of, inside_mm, pin_gear, spokes_of, wired_outline
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

    def tooth_wire_mm(self, sizes: Sizes, deep_mm: float) -> float:
        """The most wire that a tooth takes so deep."""
        raise NotImplementedError

    def gaps(self, sizes: Sizes, specs: Sequence[Spec]) -> Gaps:
        """The gaps of toothed gears as pins see them. Raises DesignError as `toothed` does."""
        raise NotImplementedError

    def tips(self, sizes: Sizes, pairs: Sequence[tuple[Spec, Spec]]) -> Gaps:
        """The gaps of the first of two toothed gears as the tips of the other see them, for forms of which teeth work
        with teeth. Raises DesignError as `toothed` does."""
        raise NotImplementedError

    def among(self, sizes: Sizes, pairs: Sequence[tuple[Spec, Spec]]) -> Gaps:
        """The gaps of the first of two gears as the pins or tips of the other see them, all pairs in order and of one
        sort. Raises DesignError as `toothed` does."""
        if all(other.toothing == PINS for _, other in pairs):
            return self.gaps(sizes, [one for one, _ in pairs])
        return self.tips(sizes, pairs)

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

        pair = in_order(one, other)
        mates = np.array([pair[1].teeth])
        return run_of(sizes, _among(self, sizes, (pair,)), np.zeros(1, dtype=np.intp), mates, np.array([apart_mm]))[0]

    def span(self, sizes: Sizes, one: Spec, other: Spec, uneven: float) -> Span | None:
        import numpy as np

        from solver.forms.pairs import spans_of

        pair = in_order(one, other)
        mates = np.array([pair[1].teeth])
        return spans_of(sizes, _among(self, sizes, (pair,)), np.zeros(1, dtype=np.intp), mates, uneven)[0]

    def table(self, sizes: Sizes, sort: MeshSort, teeth: Counts, mates: Counts, uneven: float) -> PairTable:
        return _table(self, sizes, sort, teeth, mates, uneven)

    def running(
        self, sizes: Sizes, sort: MeshSort, teeth: Counts, mates: Counts, uneven: float
    ) -> frozenset[tuple[int, int]]:
        from solver.forms.pairs import running_for_all, running_of

        known: dict[Spec, bool] = {}

        def made(spec: Spec) -> bool:
            like = spec if self.for_mates and spec.toothing != PINS else replace(spec, mates=())
            if like not in known:
                known[like] = not self.outline(sizes, like).unmade
            return known[like]

        every = ((key, in_order(*sort.specs(*key))) for key in product(teeth, mates))
        some = [(key, pair) for key, pair in every if all(map(made, pair))]
        if not some:
            return frozenset()
        pairs, asked = [pair for _, pair in some], running_for_all if self.for_mates else running_of
        return frozenset(some[index][0] for index in asked(sizes, self.among(sizes, pairs), pairs, uneven))

    def pair(self, sizes: Sizes, one: Spec, other: Spec) -> Pairing:
        toothed, pins = in_order(one, other)
        tips = pins.toothing != PINS
        where = f"{toothed.name} with {pins.name}"
        found = self.run(sizes, one, other)
        pitch = sizes.pitch_mm
        figures = (
            Quantity("backlash at the pitch circle", found.backlash),
            Quantity("unevenness at the pitch circle", found.uneven),
            Quantity(f"{'tips' if tips else 'pins'} among the teeth, at least", found.least_pins, ""),
        )
        remarks = []
        tight = min(found.backlash, found.tips_mm) if tips else found.backlash
        if tight < 0:
            what = "teeth of both" if tips else "pins and teeth"
            text = f"jams: {what} overlap by {sizes.told(-tight)}; take thinner wire, or a wider rim"
            remarks.append(Remark(where, text, False))
        elif found.slips:
            what = "tip" if tips else "pin"
            told = f"a {what} can come in beside its own gap"
            told = f"at times no tooth holds a {what}" if found.least_pins == 0 else told
            remarks.append(Remark(where, f"slips: {told}; take a larger rings.addendum", False))
        elif found.uneven > sizes.uneven * pitch:
            told = (
                f"turns unevenly: it hunts {sizes.told(found.uneven)} ({100 * found.uneven / pitch:.0f} % of a tooth)"
            )
            remarks.append(Remark(where, told + " within each tooth"))
        if pins.kind == "gear" and not tips and found.tips_mm <= 0:
            told = f"tips reach {sizes.told(-found.tips_mm)} into the hub of {pins.name}"
            remarks.append(Remark(where, told, False))
        return Pairing(figures, tuple(remarks))


def in_order(one: Spec, other: Spec) -> tuple[Spec, Spec]:
    """The toothed gear and the pin gear of a pair; of two toothed gears the one whose teeth are not short first."""
    last = PINS if PINS in (one.toothing, other.toothing) else SHORT
    return (one, other) if other.toothing == last else (other, one)


@lru_cache(maxsize=64)
def _among(form: PinForm, sizes: Sizes, pairs: tuple[tuple[Spec, Spec], ...]) -> Gaps:
    return form.among(sizes, pairs)


@lru_cache(maxsize=16)
def _table(form: PinForm, sizes: Sizes, sort: MeshSort, teeth: Counts, mates: Counts, uneven: float) -> PairTable:
    from solver.forms.pairs import table_of

    keys, pairs = [], []
    for count, mate in product(teeth, mates):
        pair = in_order(*sort.specs(count, mate))
        try:
            for spec in pair:
                if spec.toothing != PINS:
                    form.reach_mm(sizes, spec)
        except DesignError:
            continue
        keys.append((count, mate))
        pairs.append(pair)
    return table_of(sizes, form.among(sizes, pairs), pairs, keys, uneven)
