"""What the processes of the service have loaded when they are forked: the solver, stores, submissions, and what all of
them would compute first."""

from __future__ import annotations

import gc

from solver.service.processes.pipes import give_way

give_way()  # the server has its own to load meanwhile; and all that is forked gives way as well

import solver.batch.sweep.warm  # noqa: E402
import solver.service.kept.entered  # noqa: E402
import solver.service.processes.checker  # noqa: E402
import solver.service.processes.runner  # noqa: E402
import solver.service.processes.turn_workers  # noqa: E402, F401
from solver.batch.store.identity import answer_version  # noqa: E402
from solver.batch.store.parts import provenance  # noqa: E402
from solver.service.kept.results import warm  # noqa: E402

answer_version()
provenance()
warm()
gc.collect()
gc.freeze()  # see solver.batch.sweep.warm
