"""The proof of one case, step by step: each step is a clause that follows, and the last one is a clause without facts.

A line is `[number, facts, hints, dropped]`: the facts, each `[variable, op, value]`, cannot all be so. It is tested by
taking them and applying the hints, each the number of a constraint of the model or of an earlier step, in their order:
at one of them nothing is left that can be. What is taken of a variable is an interval and values left out of it, a set
that holds every value that is possible; it begins with the variable's bounds. A constraint is applied by two rules:

- A clause, and an earlier step is one (of its facts one is not so): where each of its facts but one is contrary to what
  is taken, that one is so, and is taken; where all are, nothing is left. Otherwise it tells nothing.
- A `sum` is equal to its total, `most` is at most that: each term is then at most the total less the least that the
  others can be, each variable at its end that makes it least. So its variable is bounded, rounded to the side that
  leaves more. A `sum` is also at most its total with all signs turned round.

A value that is left out was impossible, given what was taken before: so nothing left means that the facts cannot all be
so. A step without facts needs no assumption: no train keeps the model. Steps `dropped` are not used any more.
"""

from __future__ import annotations

import json

from .claim import Unreadable, need
from .model import Constraint, Fact

MOST_KEPT, FAR = 500_000, 1 << 62  # facts of steps that are kept at a time; beyond all values of variables

Taken = dict[str, tuple[int, int, frozenset[int]]]
CONTRARY = {"<=": ">=", ">=": "<=", "==": "!=", "!=": "=="}


def contrary(fact: Fact) -> Fact:
    """What is so exactly if the fact is not."""
    name, op, value = fact
    return name, CONTRARY[op], value + {"<=": 1, ">=": -1}.get(op, 0)


def take(taken: Taken, fact: Fact) -> bool:
    """Take a fact too. Whether a value of its variable is left."""
    name, op, value = fact
    low, high, out = taken[name]
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


def possible(taken: Taken, fact: Fact) -> bool:
    """Whether a value that is left of the fact's variable keeps it."""
    return take({fact[0]: taken[fact[0]]}, fact)


def apply(taken: Taken, constraint: Constraint) -> bool:
    """Take what a constraint tells too. Whether anything is left."""
    kind, terms, total = constraint
    if kind == "clause":
        left = [fact for fact in terms if possible(taken, fact)]
        return take(taken, left[0]) if len(left) == 1 else bool(left)
    for sign in (1, -1) if kind == "sum" else (1,):
        least = [min(sign * factor * end for end in taken[name][:2]) for factor, name in terms]
        for (factor, name), own in zip(terms, least, strict=True):
            room, factor = sign * total - sum(least) + own, sign * factor
            if not take(taken, (name, "<=", room // factor) if factor > 0 else (name, ">=", -(room // -factor))):
                return False
    return True


class Proof:
    """The proof of a case, checked as its lines are read. bounds: of each variable; constraints: by number."""

    def __init__(self, bounds: dict[str, tuple[int, int]], constraints: dict[int, Constraint]) -> None:
        self.start: Taken = {name: (low, high, frozenset()) for name, (low, high) in bounds.items()}
        self.constraints, self.steps, self.kept = constraints, dict[int, Constraint](), 0

    def step(self, line: str) -> bool:
        """Check one line; whether it ends the proof. Raises DoesNotHold, and others where it is no step."""
        number, facts, hints, dropped = json.loads(line)
        new = type(number) is int and number not in self.constraints and number not in self.steps
        need(new, f"step {str(number)[:20]}: no number, or there already")
        taken, clause, left = dict(self.start), list[Fact](), True
        for name, op, value in facts:
            known = name in taken and op in CONTRARY and type(value) is int and abs(value) <= FAR
            need(known, f"step {number}: a fact that is none of a variable of the model")
            clause.append(contrary((name, op, value)))
            left = left and take(taken, (name, op, value))
        for hint in hints:
            known = hint in self.constraints or hint in self.steps
            need(known, f"step {number}: hint {str(hint)[:20]} is nothing before it")
            left = left and apply(taken, self.constraints.get(hint) or self.steps[hint])
        need(not left, f"step {number}: its hints leave it possible")
        self.steps[number], self.kept = ("clause", clause, 0), self.kept + 1 + len(clause)
        for old in dropped:
            self.kept -= 1 + len(self.steps.pop(old)[1])
        need(self.kept <= MOST_KEPT, "more steps are kept at a time than may be", Unreadable)
        return not clause
