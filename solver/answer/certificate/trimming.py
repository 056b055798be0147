"""A proof made short and plain: seen from its end, a step is kept if a kept one needs it; and the hints of a step stand
in the order in which each follows from those before, which the solver's own do not always."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from solver.check.certificate.model import Fact
from solver.check.certificate.proof import Taken, contrary, follows, take


@dataclass(frozen=True)
class Step:
    """A step of a proof. facts: the premises of a step `i`, or what a step `n` excludes; to: the consequence (0: none)
    and tag of a step `i`; hints: of a step `n`; rule: of a step `i`."""

    kind: str
    number: int
    facts: tuple[int, ...]
    to: int = 0
    tag: int = 0
    rule: str = ""
    hints: tuple[int, ...] = ()

    def line(self) -> str:
        facts = [self.kind, self.number, *self.facts, 0]
        if self.kind == "n":
            return " ".join(map(str, [*facts, *self.hints]))
        tail = [*([self.to] if self.to else []), *([f"c:{self.tag}"] if self.tag else []), f"l:{self.rule}"]
        return " ".join(map(str, [*facts, *tail]))


class Trimmed:
    """A solver's proof that ends with a contradiction. lines: what is left of it, each fact named before its first use
    and each step dropped after its last; tags: of the constraints that it rests on."""

    def __init__(self, path: Path, bounds: Mapping[str, tuple[int, int]]) -> None:
        """bounds: of each variable of the model."""
        self.bounds = bounds
        self.named: dict[int, str] = {}
        self.facts: dict[int, Fact] = {}
        self.steps: dict[int, Step] = {}
        last = self._read(path)
        needed, kept = {last}, list[Step]()
        blocks = dict[int, tuple[Step, ...]]()
        for number in sorted(self.steps, reverse=True):
            step = self.steps[number]
            if step.kind == "n" and number in needed:
                hints = self._ordered(step)
                blocks[number] = hints
                kept.append(Step("n", number, step.facts, hints=tuple(hint.number for hint in hints)))
                needed.update(hint.tag for hint in hints)
        kept.reverse()
        self.tags = needed - blocks.keys()
        self.lines = list(self._told(kept, blocks))

    def _read(self, path: Path) -> int:
        """Read the file; the number of the step that excludes everything."""
        with path.open(encoding="ascii") as file:
            for line in file:
                if line.startswith("a "):
                    _, number, name, op, value = line.split()
                    self.named[int(number)] = line.strip()
                    self.facts[int(number)] = name[1:], op, int(value[:-1])
                elif line[0] in "in":
                    step = _step(line)
                    self.steps[step.number] = step
                    if step.kind == "n" and not step.facts:
                        return step.number
        raise ValueError("the solver's proof has no end")

    def _fact(self, number: int) -> Fact:
        return self.facts[number] if number > 0 else contrary(self.facts[-number])

    def _ordered(self, step: Step) -> tuple[Step, ...]:
        """The hints that a step needs, in an order in which each premise follows from what was taken before."""
        taken: Taken = {}
        if not all(take(taken, self._fact(fact)) for fact in step.facts):
            return ()
        waiting, found = [self.steps[hint] for hint in step.hints if self._holds(self.steps[hint])], list[Step]()
        while waiting:
            later = []
            for hint in waiting:
                if not all(follows(taken, self._fact(fact)) for fact in hint.facts):
                    later.append(hint)
                    continue
                found.append(hint)
                if not hint.to or not take(taken, self._fact(hint.to)):
                    return self._used(found)
            if len(later) == len(waiting):
                raise ValueError(f"the solver's step {step.number} does not follow from its hints")
            waiting = later
        raise ValueError(f"the solver's step {step.number} is left possible by its hints")

    def _holds(self, hint: Step) -> bool:
        """Whether a hint is no false `initial_domain`: releases of the solver are known (0.5.0) that write, of a fact
        that is among those excluded, both that it is so by the bounds and that it is not. Nothing rests on these."""
        if hint.rule != "initial_domain" or not hint.to:
            return True
        name = self._fact(hint.to)[0]
        low, high = self.bounds[name]
        return follows({name: (low, high, frozenset())}, self._fact(hint.to))

    def _used(self, hints: list[Step]) -> tuple[Step, ...]:
        """Of hints that end in what cannot be those that have to do with its variables."""
        names, kept = set[str](), list[Step]()
        for hint in reversed(hints):
            if not kept or self._fact(hint.to)[0] in names:
                kept.append(hint)
                names.update(self._fact(fact)[0] for fact in (*hint.facts, *([hint.to] if hint.to else [])))
        return tuple(reversed(kept))

    def _told(self, steps: list[Step], blocks: dict[int, tuple[Step, ...]]) -> Iterator[str]:
        last = {hint.tag: step.number for step in steps for hint in blocks[step.number] if hint.tag in blocks}
        known: set[int] = set()
        for step in steps:
            hints = sorted(blocks[step.number], key=lambda hint: hint.number)
            for one in (*hints, step):
                for fact in (*one.facts, *([one.to] if one.to else [])):
                    if abs(fact) not in known:
                        known.add(abs(fact))
                        yield self.named[abs(fact)]
                yield one.line()
            yield from (f"d {tag}" for tag in dict.fromkeys(hint.tag for hint in hints) if last.get(tag) == step.number)
        yield "c UNSAT"


def _step(line: str) -> Step:
    words = line.split()
    number, zero = int(words[1]), words.index("0", 2)
    facts = tuple(int(one) for one in words[2:zero])
    if words[0] == "n":
        return Step("n", number, facts, hints=tuple(int(one) for one in words[zero + 1 :]))
    tail = words[zero + 1 :]
    to = next((int(one) for one in tail if one[0] not in "cl"), 0)
    tag = next((int(one[2:]) for one in tail if one.startswith("c:")), 0)
    return Step("i", number, facts, to, tag, tail[-1][2:])
