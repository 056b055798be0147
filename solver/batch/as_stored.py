"""A stored run of one design as it was stored: its design, read again, and its solutions."""

from __future__ import annotations

from pathlib import Path

from solver.batch.store.errors import StoreError
from solver.batch.store.runs import DESIGN, PICTURE, StoredRun, load_run
from solver.design.design import Design
from solver.files.load import parse_design


def as_stored(folder: Path) -> tuple[Design, StoredRun]:
    """The run and its design. Raises StoreError where anything but the picture was changed since, or where this version
    reads the design otherwise, and DesignError where it no longer reads."""
    run = load_run(folder)
    for name in run.damaged:
        if name != PICTURE:
            raise StoreError(f"{folder / name}: was changed after the run was stored; solve the design again")
    design = parse_design(run.design_text, str(folder / DESIGN))
    if design.sha256() != run.record["config_sha256"]:
        raise StoreError(f"{folder}: was stored by another version, which reads its design otherwise; solve it again")
    return design, run
