"""Files written as one folder, whole or not at all: under a temporary name beside it, then renamed."""

from __future__ import annotations

import os
import re
import secrets
import shutil
from collections.abc import Collection, Mapping
from pathlib import Path

from solver.batch.store.files import whole_folder
from solver.batch.store.output import refuse_in_stored, refuse_no_folder, refuse_unwritable
from solver.sheets.errors import SheetsError

_ASIDE = ".replaced-"
_JIGS = "jigs"
_JIG = re.compile(rf"{_JIGS}/[\w-]+\.(svg|dxf)")
_SHEET = re.compile(r"[\w-]+\.(html|pdf|csv|svg|dxf)")


def refuse_folder(out: Path, force: bool = False, option: str = "--out") -> None:
    """Refuse a folder that cannot be written, before any work is done. force: sheets that are there may be replaced,
    and nothing else. option: by which it was told.

    Raises SheetsError, and OutputError where it lies in what is stored: one line that says why.
    """
    told = f"{option} {out}"
    refuse_in_stored(told, out)
    refuse_no_folder(told, out)
    if out.exists():
        if force:
            _refuse_others(told, out)
        elif any(out.iterdir()):
            raise SheetsError(
                f"{told}: exists and is not empty; choose another name, or replace its sheets with --force"
            )
    refuse_unwritable(told, Path(os.path.realpath(out)).parent)


def _refuse_others(told: str, out: Path, files: Collection[str] | None = None) -> None:
    """Refuse to replace a folder that holds anything but sheets: what could be somebody's own. files: what is to be
    written, where it is known; jigs differ from sheets to sheets. told: begins the message."""
    jigs = out / _JIGS
    for path in (*sorted(out.iterdir()), *(sorted(jigs.iterdir()) if jigs.is_dir() else ())):
        name = path.relative_to(out).as_posix()
        sheet = _JIG.fullmatch(name) or (_SHEET.fullmatch(name) if files is None else name in files)
        if path.is_symlink() or not (path.is_dir() if name == _JIGS else path.is_file() and sheet):
            raise SheetsError(
                f"{told}: {name}: is none of the sheets, so the folder is not replaced; choose another name"
            )


def write_folder(out: Path, files: Mapping[str, bytes], force: bool = False, option: str = "--out") -> None:
    """Write files (names with "/" lie in folders below) as the folder `out`, which must be new or empty.

    force: it may hold other sheets, which are put aside until these have their place. option: by which it was told.

    What was begun is removed when it cannot be finished, and before that what a killed process left there. Raises
    SheetsError where it cannot be written.
    """
    refuse_folder(out, force, option)
    place = Path(os.path.realpath(out))
    try:
        with whole_folder(place.parent, files) as temporary:
            _put(f"{option} {out}", temporary, place, files)
    except OSError as fault:
        raise SheetsError(f"{option} {out}: cannot be written: {fault.strerror or fault}") from None


def _put(told: str, temporary: Path, out: Path, files: Collection[str]) -> None:
    """Give a written folder its name; what was there is back if that fails."""
    if not out.exists() or not any(out.iterdir()):
        temporary.rename(out)  # onto an empty folder too
        return
    _refuse_others(told, out, files)
    aside = out.with_name(f"{_ASIDE}{os.getpid()}-{secrets.token_hex(4)}")
    out.rename(aside)
    try:
        temporary.rename(out)
    except BaseException:
        aside.rename(out)
        raise
    shutil.rmtree(aside, ignore_errors=True)
