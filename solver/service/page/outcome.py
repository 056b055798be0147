"""What is known of a job as a whole, in words: its state, and what that says of its solutions."""

from __future__ import annotations

from dataclasses import dataclass

from solver.batch.sweep.table import PointState
from solver.design.errors import so_many
from solver.service.jobs.job import JobView
from solver.service.page.wording import points_words


@dataclass(frozen=True)
class JobOutcome:
    """kind: how it is drawn ("waiting", "solving", "proven", "none", "open", "stopped", "failed"); state: in a few
    words; sentence: what that means."""

    kind: str
    state: str
    sentence: str


def outcome(job: JobView) -> JobOutcome:
    """What is known of a job. Only what is proven is said to be, and only that looks so."""
    if job.state == "waiting":
        return JobOutcome("waiting", "waiting for its turn", _counts(job, "It is solved as soon as there is room."))
    if job.state == "solving":
        state = "being stopped" if job.stopping else "being solved"
        return JobOutcome("solving", state, _counts(job, "Solutions stand below when it is over."))
    if job.state == "failed":
        return JobOutcome("failed", "failed", _counts(job, "It could not be solved to its end, and nothing is proven."))
    if job.state == "stopped":
        return JobOutcome("stopped", "stopped, not proven", _counts(job, _found(job)))
    return _of_design(job) if job.kind == "design" else _of_sweep(job)


def _of_design(job: JobView) -> JobOutcome:
    found = job.best_worst_error_pct is not None
    if not job.proven:
        state = "ended by a limit, not proven" if found else "ended by a limit, nothing found"
        return JobOutcome("open", state, _found(job))
    if not found:
        return JobOutcome("none", "no solution, proven", "No gearing meets all limits of the design: this is proven.")
    told = "" if job.solutions is None else f"{so_many(job.solutions, 'solution')} found; "
    return JobOutcome(
        "proven", "solved, best is proven", f"{told}it is proven that none is better than the first.".capitalize()
    )


def _of_sweep(job: JobView) -> JobOutcome:
    solved, failed = job.points[PointState.SOLVED], job.points[PointState.FAILED]
    counts = points_words(job.points, job.total)
    if job.proven and job.best_worst_error_pct is None:
        return JobOutcome("none", "no solution, proven", "No point has a solution: this is proven of each.")
    if job.proven:
        return JobOutcome("proven", "every point is proven", f"{counts}.")
    if failed == job.total:
        return JobOutcome("failed", "every point failed", f"{counts}.")
    proven = f"{solved} of {job.total} points {'is' if solved == 1 else 'are'} proven"
    state = f"{failed} of {job.total} points failed" if failed else proven
    return JobOutcome("open", f"over, {state}", f"{counts}.")


def _found(job: JobView) -> str:
    if job.best_worst_error_pct is None:
        return "No solution was found; whether there is one is not known."
    return "What was found stands below; whether there is better is not known."


def _counts(job: JobView, sentence: str) -> str:
    """The sentence for a single design; of a sweep, how many of its points are in each state."""
    return sentence if job.kind == "design" else f"{points_words(job.points, job.total)}."


def seconds_words(seconds: float | None) -> str:
    """A time as it is told: "0.4 s", "12 s", "3 min 5 s", "2 h 10 min"; "–" where there is none."""
    if seconds is None:
        return "–"
    if seconds < 9.95:
        return f"{seconds:.1f} s"
    whole = round(seconds)
    if whole < 60:
        return f"{whole} s"
    if whole < 3600:
        return f"{whole // 60} min {whole % 60} s"
    return f"{whole // 3600} h {whole % 3600 // 60} min"
