"""The proof of one case, step by step, in the format DRCP: a line a step, numbers of steps only ever growing.

`a ID [x op v]` names a fact about one variable (`-ID`: that it is not so). The steps, and why each is sound:

- `i STEP premises 0 [consequence] c:TAG l:RULE`: together the premises imply the consequence (without one: they cannot
  all be so). Tested by taking the premises and the contrary of the consequence, and finding what cannot be:
  - `initial_domain`: no value of the variable within its bounds is left.
  - `linear_bounds`: in the constraint TAG, `sum` or `most`, the least that the sum can be, each variable at its end
    that makes it least, is above the total (or, of a `sum`, the greatest is below): no variable is beyond its ends.
  - `nogood`: TAG is a clause of the model, and each of its facts is contrary to what was taken; or it is an earlier
    step `n`, and each of its facts follows from what was taken. Where what was taken cannot be by itself, or not
    within the bounds, no TAG is needed.
- `n STEP facts 0 hints`: the facts cannot all be so. The facts are taken; each hint, a step `i`, is applied in the
  order given: its premises must follow from what was taken before, then its consequence is taken too. At one hint
  nothing is left of a variable, or the hint has no consequence: then the facts cannot all be so. Steps `i` count up to
  the next `n`.
- `d STEP`: that step `n` is not used any more. `c UNSAT`: the last line; a step `n` without facts came before: from no
  assumption at all something impossible follows, so that no train keeps the model.

What is taken of a variable is an interval and values left out of it: sets that hold every value that is possible.
"""

from __future__ import annotations

from collections.abc import Sequence

from .claim import DoesNotHold, Unreadable
from .model import Constraint, Fact

MOST_KEPT = 500_000  # facts of steps that are kept at a time
FAR = 1 << 62  # beyond all values of variables

Taken = dict[str, tuple[int, int, frozenset[int]]]
CONTRARY = {"<=": ">=", ">=": "<=", "==": "!=", "!=": "=="}
NOTHING_KNOWN = (-FAR, FAR, frozenset[int]())


def contrary(fact: Fact) -> Fact:
    """What is so exactly if the fact is not."""
    name, op, value = fact
    return name, CONTRARY[op], value + {"<=": 1, ">=": -1}.get(op, 0)


def take(taken: Taken, fact: Fact) -> bool:
    """Take a fact too. Whether a value of its variable is left."""
    name, op, value = fact
    low, high, out = taken.get(name, NOTHING_KNOWN)
    if op == "!=":
        out = out | {value}
    else:
        low = low if op == "<=" else max(low, value)
        high = high if op == ">=" else min(high, value)
    while low in out and low <= high:
        low += 1
    while high in out and low <= high:
        high -= 1
    taken[name] = low, high, out
    return low <= high


def follows(taken: Taken, fact: Fact) -> bool:
    """Whether every value that is left of the fact's variable keeps it."""
    name, op, value = fact
    low, high, out = taken.get(name, NOTHING_KNOWN)
    if op == "<=":
        return high <= value
    if op == ">=":
        return low >= value
    return low == high == value if op == "==" else value < low or value > high or value in out


