"""Domain-independent dynamic programming with didppy: depth-first branch and bound (DFBB) for the error, complete
anytime beam search (CABS) for the number of jigs.

A state is the family of rings, the ring that the train has come to, the next body to seat, and the scaled logarithm of
that ring's period; third gears used are a resource of which less is better, the sense is a variable where it matters.
A step takes an option for the next link and seats the next body on its ring or leaves the ring blank; where options
are many, one step takes a block of them that follow each other, the next one of these. The cost is the
worst error. The bound: how far the bodies yet to seat, each for itself and wherever it may ride, can be reached from
here with the least and the greatest options. States that agree are one, so links around a blank need no order.

For jigs a state also has the set of gears in use; first their number is the cost, then the error within the fewest.
Logarithms are scaled as for the bitset bound: coarsely, and finely where the coarse error is next to nothing.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from itertools import pairwise
from typing import Any

from benchmarks.ways.bitset import FINE, SCALES
from benchmarks.ways.common import SCALE, Clock, Found, Option, Peer, Problem, missing
from solver.design.train import Train

FAR = 10**9  # more than any sum of scaled logarithms, and within 32 bits
NEVER = 10**7 * 4  # more than any sum, and 20 times within FAR
FEW = 32  # so many options of a link are not put into blocks
BLANK, SEAT, FAMILY, BLOCK = "blank", "seat", "family", "block"
NOTE = "1 thread"


class Program:
    """The model of a problem at one scale. by_jigs: the cost is the number of jigs; most_jigs: None for no limit."""

    def __init__(self, problem: Problem, scale: int, by_jigs: bool = False, most_jigs: int | None = None) -> None:
        import didppy

        self.dp, self.problem, self.scale, self.by_jigs = didppy, problem, scale, by_jigs
        self.most = math.floor(scale * problem.cap)
        self.lists = [self._options(options) for options in problem.classes]
        self.targets = [(round(scale * low), round(scale * high)) for low, high in problem.targets]
        self.logs = [[round(scale * log) for log in family.logs] for family in problem.families]
        self.m = m = didppy.Model()
        self._variables(most_jigs)
        self._tables()
        m.add_base_case([self.body == len(self.targets)])
        if len(problem.families) > 1:
            for number in range(len(problem.families)):
                taken = [(self.family, number)]
                m.add_transition(
                    didppy.Transition(
                        f"{FAMILY} {number}",
                        preconditions=[self.family == len(problem.families)],
                        effects=taken,
                        cost=didppy.IntExpr.state_cost(),
                    )
                )
        self.blocks: list[list[list[Option]]] = []
        self.block: Any = None
        longest = max(map(len, self.lists), default=0)
        if longest > FEW and problem.goal != "jigs":
            self._in_blocks(math.isqrt(longest))
        else:
            for number in range(longest):
                self._step(number, most_jigs)
        self._bounds()

    def _options(self, options: Sequence[Option]) -> list[Option]:
        """Those that differ in what the model tells apart: for the error alone of equal logarithms and senses the one
        with the fewest third gears."""
        problem, kept = self.problem, dict[object, Option]()
        for one in sorted(options, key=lambda one: one.thirds):
            units, turn = round(self.scale * one.log), one.turn if problem.senses_matter else 0
            if one.thirds <= problem.third_limit:
                gears = (one.choice.wheel, one.choice.pinion) if problem.goal == "jigs" else ()
                kept.setdefault((units, turn, gears), one)
        return sorted(kept.values(), key=lambda one: one.log)

    def _variables(self, most_jigs: int | None) -> None:
        m, problem = self.m, self.problem
        families, rings, bodies = (
            m.add_object_type(number=number)
            for number in (len(problem.families) + 1, problem.rings + 1, len(problem.targets) + 1)
        )
        first = len(problem.families) if len(problem.families) > 1 else 0
        self.family = m.add_element_var(object_type=families, target=first)
        self.ring = m.add_element_var(object_type=rings, target=0)
        self.body = m.add_element_var(object_type=bodies, target=1)
        self.sum = m.add_int_var(target=0)
        self.thirds = None
        if problem.third_limit:
            counts = m.add_object_type(number=problem.third_limit + 1)
            self.thirds = m.add_element_resource_var(object_type=counts, target=0, less_is_better=True)
        self.turned = m.add_int_var(target=0) if problem.senses_matter else None
        self.sizes = sorted({g for o in self._all() for g in (o.choice.wheel, o.choice.pinion)})
        self.used = self.jigs = None
        if problem.goal == "jigs":
            gears = m.add_object_type(number=max(1, len(self.sizes)))
            self.used = m.add_set_resource_var(object_type=gears, target=[])  # the more there are, the better
            if most_jigs is not None:
                self.jigs = m.add_int_resource_var(target=1, less_is_better=True)

    def _all(self) -> list[Option]:
        return [option for options in self.lists for option in options]

    def _tables(self) -> None:
        """What a ring of a family, a body and an option of a class are."""
        m, problem = self.m, self.problem
        none = [0] * problem.rings
        self.kind = m.add_element_table([[*family.classes, 0] for family in problem.families] + [none])
        steps = [[b - a for a, b in pairwise(logs)] + [0] for logs in self.logs]
        self.ring_step = m.add_int_table([*steps, none])
        last = len(self.targets) - 1
        seats = [set(problem.seats(body)) for body in range(last + 1)] + [set()]
        rings = range(problem.rings + 1)
        self.may_seat = m.add_bool_table([[ring in riders for ring in rings] for riders in seats])
        self.may_pass = m.add_bool_table([[ring < max(riders, default=0) for ring in rings] for riders in seats])
        self.low = m.add_int_table([low for low, _ in self.targets] + [-FAR])
        self.high = m.add_int_table([high for _, high in self.targets] + [FAR])

    def _column(self, number: int, value: Callable[[Option], int], table: str = "int") -> Any:
        """A figure of the option of that number, of the class that the next link is of: a constant where all agree."""
        column = [value(options[number]) if number < len(options) else None for options in self.lists]
        told = {one for one in column if one is not None}
        if len(told) == 1:
            return told.pop()
        make = self.m.add_int_table if table == "int" else self.m.add_element_table
        return make([0 if one is None else one for one in column])[self.kind[self.family, self.ring]]

    def _step(self, number: int, most_jigs: int | None) -> None:
        """The option of that number, with the next body on the ring that it leads to, and without."""
        dp, problem = self.dp, self.problem
        here = self._column(number, lambda o: round(self.scale * o.log))
        total = self.sum + here + self.ring_step[self.family, self.ring]
        effects: list[Any] = [(self.ring, self.ring + 1), (self.sum, total)]
        needs: list[Any] = [self.body < len(self.targets)]
        if len(problem.families) > 1:
            needs.append(self.family < len(problem.families))
        if any(number >= len(options) for options in self.lists):
            present = self.m.add_bool_table([number < len(options) for options in self.lists])
            needs.append(present[self.kind[self.family, self.ring]])
        if self.thirds is not None:
            thirds = self.thirds + self._column(number, lambda o: o.thirds, "element")
            needs.append(thirds <= problem.third_limit)
            effects.append((self.thirds, thirds))
        turned: Any = None
        if self.turned is not None:
            turn = self._column(number, lambda o: o.turn)
            turned = self.turned + turn - 2 * self.turned * turn
            effects.append((self.turned, turned))
        cost = dp.IntExpr.state_cost()
        if self.used is not None:
            wheel, pinion = (
                self._column(number, lambda o, side=side: self.sizes.index(getattr(o.choice, side)), "element")
                for side in ("wheel", "pinion")
            )
            effects.append((self.used, self.used.add(wheel).add(pinion)))
            jigs = 1 + self._new(wheel) + self._other(wheel, pinion)
            if self.by_jigs:
                cost = jigs + cost
            if self.jigs is not None:
                needs.append(self.jigs + jigs <= most_jigs)
                effects.append((self.jigs, self.jigs + jigs))
        self._arrive(number, total, turned, cost, needs, effects)

    def _in_blocks(self, size: int) -> None:
        """Options that use as many third gears and turn alike, ascending, so many to a block; the third gears are
        counted with the block."""
        dp, m, problem = self.dp, self.m, self.problem
        for options in self.lists:
            kinds: dict[tuple[int, int], list[Option]] = {}
            for one in options:
                kinds.setdefault((one.thirds, one.turn if problem.senses_matter else 0), []).append(one)
            self.blocks.append([of[at : at + size] for of in kinds.values() for at in range(0, len(of), size)])
        most = max(map(len, self.blocks))
        self.block = m.add_element_var(object_type=m.add_object_type(number=most + 1), target=0)  # 0: none
        padded = [[[], *blocks, *([[]] * (most - len(blocks)))] for blocks in self.blocks]
        kind = self.kind[self.family, self.ring]
        filled = m.add_bool_table([[bool(block) for block in row] for row in padded])
        thirds = m.add_element_table([[block[0].thirds if block else 0 for block in row] for row in padded])
        for number in range(1, most + 1):
            needs = [self.block == 0, filled[kind, number]]
            effects: list[Any] = [(self.block, number)]
            if len(problem.families) > 1:
                needs.insert(1, self.family < len(problem.families))
            if self.thirds is not None:
                spent = self.thirds + thirds[kind, number]
                needs.append(spent <= problem.third_limit)
                effects.append((self.thirds, spent))
            m.add_transition(dp.Transition(f"{BLOCK} {number}", dp.IntExpr.state_cost(), needs, effects))
        units = [[[round(self.scale * one.log) for one in block] for block in row] for row in padded]
        self.block_ends = tuple(
            m.add_int_table([[pick(b, default=0) for b in row] for row in units]) for pick in (min, max)
        )
        told = m.add_int_table([[[*block, *([0] * (size - len(block)))] for block in row] for row in units])
        there = m.add_bool_table([[[at < len(block) for at in range(size)] for block in row] for row in padded])
        turn = m.add_int_table([[block[0].turn if block else 0 for block in row] for row in padded])[kind, self.block]
        for number in range(size):
            total = self.sum + told[kind, self.block, number] + self.ring_step[self.family, self.ring]
            effects = [(self.ring, self.ring + 1), (self.sum, total), (self.block, 0)]
            turned: Any = None
            if self.turned is not None:
                turned = self.turned + turn - 2 * self.turned * turn
                effects.append((self.turned, turned))
            needs = [self.block > 0, there[kind, self.block, number]]
            self._arrive(number, total, turned, dp.IntExpr.state_cost(), needs, effects)

    def _arrive(self, number: int, total: Any, turned: Any, cost: Any, needs: list[Any], effects: list[Any]) -> None:
        """The next ring, with the next body on it and without."""
        dp, problem = self.dp, self.problem
        error = dp.max(self.low[self.body] - total, total - self.high[self.body])
        seated = [*needs, self.may_seat[self.body, self.ring + 1]]
        if turned is not None:
            # Either sense will do, or the one that is wished.
            senses = [2 if sense is None else sense for sense in problem.senses] + [2]
            wished = self.m.add_int_table(senses)[self.body]
            seated.append((wished == 2) | (wished == turned))
        if self.by_jigs:
            seated.append(error <= self.most)
        add = self.m.add_transition
        worst = cost if self.by_jigs else dp.max(error, cost)
        add(dp.Transition(f"{SEAT} {number}", worst, seated, [*effects, (self.body, self.body + 1)]))
        if problem.counts[-1] > len(self.targets):
            passing = [*needs, self.may_pass[self.body, self.ring + 1]]
            add(dp.Transition(f"{BLANK} {number}", cost, passing, effects))

    def _new(self, gear: Any) -> Any:
        """1 where no gear of that size is in use yet."""
        return self.used.contains(gear).if_then_else(0, 1)

    def _other(self, wheel: Any, pinion: Any) -> Any:
        """1 where the pinion's size is new, and not that of the wheel."""
        if isinstance(wheel, int) and isinstance(pinion, int):
            return 0 if wheel == pinion else self._new(pinion)
        return self.used.add(wheel).contains(pinion).if_then_else(0, 1)

    def _bounds(self) -> None:
        """The bound, and for jigs the states that the error forbids."""
        key = (self.family, self.ring * (len(self.targets) + 1) + self.body, 0 if self.thirds is None else self.thirds)
        lower, upper = self._windows(0)
        bound = self.dp.max(lower[key] - self.sum, self.sum - upper[key])
        if self.block is not None:
            lower, upper = self._windows(1)
            least, most = (ends[self.kind[self.family, self.ring], self.block] for ends in self.block_ends)
            taken = self.dp.max(lower[key] - self.sum - most, self.sum + least - upper[key])
            bound = (self.block == 0).if_then_else(bound, taken)
        if self.by_jigs:
            self.m.add_state_constr(bound <= self.most)
            self.m.add_dual_bound(0)
        else:
            self.m.add_dual_bound(self.dp.max(bound, 0))

    def _windows(self, taken: int) -> tuple[Any, Any]:
        """For each family, ring with next body, and number of third gears spent: the least sum below which some body
        yet to seat comes too early, and the greatest above which one comes too late. taken: 1 if the next link is left
        out."""
        problem, bodies = self.problem, len(self.targets)
        reaches = {classes: self._reach(classes) for classes in {family.classes for family in problem.families}}
        lefts = range(problem.third_limit, -1, -1)
        least, most = [], []
        for family, logs in zip(problem.families, self.logs, strict=True):
            reach = reaches[family.classes]
            below, above = [], []
            for ring in range(problem.rings + 1):
                needs, stays = [[-FAR for _ in lefts]], [[FAR for _ in lefts]]
                for body in range(bodies - 1, 0, -1):
                    seats = [one for one in problem.seats(body) if one > ring]
                    need, stay = [FAR for _ in lefts], [-FAR for _ in lefts]  # no room is left, unless there are seats
                    for spent, left in enumerate(lefts if seats else ()):
                        spans = [(reach[ring + taken, one][left], logs[one] - logs[ring]) for one in seats]
                        need[spent] = max(
                            needs[-1][spent], self.targets[body][0] - max(b + log for (_, b), log in spans)
                        )
                        stay[spent] = min(
                            stays[-1][spent], self.targets[body][1] - min(a + log for (a, _), log in spans)
                        )
                    needs.append(need)
                    stays.append(stay)
                below += [needs[0], *needs[:0:-1], needs[0]]
                above += [stays[0], *stays[:0:-1], stays[0]]
            least.append(below)
            most.append(above)
        if len(problem.families) > 1:  # none is taken yet
            least.append([[-FAR] * len(row) for row in least[0]])
            most.append([[FAR] * len(row) for row in most[0]])
        return self.m.add_int_table(least), self.m.add_int_table(most)

    def _reach(self, classes: Sequence[int]) -> dict[tuple[int, int], list[tuple[int, int]]]:
        """(least, greatest) sum of the options from one ring to another, by the number of third gears at most."""
        limit, rings = self.problem.third_limit, self.problem.rings
        ends = []
        for options in self.lists:
            by_thirds = []
            for most in range(limit + 1):
                units = [round(self.scale * o.log) for o in options if o.thirds <= most]
                # Where there is no option, a family that needs one is out of reach.
                by_thirds.append((min(units), max(units)) if units else (NEVER, -NEVER))
            ends.append(by_thirds)
        found = {}
        for start in range(rings):
            so_far = [(0, 0)] * (limit + 1)
            found[start, start] = so_far
            for ring in range(start + 1, rings):
                link = ends[classes[ring - 1]]
                so_far = [
                    (
                        min(so_far[left - here][0] + link[here][0] for here in range(left + 1)),
                        max(so_far[left - here][1] + link[here][1] for here in range(left + 1)),
                    )
                    for left in range(limit + 1)
                ]
                found[start, ring] = so_far
        return found

    def run(self, clock: Clock, below: int | None = None) -> tuple[Train | None, int, bool]:
        """(train, cost, proven) within the time left; none and proven: there is none with a cost less than `below`."""
        operator = self.dp.FOperator.Plus if self.by_jigs else self.dp.FOperator.Max
        if below is None and not self.by_jigs:
            below = self.most + 1
        if not clock.left():
            return None, 0, False
        # Of errors most states share a bound of next to nothing: beams of every width fill up with them, where going
        # deep finds better trains sooner.
        kind = self.dp.CABS if self.by_jigs else self.dp.DFBB
        search = kind(self.m, f_operator=operator, primal_bound=below, time_limit=max(0.01, clock.left()), quiet=True)
        found = search.search()
        if not found.transitions:
            return None, 0, found.is_infeasible
        return self._read([one.name.split() for one in found.transitions]), found.cost, found.is_optimal

    def _read(self, steps: Sequence[Sequence[str]]) -> Train:
        family, block, places, chosen = 0, 0, [0], list[Option]()
        for word, number in steps:
            if word == FAMILY:
                family = int(number)
            elif word == BLOCK:
                block = int(number)
            else:
                kind = self.problem.families[family].classes[len(chosen)]
                options = self.blocks[kind][block - 1] if block else self.lists[kind]
                chosen.append(options[int(number)])
                if word == SEAT:
                    places.append(len(chosen))
        return self.problem.train(self.problem.families[family], tuple(places), chosen)


