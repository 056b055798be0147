"""What is kept of explanations, and of where a job came from: files in the job's folder, beside its run."""

from __future__ import annotations

import json
from contextlib import suppress
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from solver.batch.store.files import replace_whole
from solver.batch.store.identity import answer_version
from solver.service.kept.results import Results

FOLDER, ORIGIN = "explanations", "made-from.json"


@dataclass(frozen=True)
class ExplainedPoint:
    """A point of a job: its name, state, status and number of solutions (None: not known) as in `points.parquet`, what
    is varied in it, and its design file."""

    point: str
    state: str
    status: str | None
    solutions: int | None
    settings: dict[str, Any]
    text: str


def explained_point(results: Results, beginning: str) -> ExplainedPoint:
    """The one point whose name begins so. Raises NoSuchSolution and StoreError."""
    row = results.point(beginning)
    told = {name: row[name] for name in ("state", "status", "solutions", "settings")}
    return ExplainedPoint(row["point"], **told, text=results.design_text(row["point"]))


def kept_explanation(folder: Path, point: str) -> dict[str, Any] | None:
    """The explanation of a point that was kept, of this version; None where there is none, or it is damaged."""
    with suppress(OSError, ValueError, LookupError, TypeError):
        told = json.loads((folder / FOLDER / f"{point}.json").read_bytes())
        if told["answer_version"] == answer_version():
            made: dict[str, Any] = told["explanation"]
            return made
    return None


def keep_explanation(folder: Path, point: str, explanation: dict[str, Any]) -> None:
    """Raises OSError, also where the job is there no more."""
    (folder / FOLDER).mkdir(exist_ok=True)
    told = {"answer_version": answer_version(), "explanation": explanation}
    replace_whole(folder / FOLDER / f"{point}.json", json.dumps(told, ensure_ascii=False).encode())


@dataclass(frozen=True)
class MadeFrom:
    """Which job a design was made from: its id and title, the point where it is a sweep, and what was changed."""

    job: str
    title: str
    point: str
    changes: str


def kept_origin(folder: Path) -> MadeFrom | None:
    """Where the job in that folder came from; None where it was sent in, or the file is damaged."""
    with suppress(OSError, ValueError, TypeError):
        return MadeFrom(**json.loads((folder / ORIGIN).read_bytes()))
    return None


def keep_origin(folder: Path, origin: MadeFrom) -> None:
    """Raises OSError."""
    replace_whole(folder / ORIGIN, json.dumps(asdict(origin), ensure_ascii=False).encode())
