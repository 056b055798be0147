"""Running CP-SAT: reproducibly, to the end or until a stop rule strikes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from solver.search.stop import SearchStopped, StopRule, Termination, ask

if TYPE_CHECKING:
    from ortools.sat.python import cp_model

BRIEF = 0.1  # of CP-SAT's deterministic time, in place of 1


class WorkSpent(Exception):
    """A solve that came to the end of the work that it was given. best: the solver with the best solution so far."""

    def __init__(self, best: cp_model.CpSolver | None) -> None:
        super().__init__()
        self.best = best


@dataclass
class SolveCost:
    """What the solves cost."""

    models: int = 0
    deterministic_time: float = 0.0
    branches: int = 0
    conflicts: int = 0


@dataclass
class Solves:
    """How to run CP-SAT: one worker and a fixed seed reproduce; the stop rule ends a solve early.

    direct: without presolve, and without linear relaxation unless a solve asks for it: both cost more time than they
    save where errors at a given rate decide. With a free rate nothing ends without that relaxation. brief: with little
    work on what is learnt, for models that are over in a second.
    """

    seed: int
    stop: StopRule
    direct: bool = False
    cost: SolveCost = field(default_factory=SolveCost)
    brief: bool = False

    def run(
        self,
        model: cp_model.CpModel,
        collect: cp_model.CpSolverSolutionCallback | None = None,
        better: cp_model.CpSolverSolutionCallback | None = None,
        bound: Callable[[float], None] | None = None,
        linear: bool = False,
        most: float | None = None,
    ) -> tuple[cp_model.CpSolver, bool]:
        """Solve to the end; the solver and whether a train exists. Raises SearchStopped where the stop rule strikes.

        collect: is given every solution; better: only those on the way to the best; bound: is given each bound of the
        objective as it is proven; linear: with the whole linear relaxation; most: how much work it may take, in
        CP-SAT's deterministic time: raises WorkSpent beyond.
        """
        from ortools.sat.python import cp_model  # half a second to load: only searches that need it pay for it

        ask(self.stop)
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.random_seed = self.seed
        solver.parameters.catch_sigint_signal = False
        if self.direct:
            solver.parameters.cp_model_presolve = False
            solver.parameters.cp_model_probing_level = 0
            solver.parameters.symmetry_level = 0
            solver.parameters.linearization_level = 0
        if self.brief:
            solver.parameters.inprocessing_probing_dtime = BRIEF
            solver.parameters.inprocessing_minimization_dtime = BRIEF
        if linear:
            solver.parameters.linearization_level = 2
        if most is not None:
            solver.parameters.max_deterministic_time = most
        if collect is not None:
            solver.parameters.enumerate_all_solutions = True
        if bound is not None:
            solver.best_bound_callback = bound
        end_watch = self.stop.watch(solver.stop_search)
        try:
            told = collect or better
            status = solver.solve(model) if told is None else solver.solve(model, told)
        finally:
            end_watch()
        self.cost.models += 1
        self.cost.deterministic_time += solver.response_proto.deterministic_time
        self.cost.branches += solver.num_branches
        self.cost.conflicts += solver.num_conflicts
        if status == cp_model.MODEL_INVALID:
            raise RuntimeError(f"CP-SAT refuses the model: {model.validate()}")
        full = bool(getattr(collect, "full", False))  # the callback ended the enumeration itself
        if status not in (cp_model.OPTIMAL, cp_model.INFEASIBLE) and not full:
            reason = self.stop()
            if reason is None and most is not None:
                raise WorkSpent(solver if status == cp_model.FEASIBLE else None)
            raise SearchStopped(reason or Termination.TIME)
        return solver, status != cp_model.INFEASIBLE
