"""Every proof made twice: CP-SAT, given the rules alone, is asked for anything better than an answer.

Of what the search found it is told the values to beat and nothing else. It works on scaled logarithms, so that what it
confirms holds to a tolerance that is told, never exactly; what it finds is judged exactly before it counts.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import partial

from solver.answer.document import Answer, ProofAnswer, ProofOutcome, SolutionAnswer, made_as, train_of
from solver.answer.solution import solution_answer, told_toothing
from solver.check.judge import judge
from solver.check.verdict import Verdict
from solver.design.design import Design, Family
from solver.design.exact import error_above
from solver.design.geometry import envelope_limit_teeth, envelope_mm
from solver.design.toothing import is_open, toothings
from solver.design.train import Train
from solver.search.prove.apart import families_apart
from solver.search.prove.model import DesignModel, Fixed, NoRings
from solver.search.prove.with_places import WithPlaces
from solver.search.rank import COUPLED_KEYS
from solver.search.reaches import Reaches
from solver.search.solves import Solves
from solver.search.stop import SearchStopped, StopRule, awake

METHOD = "CP-SAT, the rules alone"
COUNTED = COUPLED_KEYS | {"largest", "envelope"}  # keys for which CP-SAT's presolve is worth its time

_NAMED = {"largest": "teeth on its largest gear", "new_gears": "gears to be made"}

Value = Fraction | int


@dataclass(frozen=True)
class Proofs:
    """proofs: one for each claim. better: a train that is better than the answer's, judged, if one was found.
    seconds: how long each claim took."""

    proofs: list[ProofAnswer]
    better: SolutionAnswer | None
    seconds: list[float]


@dataclass(frozen=True)
class BestClaim:
    """That no train is better than some values. keys: all but the last at most as given, the last one less; none: that
    there is no train at all. front: instead, that each train is no better than some point in all of the keys."""

    text: str
    keys: tuple[str, ...] = ()
    values: tuple[Value, ...] = ()
    front: tuple[tuple[Value, ...], ...] = ()

    def broken_by(self, found: Sequence[Value]) -> bool:
        """Whether a train with these values of the keys is what the claim excludes."""
        if self.front:
            return not any(all(a <= b for a, b in zip(point, found, strict=True)) for point in self.front)
        if not self.keys:
            return True
        *held, last = zip(found, self.values, strict=True)
        return all(one <= most for one, most in held) and last[0] < last[1]


def with_proofs(answer: Answer, proofs: Proofs) -> Answer:
    """The answer with what was proven a second time."""
    times = {"proof_seconds": [round(seconds, 3) for seconds in proofs.seconds]}
    return answer.model_copy(update={"proofs": proofs.proofs, "report": answer.report | times})


def claims_of(design: Design, solutions: Sequence[SolutionAnswer], front: Sequence[int] | None) -> list[BestClaim]:
    """What an answer says of all trains: that none is better under the first rank key, under the next, and so on; that
    none is beyond its front; that there is none."""
    if not solutions:
        return [BestClaim("nothing fits")]
    own = toothings(design)[0]  # what figures mean does not depend on the toothing
    first = _judged(design, solutions[0])
    found = []
    for count in range(1, len(design.rank) + 1):
        keys = design.rank[:count]
        values = tuple(value_of(own, first, key) for key in keys)
        told = [_told(own, key, value) for key, value in zip(keys, values, strict=True)]
        held = f", with {' and '.join(told[:-1])} at most" if count > 1 else ""
        found.append(BestClaim(f"no solution has less than {told[-1]}{held}", keys, values))
    if front:
        judged = [_judged(design, solutions[rank - 1]) for rank in front]
        points = tuple(tuple(value_of(own, one, key) for key in design.front) for one in judged)
        text = f"every solution is beaten or equalled by one of the {len(points)} points of the front"
        found.append(BestClaim(text, design.front, front=points))
    return found


def _judged(design: Design, solution: SolutionAnswer) -> Verdict:
    return judge(made_as(design, solution), train_of(design, solution))


def value_of(design: Design, verdict: Verdict, key: str) -> Value:
    """A rank key as the judge finds it: (1 + worst error)**2, the envelope in teeth."""
    if key == "error":
        assert verdict.error_square is not None
        return verdict.error_square
    if key == "envelope":
        rings, mm = design.rings, verdict.envelope_mm
        return 0 if mm is None else envelope_limit_teeth(rings.pitch, Reaches(design).most, Fraction(str(mm)))
    return int(getattr(verdict, key))


def _told(design: Design, key: str, value: Value) -> str:
    if key == "error":
        return f"{error_above(Fraction(value), 100):.6g} % error"
    if key == "envelope":
        mm = envelope_mm(design.rings.pitch, Reaches(design).most, int(value))
        return f"{mm / 25.4:.10g} in of radius" if design.units == "in" else f"{mm:.10g} mm of radius"
    return f"{value} {_NAMED.get(key, key)}"


def prove(
    design: Design,
    solutions: Sequence[SolutionAnswer],
    front: Sequence[int] | None,
    stop: StopRule,
    told: Callable[[ProofAnswer, float], None] | None = None,
    asking: Callable[[str], None] = lambda words: None,
) -> Proofs:
    """Have CP-SAT confirm what the solutions of a design claim: the first of all, and the ranks that are its front.

    told: called with each proof and its seconds; asking: with words about each claim before it is put.

    What the stop rule ends stays open.
    """
    proofs: list[ProofAnswer] = []
    seconds: list[float] = []
    better: SolutionAnswer | None = None
    parts = toothings(design)
    places = [None if design.fit.directions is None else WithPlaces(part) for part in parts]
    claims = list(claims_of(design, solutions, front))
    for number, claim in enumerate(claims, 1):
        asking(f"claim {number} of {len(claims)}: {claim.text}")
        began = awake()
        provers = [_Prover(part, claim, stop, at) for part, at in zip(parts, places, strict=True)]
        outcome = ProofOutcome.CONFIRMED
        for prover in provers:  # where one is open, the other may still have something better
            found = prover.outcome()
            outcome = outcome if found == ProofOutcome.CONFIRMED else found
            if found == ProofOutcome.REFUTED:
                break
        proofs.append(
            ProofAnswer(
                method=METHOD,
                claim=claim.text,
                tolerance_pct=max(prover.tolerance_pct for prover in provers),
                places=any(prover.places for prover in provers),
                structures=design.structure_count(),
                outcome=outcome,
            )
        )
        seconds.append(awake() - began)
        if told is not None:
            told(proofs[-1], seconds[-1])
        for part, prover in zip(parts, provers, strict=True):
            if better is None and prover.better is not None:
                train, verdict = prover.better
                better = solution_answer(part, train, verdict, 1)
                better = told_toothing(better, part) if is_open(design) else better
        if better is not None:
            break
    return Proofs(proofs, better, seconds)


class _Prover:
    """One claim put to CP-SAT. better: a train that refutes it; places: whether places had to be looked at;
    tolerance_pct: errors nearer than this are not told apart."""

    def __init__(self, design: Design, claim: BestClaim, stop: StopRule, with_places: WithPlaces | None) -> None:
        """with_places: where the design asks for places."""
        self.design, self.claim, self.with_places = design, claim, with_places
        coupled = COUPLED_KEYS & set(claim.keys) and not claim.front
        self.parts = families_apart(design) if coupled else [design.families()]
        apart = len(self.parts) > 1
        self.solves = Solves(design.seed, stop, direct=apart or not COUNTED & set(claim.keys), brief=apart)
        self.better: tuple[Train, Verdict] | None = None
        self.places = False
        self.tolerance_pct = 0.0

    def outcome(self) -> ProofOutcome:
        """What comes of the claim."""
        worst = ProofOutcome.CONFIRMED
        for part in self.parts:  # where one is open, a later one may still have something better
            found = self._outcome(part)
            if found == ProofOutcome.REFUTED:
                return found
            worst = worst if found == ProofOutcome.CONFIRMED else found
        return worst

    def _outcome(self, families: Sequence[Family]) -> ProofOutcome:
        """What comes of the claim where the rings are of these families."""
        try:
            model = DesignModel(self.design, families=families)
        except NoRings:
            return ProofOutcome.CONFIRMED
        try:
            if not self._state(model):
                return ProofOutcome.CONFIRMED
            if self.with_places is None and not self._reaches:
                model.interchange()
            model.tell_trains_apart()
            cp_model = model.train.close()
            first = self.design.bodies[0]
            free = self.solves.direct and (self.design.reference == "best" or first.low < first.high)
            while True:
                solver, exists = self.solves.run(cp_model, linear=free)
                if not exists:
                    return ProofOutcome.CONFIRMED
                train: Train | None = model.extract(solver.value)
                assert train is not None
                if not self._breaks(self.design.without_places(), train):
                    model.exclude(train)  # within rounding alone
                    continue
                if self.with_places is not None:
                    self.places = True
                    breaks = partial(self._breaks, self.design)
                    # Presolve costs many times what it saves among places.
                    solves = replace(self.solves, direct=True, brief=False)
                    train = self.with_places.settle(model, train, self._state, breaks, solves)
                if train is not None:
                    self.better = train, judge(self.design, train)
                    return ProofOutcome.REFUTED
        except SearchStopped:
            return ProofOutcome.OPEN

    @property
    def _reaches(self) -> bool:
        """Whether it matters how far out anything stands."""
        return "envelope" in self.claim.keys or self.design.limits.max_envelope is not None

    def _state(self, model: DesignModel) -> bool:
        """State that the claim is broken. False: rounding alone can tell that it is not."""
        # Rounding can hide an error by `slack` both where the claim is stated and where a train is measured.
        self.tolerance_pct = max(self.tolerance_pct, 100 * math.expm1((2 * model.slack + 1) / model.scale))
        claim, train = self.claim, model.train
        if claim.front:
            for point in claim.front:
                less = []
                for key, value in zip(claim.keys, point, strict=True):
                    literal = train.model.new_bool_var(f"less {key} than {value}")
                    train.model.add(model.measure(key) <= self._below(model, key, value)).only_enforce_if(literal)
                    less.append(literal)
                train.model.add_bool_or(less)
            return True
        for key, value in zip(claim.keys[:-1], claim.values, strict=False):
            most = model.units(Fraction(value)) + model.slack if key == "error" else int(value)
            model.hold([Fixed(key, "<=", most)])
        for key, value in zip(claim.keys[-1:], claim.values[-1:], strict=True):
            most = self._below(model, key, value)
            model.hold([Fixed(key, "<=", most)])
            return most >= 0
        return True

    def _below(self, model: DesignModel, key: str, value: Value) -> int:
        """The greatest value that is surely less."""
        return model.units(Fraction(value)) - model.slack - 1 if key == "error" else int(value) - 1

    def _breaks(self, design: Design, train: Train) -> bool:
        """Whether a train is what the claim excludes, by the judge's exact figures. Raises RuntimeError where CP-SAT
        and the judge do not agree on the rules."""
        verdict = judge(design, train)
        if not verdict.sound:
            if any(one.rule != "error" for one in verdict.violations):
                raise RuntimeError("the judge refuses what CP-SAT found: " + "; ".join(map(str, verdict.violations)))
            return False  # within rounding alone
        return self.claim.broken_by([value_of(design, verdict, key) for key in self.claim.keys])