def solve(problem: Problem, clock: Clock) -> Found:
    """The least worst error, or the fewest jigs and then the least error within them."""
    if problem.goal == "jigs":
        best, jigs, proven = Program(problem, SCALE, by_jigs=True).run(clock)
        if best is None or not proven:
            return Found(best, proven, NOTE)
        train, _, proven = Program(problem, SCALE, most_jigs=jigs + 1).run(clock)
        return Found(train or best, proven, NOTE)
    train, proven, note, below = None, False, NOTE, None
    for scale in SCALES:
        found, units, proven = Program(problem, scale).run(clock, below)
        if found is None:
            return Found(train, proven and train is None, note)
        train, note = found, f"{NOTE}, scale {scale:,}"
        if units > FINE or not proven:
            break
        # A coarse sum is off by half a unit for each of its terms, and so are targets.
        below = SCALES[1] // SCALES[0] * (units + problem.links + 3)
    return Found(train, proven, note)


DIDP = Peer(
    "DIDP",
    "domain-independent dynamic programming, didppy's depth-first branch and bound (for the number of jigs its beam "
    "search), 1 thread: ring, body and sum of logarithms as the state, the reach of the bodies to come as the bound, "
    "one model of all families",
    ("error", "jigs"),
    missing("didppy"),
    solve,
)
