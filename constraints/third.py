"""Rule `third`: a third gear needs its triangle, and keeps the gear behind it clear of that gear's ring."""

from __future__ import annotations

from dataclasses import dataclass

from constraints.train import TrainVars


@dataclass(frozen=True)
class ThirdCount:
    """At most so many third gears in the whole train."""

    most: int
    name = "third"

    def post(self, train: TrainVars) -> None:
        train.model.add(sum(link.thirds() for link in train.links) <= self.most)


@dataclass(frozen=True)
class ThirdTriangle:
    """With a third gear of c teeth between ring and gear, the arbor stands at least `gap` and at most 2c teeth
    farther out than where the gear would touch its ring: nearer, it touches; farther, there is no triangle.

    The arbor stands as far in as it can, so that a train has one arbor radius and not many.
    """

    gap: int
    name = "third"

    def post(self, train: TrainVars) -> None:
        model = train.model
        for i, link in enumerate(train.links):
            for kind in link.kinds:
                free = []
                for thirds, ring, gear, third in (
                    (kind.wheel_thirds, train.rings[i], link.wheel, link.wheel_third),
                    (kind.pinion_thirds, train.rings[i + 1], link.pinion, link.pinion_third),
                ):
                    if thirds == 0:
                        continue
                    touching = ring.value + gear.value
                    model.add(link.arbor >= touching + self.gap).only_enforce_if(kind.chosen)
                    model.add(link.arbor <= touching + 2 * third.value).only_enforce_if(kind.chosen)
                    free.append(touching + self.gap)
                if len(free) == 2:
                    least = model.new_int_var(0, train.arbor_high, f"least{i}")
                    model.add_max_equality(least, free)
                    model.add(link.arbor == least).only_enforce_if(kind.chosen)


@dataclass(frozen=True)
class ThirdSmallest:
    """Each third gear is the smallest of `allowed` that closes its triangle: one choice in place of many.

    A symmetry breaker for counting trains that differ in more than their third gears, not a rule of fit.
    """

    allowed: tuple[int, ...]
    name = "third"

    def post(self, train: TrainVars) -> None:
        model = train.model
        smaller = dict(zip(self.allowed[1:], self.allowed, strict=False))
        for i, link in enumerate(train.links):
            for ring, gear, third in (
                (train.rings[i], link.wheel, link.wheel_third),
                (train.rings[i + 1], link.pinion, link.pinion_third),
            ):
                for teeth, literal in third.is_value.items():
                    if teeth in smaller:
                        short = model.add(link.arbor >= ring.value + gear.value + 2 * smaller[teeth] + 1)
                        short.only_enforce_if(literal)


@dataclass(frozen=True)
class NoPlaces:
    """Ratios only: arbors have no place, and a third gear is the smallest there is."""

    name = "third"

    def post(self, train: TrainVars) -> None:
        for link in train.links:
            train.model.add(link.arbor == 0)
