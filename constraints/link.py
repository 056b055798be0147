"""The choices of one link: kind, gears and arbor by the rules that look at that link alone.

Lengths are whole teeth of pitch radius: two gears that mesh stand as far apart as their teeth together.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple, Protocol

Span = tuple[int, int]  # least and greatest


class Choice(NamedTuple):
    """A link: index of its kind, teeth of wheel and pinion, the least teeth that its third gears may have (0: none on
    that side), how far its arbor stands and anything of it reaches from the main axis (0 where places do not matter),
    and which of `LinkChoices.sets` its third gears are from (0: any)."""

    kind: int
    wheel: int
    pinion: int
    wheel_third: int
    pinion_third: int
    arbor: int
    reach: int
    wheel_set: int = 0
    pinion_set: int = 0

    @property
    def thirds(self) -> int:
        """How many third gears there are."""
        return (self.wheel_third > 0) + (self.pinion_third > 0)


class SpanRule(Protocol):
    """A rule of how far out an arbor may stand for one of its gears to work with a ring; ring, gear, third: teeth."""

    def span(self, ring: int, gear: int, third: int) -> Span: ...


class ThirdRule(Protocol):
    """A rule of which third gear may stand between a ring and a gear; ring, gear, third: teeth."""

    def third(self, ring: int, gear: int, third: int) -> bool: ...


class LinkRule(Protocol):
    """A rule that looks at one link alone, between rings of `inner` and `outer` teeth."""

    def allows(self, inner: int, outer: int, choice: Choice) -> bool: ...


@dataclass(frozen=True)
class LinkChoices:
    """Every choice between two rings. shapes: for each kind the third gears on the wheel's and on the pinion's side;
    direct, third: the rules of a gear that meets its ring, and of one with a third gear between; None: no places.
    between_rule: which third gears may stand between; None: any. sets: those that may, by number, as they are met."""

    shapes: Sequence[tuple[int, int]]
    wheel_teeth: Sequence[int]
    pinion_teeth: Sequence[int]
    third_teeth: Sequence[int]
    direct: SpanRule | None
    third: SpanRule | None
    rules: Sequence[LinkRule] = ()
    between_rule: ThirdRule | None = None
    sets: dict[tuple[int, ...], int] = field(default_factory=dict)

    def between(self, inner: int, outer: int) -> Iterator[Choice]:
        """The choices between rings of so many teeth, the arbor as far in as it can be."""
        for kind, (on_wheel, on_pinion) in enumerate(self.shapes):
            if (on_wheel or on_pinion) and not self.third_teeth:
                continue
            pinions = [(pinion, self._span(outer, pinion, on_pinion)) for pinion in self.pinion_teeth]
            for wheel in self.wheel_teeth:
                low, high = self._span(inner, wheel, on_wheel)
                for pinion, (low_too, high_too) in pinions:
                    arbor = max(low, low_too)
                    if arbor > min(high, high_too):
                        continue
                    wheel_thirds = self._thirds(inner, wheel) if on_wheel else ()
                    pinion_thirds = self._thirds(outer, pinion) if on_pinion else ()
                    at_wheel = self._least(inner, wheel, arbor, wheel_thirds) if on_wheel else 0
                    at_pinion = self._least(outer, pinion, arbor, pinion_thirds) if on_pinion else 0
                    if at_wheel is None or at_pinion is None:
                        continue
                    reach = max(outer, arbor + max(wheel, pinion), inner + 2 * at_wheel, outer + 2 * at_pinion)
                    reach *= self.direct is not None
                    sets = self._number(wheel_thirds), self._number(pinion_thirds)
                    choice = Choice(kind, wheel, pinion, at_wheel, at_pinion, arbor, reach, *sets)
                    if all(rule.allows(inner, outer, choice) for rule in self.rules):
                        yield choice

    def _span(self, ring: int, gear: int, thirds: int) -> Span:
        rule = self.third if thirds else self.direct
        return (0, 0) if rule is None else rule.span(ring, gear, max(self.third_teeth) if thirds else 0)

    def _thirds(self, ring: int, gear: int) -> Sequence[int]:
        """The third gears that may stand between ring and gear."""
        rule = self.between_rule
        return self.third_teeth if rule is None else [z for z in self.third_teeth if rule.third(ring, gear, z)]

    def _number(self, thirds: Sequence[int]) -> int:
        if self.between_rule is None or not thirds:
            return 0
        return self.sets.setdefault(tuple(thirds), len(self.sets) + 1)

    def _least(self, ring: int, gear: int, arbor: int, thirds: Sequence[int]) -> int | None:
        """The fewest teeth of one of these third gears between ring and gear; None: none reaches."""
        if self.third is None:
            return self.third_teeth[0]
        return next((teeth for teeth in thirds if self.third.span(ring, gear, teeth)[1] >= arbor), None)
