"""A solver's proof made short and plain: seen from its end, a step is kept if a kept one needs it. The solver tells of
each step which consequences lead to it; told on is only by which constraints, in the order in which each tells
something. What follows of itself from bounds is left out, as the checker begins with them."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from solver.check.certificate.model import Constraint, Fact
from solver.check.certificate.proof import Taken, apply, contrary, possible, take


@dataclass(frozen=True)
class Step:
    """A step of the solver's proof. facts: the premises of a step `i`, or what a step `n` excludes; to: the consequence
    of a step `i` (0: none), tag: the constraint that it is by (0: none); hints: steps `i`, of a step `n`."""

    facts: tuple[int, ...]
    to: int = 0
    tag: int = 0
    hints: tuple[int, ...] = ()


@dataclass(frozen=True)
class Excluding:
    """A step as it is written: these facts cannot all be so, by these constraints and earlier steps."""

    number: int
    facts: list[Fact]
    hints: list[int]


class Trimmed:
    """A proof that ends with a contradiction. lines: what is left of it, each step dropped after its last use; tags: of
    the constraints that it rests on."""

    def __init__(self, path: Path, bounds: Mapping[str, tuple[int, int]], tags: Mapping[int, Constraint]) -> None:
        """path: DRCP, as the solver writes it; bounds: of each variable of the model; tags: its constraints."""
        self.start: Taken = {name: (low, high, frozenset()) for name, (low, high) in bounds.items()}
        self.constraints = dict(tags)
        self.facts: dict[int, Fact] = {}
        self.implied: dict[int, Step] = {}
        self.excluded: dict[int, Step] = {}
        last = self._read(path)
        self.free = max([*tags, *self.excluded]) + 1  # a number that nothing has
        needed, kept = {last}, list[Excluding]()
        for number in sorted(self.excluded, reverse=True):
            if number in needed:
                steps = list(self._steps(number))
                kept += reversed(steps)
                needed.update(hint for step in steps for hint in step.hints)
        kept.reverse()
        self.tags = needed & tags.keys()
        self.lines = list(_told(kept))

    def _read(self, path: Path) -> int:
        """Read the file; the number of the step that excludes everything."""
        with path.open(encoding="ascii") as file:
            for line in file:
                words = line.split()
                if words[0] == "a":
                    self.facts[int(words[1])] = words[2][1:], words[3], int(words[4][:-1])
                elif words[0] == "i":
                    self.implied[int(words[1])] = _step(words)
                elif words[0] == "n":
                    number, step = int(words[1]), _step(words)
                    self.excluded[number] = step
                    self.constraints[number] = "clause", [contrary(fact) for fact in self._facts(step.facts)], 0
                    if not step.facts:
                        return number
        raise ValueError("the solver's proof has no end")

    def _facts(self, numbers: Iterable[int]) -> list[Fact]:
        return [self.facts[one] if one > 0 else contrary(self.facts[-one]) for one in numbers]

    def _steps(self, number: int) -> Iterator[Excluding]:
        """A step, its hints in an order in which each tells something; before it those that one of them needs."""
        step, taken, used = self.excluded[number], dict(self.start), list[tuple[int, set[str]]]()
        facts = self._facts(step.facts)
        left = all(take(taken, fact) for fact in facts)
        waiting = [hint for hint in map(self.implied.__getitem__, step.hints) if hint.tag]
        while left:
            ready = [hint for hint in waiting if _follow(taken, self._facts(hint.facts))]
            if not ready:
                raise ValueError(f"the solver's step {number} does not follow from its hints")
            waiting = [hint for hint in waiting if hint not in ready]
            for hint in ready:
                tag, to = hint.tag, self._facts([hint.to] if hint.to else [])
                if to and _follow(taken, to):
                    continue
                now = dict(taken)
                if apply(now, self.constraints[tag]) and not (to and _follow(now, to)):
                    # The constraint tells it of the contrary, if not of the consequence.
                    tag, self.free = self.free, self.free + 1
                    contraries = [*self._facts(hint.facts), *map(contrary, to)]
                    self.constraints[tag] = "clause", [contrary(fact) for fact in contraries], 0
                    yield Excluding(tag, contraries, [hint.tag])
                before = dict(taken)
                left = apply(taken, self.constraints[tag])
                used.append((tag, {name for name in taken if taken[name] != before[name]}))
                if not left:
                    break
        yield Excluding(number, facts, self._needed(used))

    def _needed(self, used: list[tuple[int, set[str]]]) -> list[int]:
        """Of constraints that end in what cannot be those that have to do with its variables. used: each with the
        variables of which it told something."""
        names, kept = set[str](), list[int]()
        for tag, told in reversed(used):
            if not kept or told & names:
                kept.append(tag)
                kind, terms, _ = self.constraints[tag]
                names.update(term[0] if kind == "clause" else term[1] for term in terms)
        return kept[::-1]


def _follow(taken: Taken, facts: list[Fact]) -> bool:
    return not any(possible(taken, contrary(fact)) for fact in facts)


def _told(steps: list[Excluding]) -> Iterator[str]:
    numbers = {step.number for step in steps}
    last = {hint: step.number for step in steps for hint in step.hints if hint in numbers}
    for step in steps:
        dropped = [hint for hint in dict.fromkeys(step.hints) if last.get(hint) == step.number]
        yield json.dumps([step.number, step.facts, step.hints, dropped], separators=(",", ":"))


def _step(words: list[str]) -> Step:
    zero = words.index("0", 2)
    facts, tail = tuple(map(int, words[2:zero])), words[zero + 1 :]
    if words[0] == "n":
        return Step(facts, hints=tuple(map(int, tail)))
    to = next((int(one) for one in tail if one[0] not in "cl"), 0)
    return Step(facts, to, next((int(one[2:]) for one in tail if one.startswith("c:")), 0))
