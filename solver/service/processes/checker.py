"""The process that validates submissions, so that neither a large sweep nor a crafted one keeps the server busy.

It is told {"text", "form", "kind", "limits", "jobs", "into"}, and answers each. With "into", what is no job yet in the
folder "jobs" is entered there.
"""

from __future__ import annotations

import queue
import sys
import traceback
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from solver.service.processes.forked import PipeEnd


def check(link: PipeEnd) -> None:
    """Answer one submission after the other, until nobody asks any more."""
    asked: queue.SimpleQueue[dict[str, Any] | None] = queue.SimpleQueue()
    link.watch(asked.put, lambda: asked.put(None))
    while (one := asked.get()) is not None:
        link.say(_answer(one))


def _answer(asked: dict[str, Any]) -> dict[str, Any]:
    from solver.batch.store.errors import StoreError
    from solver.design.errors import DesignError
    from solver.service.kept.documents import meant
    from solver.service.kept.entered import enter
    from solver.service.kept.record import RECORD
    from solver.service.limits import ServiceLimits

    try:
        found = meant(asked["text"], asked["form"], asked["kind"], ServiceLimits(**asked["limits"]))
        if asked["into"] and not (Path(asked["jobs"]) / found.job / RECORD).exists():
            enter(Path(asked["into"]), found)
    except DesignError as fault:
        return {"faults": [asdict(one) for one in fault.complaints]}
    except (OSError, StoreError) as fault:
        return {"not_stored": str(fault)}
    except Exception as fault:  # noqa: BLE001 - said to who asked, and the next is checked all the same
        traceback.print_exc(file=sys.stderr)
        return {"failed": f"a fault in the check of submissions ({type(fault).__name__})"}
    told = {name: getattr(found, name) for name in ("job", "kind", "title", "sha256", "text", "places")}
    return {**told, "points": len(found.sweep.points)}
