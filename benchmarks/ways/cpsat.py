"""CP-SAT: the project's own model of a whole design, solved as it stands, without the lattice."""

from __future__ import annotations

from benchmarks.ways.common import Clock, Found, Peer, Problem, missing

WORKERS = 2


def solve(problem: Problem, clock: Clock) -> Found:
    """The least worst error, or the fewest jigs and then the least error within them."""
    from ortools.sat.python import cp_model

    from solver.search.prove.model import DesignModel, Fixed

    note, best, proven, held = f"{WORKERS} workers", None, False, list[Fixed]()
    for key in ("jigs", "error") if problem.goal == "jigs" else ("error",):
        model = DesignModel(problem.design.without_places())
        model.tell_trains_apart()
        model.hold(held)
        model.train.model.minimize(model.measure(key))
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = WORKERS
        solver.parameters.max_time_in_seconds = max(0.01, clock.left())
        status = solver.solve(model.train.close())
        proven = status in (cp_model.OPTIMAL, cp_model.INFEASIBLE)
        if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            best = model.extract(solver.value)
            held.append(Fixed(key, "<=", round(solver.objective_value)))
        if not proven or status == cp_model.INFEASIBLE:
            break
    return Found(best, proven, note)


CPSAT = Peer(
    "CP-SAT",
    f"ortools CP-SAT, {WORKERS} workers, the project's own model of the whole design",
    ("error", "jigs"),
    missing("ortools", "part of the project's own environment"),
    solve,
    lists=False,
)
