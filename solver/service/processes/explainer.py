"""The process that finds out why nothing fits a design.

It says {"doing", "known"} now and then (known: the explanation as far as it is), then one of {"made"} (the whole
explanation, each loosening with its `file`, the design file that has it) and {"failed"}.
"""

from __future__ import annotations

import resource
import sys
import time
import traceback
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from solver.search.why.explanation import Explanation
    from solver.service.processes.forked import PipeEnd

TELL_S = 0.2  # so often at most [s]


def explain(link: PipeEnd, text: str, seconds: float, memory_mb: int) -> None:
    """Explain the design of that text, for so long [s] at most, with so much memory [MiB] beside what it holds."""
    from solver.batch.sweep.memory import allow_more

    link.watch(lambda _: None, lambda: None)
    before = allow_more(memory_mb)
    try:
        told = _made(link, text, seconds)
    except MemoryError:
        resource.setrlimit(resource.RLIMIT_DATA, before)  # or there is none to say so
        told = {"failed": f"memory ran out ({memory_mb} MB were allowed)"}
    link.say(told)


def _made(link: PipeEnd, text: str, seconds: float) -> dict[str, Any]:
    from solver.design.errors import DesignError
    from solver.files.text import data_of
    from solver.search.order.shared import Unproven
    from solver.search.stop import Deadline, Termination
    from solver.search.why.explain import PATIENCE_S, Explaining

    last = 0.0

    def tell(doing: str) -> None:
        nonlocal last
        now = time.monotonic()
        if now - last >= TELL_S:
            last = now
            link.say({"doing": doing, "known": explaining.so_far(Termination.INTERRUPT).plain()})

    try:
        explaining = Explaining(data_of(text, ""), "", tell)
        return {"made": _told(explaining.run(Deadline(seconds), PATIENCE_S), text)}
    except Unproven:
        return {"failed": "whether anything fits could not be settled"}
    except DesignError as fault:
        return {"failed": f"this version reads the design otherwise: {fault}"}
    except MemoryError:
        raise
    except Exception as fault:  # noqa: BLE001 - said to who asked
        traceback.print_exc(file=sys.stderr)
        return {"failed": f"a fault in the explanation ({type(fault).__name__})"}


def _told(explanation: Explanation, text: str) -> dict[str, Any]:
    from solver.files.edited import edited

    told = explanation.plain()
    for one, loosening in zip(told["loosenings"], explanation.loosenings, strict=True):
        one["file"] = edited(text, loosening.data)
    return told
