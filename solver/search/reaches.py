"""How far gears reach: plain discs of one addendum, or, where a design says of what wire they are made, as their tooth
form makes them.

A gear's size is one whole number, its teeth and how far it stands beyond its pitch circle: sizes can be added, so that
what two gears need is a rule of the sum of their sizes.
"""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache
from typing import TYPE_CHECKING

from solver.design.design import Design
from solver.design.geometry import gap_teeth

if TYPE_CHECKING:  # tooth forms are loaded for designs with wire alone
    from solver.forms.form import Form, Sizes

UNIT = 1 << 24  # of a size: more than two gears can stand beyond their pitch circles [micrometres]
GEAR, THIRD, BEHIND = "gear", "third gear", "gear behind a third gear"  # what a small gear is


class Reaches:
    """How far the gears of a design reach [mm].

    ring, rim: of a ring, outwards and inwards from its pitch circle. tip: of every small gear, beyond what its size
    says. most: of any gear, by which the envelope counts.
    """

    def __init__(self, design: Design) -> None:
        rings = design.rings
        self.ring = self.tip = self.most = rings.addendum
        self.rim = rings.rim
        self._made: _Made | None = None
        if design.as_made:
            self._made = made = _made_of(design)
            self.tip, self.ring, self.rim = Fraction(0), made.ring, made.rim
            self.most = max(made.ring, *(made.most(role) for role in (GEAR, THIRD, BEHIND)))

    def size(self, role: str, teeth: int, *, least: bool = False) -> int:
        """The size of a small gear of so many teeth. least: as if it reached no farther than any gear of its role."""
        if self._made is None:
            return teeth * UNIT
        return teeth * UNIT + (self._made.least(role) if least else self._made.um(role, teeth))

    def reach_mm(self, role: str, teeth: int) -> float:
        """How far a small gear of so many teeth stands beyond its pitch circle."""
        return float(self.tip) + self.size(role, teeth) % UNIT / 1000

    def beyond(self, role: str) -> Fraction:
        """How far a small gear of that role stands beyond its pitch circle at most."""
        return self.tip if self._made is None else self._made.most(role)


class _Made:
    """Gears of one tooth form and its lengths; counts: of rings and of each role. Reaches are rounded outwards."""

    def __init__(self, form: Form, third: str, sizes: Sizes, counts: tuple[tuple[str, tuple[int, ...]], ...]) -> None:
        """third: the toothing of third gears, as in `Form.thirds`."""
        from solver.forms.runs import outward

        self._form, self._sizes, self._counts, self._roles = form, sizes, dict(counts), form.roles(third)
        self._known: dict[tuple[str, int], int] = {}
        self.rim = outward(sizes.rim_mm)
        self.ring = Fraction(max(self.um("ring", teeth) for teeth in self._counts["ring"]), 1000)

    def um(self, role: str, teeth: int) -> int:
        """How far a gear stands beyond its pitch circle [micrometres], whichever it works with."""
        from solver.forms.form import Spec
        from solver.forms.runs import outward

        if (role, teeth) not in self._known:
            mates = {"ring": (GEAR, THIRD), GEAR: ("ring",), THIRD: ("ring", GEAR), BEHIND: (THIRD,)}[role]
            roles = self._roles
            toothing = {"ring": roles.ring, GEAR: roles.gear, THIRD: roles.third, BEHIND: roles.behind}[role]
            every = tuple(sorted({count for mate in mates for count in self._counts[mate]}))
            spec = Spec("ring" if role == "ring" else "gear", teeth, toothing, every)
            self._known[role, teeth] = int(outward(self._form.beyond_mm(self._sizes, spec)) * 1000)
        return self._known[role, teeth]

    def most(self, role: str) -> Fraction:
        """The farthest that any gear of a role does [mm]."""
        return Fraction(max((self.um(role, teeth) for teeth in self._counts[role]), default=0), 1000)

    def least(self, role: str) -> int:
        """The least that any does [micrometres]."""
        return min((self.um(role, teeth) for teeth in self._counts[role]), default=0)


@lru_cache(maxsize=32)
def _kept(form: str, third: str, sizes: Sizes, counts: tuple[tuple[str, tuple[int, ...]], ...]) -> _Made:
    from solver.forms import FORMS

    return _Made(FORMS[form], third, sizes, counts)


def _made_of(design: Design) -> _Made:
    from solver.forms.form import sizes_of

    gears, thirds = design.gear_counts, design.third_counts
    counts = (
        ("ring", design.ring_counts or {60}),
        (GEAR, gears),
        (THIRD, thirds),
        (BEHIND, gears if thirds else frozenset()),
    )
    return _kept(
        design.wire.form,
        design.wire.third,
        sizes_of(design),
        tuple((name, tuple(sorted(some))) for name, some in counts),
    )


def gap_of(design: Design) -> int:
    """Teeth of pitch radius between the pitch circles of a ring and the gear behind its third gear."""
    reaches = Reaches(design)
    return gap_teeth(design.rings.pitch, reaches.ring + reaches.beyond(BEHIND) + design.fit.clearance)
