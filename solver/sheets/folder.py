"""Files written as one folder, whole or not at all: under a temporary name beside it, then renamed."""

from __future__ import annotations

import os
import re
import secrets
import shutil
from collections.abc import Mapping
from pathlib import Path

from solver.batch.files import alive, write_flushed
from solver.sheets.errors import SheetsError

_TEMPORARY = ".writing-"
_LEFTOVER = re.compile(re.escape(_TEMPORARY) + r"(\d+)-[0-9a-f]{8}")  # by whom it was written, and any eight digits


def refuse_folder(out: Path) -> None:
    """Refuse a folder that cannot be written, before any work is done. Raises SheetsError: one line that says why."""
    if out.is_symlink() or out.exists():
        if not out.is_dir():
            raise SheetsError(f"{out}: exists and is no folder; choose another name")
        if any(out.iterdir()):
            raise SheetsError(f"{out}: exists and is not empty; choose another name")
    above = out.absolute().parent
    while not above.exists():
        above = above.parent
    if not above.is_dir():
        raise SheetsError(f"{out}: cannot be written: {above} is no folder")
    if not os.access(above, os.W_OK | os.X_OK):
        raise SheetsError(f"{out}: cannot be written: no permission to write in {above}")


def write_folder(out: Path, files: Mapping[str, bytes]) -> None:
    """Write files (names with "/" lie in folders below) as the folder `out`, which must be new or empty.

    What was begun is removed when it cannot be finished, and before that what a killed process left there. Raises
    SheetsError where it cannot be written.
    """
    refuse_folder(out)
    parent = out.absolute().parent
    made = [folder for folder in (parent, *parent.parents) if not folder.exists()]
    temporary = parent / f"{_TEMPORARY}{os.getpid()}-{secrets.token_hex(4)}"
    try:
        parent.mkdir(parents=True, exist_ok=True)
        _sweep_up(parent)
        temporary.mkdir()
        for name, data in files.items():
            path = temporary / name
            path.parent.mkdir(parents=True, exist_ok=True)
            write_flushed(path, data)
        temporary.rename(out)  # onto an empty folder too
    except BaseException as fault:
        shutil.rmtree(temporary, ignore_errors=True)
        for folder in made:
            try:
                folder.rmdir()
            except OSError:
                break
        if isinstance(fault, OSError):
            raise SheetsError(f"{out}: cannot be written: {fault.strerror or fault}") from None
        raise


def _sweep_up(parent: Path) -> None:
    """Remove what a killed process left half written."""
    for leftover in parent.glob(f"{_TEMPORARY}*"):
        owner = _LEFTOVER.fullmatch(leftover.name)
        if owner and not leftover.is_symlink() and not alive(int(owner[1])):
            shutil.rmtree(leftover, ignore_errors=True)
