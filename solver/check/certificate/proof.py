"""The proof of one case, step by step, in the format DRCP: a line a step, numbers of steps only ever growing.

`a ID [x op v]` names a fact about one variable (`-ID`: that it is not so). The steps, and why each is sound:

- `i STEP premises 0 [consequence] c:TAG l:RULE`: together the premises imply the consequence (without one: they cannot
  all be so). Tested by taking the premises and the contrary of the consequence, and finding what cannot be:
  - `initial_domain`: no value of the variable within its bounds is left.
  - `linear_bounds`: in the constraint TAG, `sum` or `most`, the least that the sum can be, each variable at its end that
    makes it least, is above the total (or, of a `sum`, the greatest is below). All variables lie between their ends.
  - `nogood`: TAG is a clause of the model, and each of its facts is contrary to what was taken; or it is an earlier step
    `n`, and each of its facts follows from what was taken. Where what was taken cannot be by itself,
    or not within the bounds, no TAG is needed.
- `n STEP facts 0 hints`: the facts cannot all be so. The facts are taken; each hint, a step `i`, is applied in the order
  given: its premises must follow from what was taken before, then its consequence is taken too. At one hint nothing is
  left of a variable, or the hint has no consequence: then the facts cannot all be so.
- `d STEP`: that step is not used any more. `c UNSAT`: the last line; a step `n` without facts came before: from no
  assumption at all something impossible follows, so that no train keeps the model.

What is taken of a variable is an interval and values left out of it: sets that hold every value that is possible.
"""

from __future__ import annotations

from collections.abc import Sequence

from .claim import Unreadable, Unsound
from .model import Constraint

FAR = 1 << 62  # beyond all values of variables

Fact = tuple[str, str, int]
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
        self.implied: dict[int, tuple[list[Fact], Fact | None]] = {}
        self.excluded: dict[int, list[Fact]] = {}
        self.last, self.proven = max(constraints, default=0), False

    def step(self, line: str) -> bool:
        """Check one line; whether it ends the proof. Raises Unsound and Unreadable."""
        word, *rest = line.split()
        try:
            if word == "a":
                self._name(rest)
            elif word == "i":
                self._infer(rest)
            elif word == "n":
                self._exclude([int(one) for one in rest])
            elif word == "d":
                step = int(rest[0])
                self.implied.pop(step, None)
                self.excluded.pop(step, None)
            elif line.split() == ["c", "UNSAT"]:
                if not self.proven:
                    raise Unsound("ends without a step that excludes everything")
                return True
            else:
                raise Unreadable("no step of a proof")
        except (ValueError, IndexError, KeyError) as fault:
            if isinstance(fault, (Unsound, Unreadable)):
                raise
            raise Unreadable(f"a step that cannot be read ({type(fault).__name__})") from None
        return False

    def _name(self, rest: Sequence[str]) -> None:
        number, name, op, value = int(rest[0]), rest[1].removeprefix("["), rest[2], int(rest[3].removesuffix("]"))
        if number <= 0 or number in self.facts or op not in CONTRARY or abs(value) >= 1 << 40:
            raise Unsound(f"fact {number}: named twice, or none")
        if name not in self.bounds:
            raise Unsound(f"fact {number}: no variable {name}")
        self.facts[number] = name, op, value

    def _fact(self, number: int) -> Fact:
        fact = self.facts.get(abs(number))
        if fact is None:
            raise Unsound(f"fact {number}: not named")
        return fact if number > 0 else contrary(fact)

    def _number(self, text: int | str) -> int:
        number = int(text)
        if number <= self.last:
            raise Unsound(f"step {number}: comes after {self.last}")
        self.last = number
        return number

    def _infer(self, rest: list[str]) -> None:
        number, zero = self._number(rest[0]), rest.index("0")
        premises = [self._fact(int(one)) for one in rest[1:zero]]
        tail = rest[zero + 1 :]
        tag = int(tail[-2].removeprefix("c:")) if len(tail) > 1 and tail[-2].startswith("c:") else 0
        told = [one for one in tail[:-1] if not one.startswith("c:")]
        if len(told) > 1:
            raise Unsound(f"step {number}: more than one consequence")
        consequence = self._fact(int(told[0])) if told else None
        taken: Taken = {}
        kept = all([take(taken, fact) for fact in premises])
        kept = (consequence is None or take(taken, contrary(consequence))) and kept
        if kept and not self._impossible(tail[-1].removeprefix("l:"), tag, taken):
            raise Unsound(f"step {number}: does not follow from {tag or 'its variable'} by {tail[-1][2:40]}")
        self.implied[number] = premises, consequence

    def _impossible(self, rule: str, tag: int, taken: Taken) -> bool:
        """Whether a rule tells that what was taken cannot all be so."""
        if rule == "initial_domain" or not (tag in self.constraints or tag in self.excluded):
            facts = [(name, (">=", "<="), self.bounds[name]) for name in taken]
            return any(
                not all([take(taken, (name, op, end)) for op, end in zip(ops, ends, strict=True)])
                for name, ops, ends in facts
            )
        if rule == "nogood" and tag in self.excluded:
            return all(follows(taken, fact) for fact in self.excluded[tag])
        kind, terms, total = self.constraints.get(tag, ("", [], 0))
        if rule == "nogood" and kind == "clause":
            return all(follows(taken, contrary(fact)) for fact in terms)
        if rule == "linear_bounds" and kind in ("sum", "most"):
            return self._end(terms, taken, 0) > total or (kind == "sum" and self._end(terms, taken, 1) < total)
        return False

    def _end(self, terms: Sequence[tuple[int, str]], taken: Taken, which: int) -> int:
        """The least (0) or greatest (1) that a sum can be."""
        total = 0
        for factor, name in terms:
            end = which ^ (factor < 0)
            total += factor * (max, min)[end](self.bounds[name][end], taken.get(name, NOTHING_KNOWN)[end])
        return total

    def _exclude(self, numbers: list[int]) -> None:
        number, zero = self._number(numbers[0]), numbers.index(0, 1)
        facts = [self._fact(one) for one in numbers[1:zero]]
        taken: Taken = {}
        impossible = not all([take(taken, fact) for fact in facts])
        for hint in [] if impossible else numbers[zero + 1 :]:
            if hint not in self.implied:
                raise Unsound(f"step {number}: hint {hint} is no step before it")
            premises, consequence = self.implied[hint]
            for fact in premises:
                if not follows(taken, fact):
                    raise Unsound(f"step {number}: a premise of hint {hint} does not follow")
            if consequence is None or not take(taken, consequence):
                impossible = True
                break
        if not impossible:
            raise Unsound(f"step {number}: its hints leave it possible")
        self.excluded[number] = facts
        self.implied.clear()
        self.proven = self.proven or not facts

