"""What the fork server loads before its first worker: the solver, both models, and a small design solved, so that no
worker has to fill a cache that all of them need."""

from __future__ import annotations

import gc

from solver.batch.sweep.work import Task, solve_point

_SMALL = """
[bodies]
set = "saturn"
only = ["Mimas", "Tethys"]
[fit]
frame = {shape = "square", side = 600}
[search]
keep = 2
"""

solve_point(Task(0, _SMALL, 10.0))
gc.collect()
gc.freeze()  # what is here stays; a worker that looks through it for garbage would copy every page