class Proof:
    """The proof of a case, checked as its lines are read. bounds: of each variable; constraints: by tag."""

    def __init__(self, bounds: dict[str, tuple[int, int]], constraints: dict[int, Constraint]) -> None:
        self.bounds, self.constraints = bounds, constraints
        self.facts: dict[int, Fact] = {}
        self.implied: dict[int, tuple[list[Fact], list[Fact]]] = {}
        self.excluded: dict[int, list[Fact]] = {}
        self.last, self.proven, self.kept = max(constraints, default=0), False, 0

    def step(self, line: str) -> bool:
        """Check one line; whether it ends the proof. Raises DoesNotHold, and others where it is no step."""
        words = line.split()
        if words == ["c", "UNSAT"] and not self.proven:
            raise DoesNotHold("ends without a step that excludes everything")
        if words != ["c", "UNSAT"]:
            {"a": self._name, "i": self._infer, "n": self._exclude, "d": self._drop}[words[0]](words[1:])
        if self.kept + len(self.facts) > MOST_KEPT:
            raise Unreadable("more steps are kept at a time than may be")
        return words[0] == "c"

    def _name(self, words: list[str]) -> None:
        number, name, op, value = int(words[0]), words[1].removeprefix("["), words[2], int(words[3].removesuffix("]"))
        if (
            number <= 0
            or number in self.facts
            or name not in self.bounds
            or op not in CONTRARY
            or abs(value) > FAR // 2
        ):
            raise DoesNotHold(f"fact {number}: named twice, or of no variable of the model")
        self.facts[number] = name, op, value

    def _fact(self, text: str) -> Fact:
        number = int(text)
        if abs(number) not in self.facts:
            raise DoesNotHold(f"fact {number}: not named")
        return self.facts[number] if number > 0 else contrary(self.facts[-number])

    def _begin(self, words: list[str]) -> tuple[int, list[Fact], list[str]]:
        """The step's number, its facts before the 0, and the words after it."""
        number, zero = int(words[0]), words.index("0", 1)
        if number <= self.last:
            raise DoesNotHold(f"step {number}: comes after {self.last}")
        self.last, self.kept = number, self.kept + len(words)
        return number, [self._fact(word) for word in words[1:zero]], words[zero + 1 :]

    def _infer(self, words: list[str]) -> None:
        number, premises, tail = self._begin(words)
        tag = int(tail[-2][2:]) if len(tail) > 1 and tail[-2].startswith("c:") else 0
        to = [self._fact(word) for word in tail[:-1] if not word.startswith("c:")]
        taken: Taken = {}
        possible = all(take(taken, fact) for fact in [*premises, *map(contrary, to)]) and len(to) <= 1
        if len(to) > 1 or (possible and not self._impossible(tail[-1], tag, taken)):
            raise DoesNotHold(f"step {number}: does not follow from {tag or 'the bounds'} by {tail[-1][2:40]}")
        self.implied[number] = premises, to

    def _impossible(self, rule: str, tag: int, taken: Taken) -> bool:
        """Whether a rule tells that what was taken cannot all be so."""
        kind, terms, total = self.constraints.get(tag, ("", [], 0))
        if rule == "l:nogood" and (tag in self.excluded or kind == "clause"):
            facts = self.excluded[tag] if tag in self.excluded else [contrary(fact) for fact in terms]
            return all(follows(taken, fact) for fact in facts)
        for name in list(taken):
            low, high = self.bounds[name]
            if not (take(taken, (name, ">=", low)) and take(taken, (name, "<=", high))):
                return True
        if rule == "l:linear_bounds" and kind in ("sum", "most"):
            return self._end(terms, taken, 0) > total or (kind == "sum" and self._end(terms, taken, 1) < total)
        return False

    def _end(self, terms: Sequence[tuple[int, str]], taken: Taken, which: int) -> int:
        """The least (0) or greatest (1) that a sum can be."""
        total = 0
        for factor, name in terms:
            low, high = taken[name][:2] if name in taken else self.bounds[name]
            total += factor * (high if which ^ (factor < 0) else low)
        return total

    def _exclude(self, words: list[str]) -> None:
        number, facts, hints = self._begin(words)
        taken: Taken = {}
        possible = all(take(taken, fact) for fact in facts)
        for hint in hints if possible else ():
            if int(hint) not in self.implied:
                raise DoesNotHold(f"step {number}: hint {hint} is no step before it")
            premises, to = self.implied[int(hint)]
            if not all(follows(taken, fact) for fact in premises):
                raise DoesNotHold(f"step {number}: a premise of hint {hint} does not follow")
            possible = bool(to) and take(taken, to[0])
            if not possible:
                break
        if possible:
            raise DoesNotHold(f"step {number}: its hints leave it possible")
        self.excluded[number], self.proven = facts, self.proven or not facts
        self.kept -= sum(len(premises) for premises, _ in self.implied.values())
        self.implied.clear()

    def _drop(self, words: list[str]) -> None:
        self.kept -= len(self.excluded.pop(int(words[0])))
