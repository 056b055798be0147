"""The process that validates submissions, so that neither a large sweep nor a crafted one keeps the server busy.

`python -m solver.service.checker`: a JSON document a line on standard input, {"text", "form", "kind", "limits",
"jobs", "into"}; an answer a line. With "into", what is no job yet in the folder "jobs" is entered there.
"""

from __future__ import annotations

import json
import sys
import traceback
from dataclasses import asdict
from pathlib import Path
from typing import Any

from solver.service.pipes import give_way, lines_of_input, own_output, say


def main() -> None:
    lines = lines_of_input()
    give_way()
    out = own_output()
    while (line := lines.get()) is not None:
        say(out, _answer(json.loads(line)))


def _answer(asked: dict[str, Any]) -> dict[str, Any]:
    from solver.batch.errors import StoreError
    from solver.design.errors import DesignError
    from solver.service.documents import meant
    from solver.service.entered import enter
    from solver.service.limits import Limits
    from solver.service.record import RECORD

    try:
        found = meant(asked["text"], asked["form"], asked["kind"], Limits(**asked["limits"]))
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


if __name__ == "__main__":
    main()
