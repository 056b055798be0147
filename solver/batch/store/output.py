"""Where commands write what they are asked for: never over what is there unless told to, never into what is stored."""

from __future__ import annotations

import os
import shutil
import stat
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from os.path import isdir, isfile
from pathlib import Path
from tempfile import TemporaryFile
from typing import BinaryIO

from solver.batch.store.errors import StoreError
from solver.batch.store.files import flush_folder, half_written, remove_half_written
from solver.batch.store.lock import LOCK

# The names that runs and services give their files; the modules that write them load far more than is needed here.
RUN, MANIFEST, JOBS, SWEEP, DESIGN = "run.json", "manifest.json", "jobs.sqlite", "sweep.toml", "design.toml"
SOLUTIONS, ASIDE = "solutions.parquet", "jobs.sqlite.damaged"
SERVICE_JOBS, SERVICE_NEW, SERVICE_RECORD = "jobs", "new", "job.json"


class OutputError(StoreError):
    """Something that is not to be written where it was asked for; the message is one line that says why."""


# -- what is stored ----------------------------------------------------------------------------------------------------


def stored_around(path: Path) -> Path | None:
    """The stored run, sweep or service's data that a path is or lies in, links followed; None where it lies in none."""
    place = Path(os.path.realpath(path))
    return next((folder for folder in (place, *place.parents) if _is_run(folder) or _is_service(folder)), None)


def _is_run(folder: Path) -> bool:
    """Whether a folder holds a run, sound or damaged. Others use names like `manifest.json` too, so that there must be
    another file of a run beside, or our words in it."""
    found = [folder / name for name in (RUN, MANIFEST, JOBS) if isfile(folder / name)]
    beside = any(isfile(folder / name) for name in (SOLUTIONS, DESIGN, SWEEP, LOCK))
    return bool(found) and (beside or len(found) > 1 or any(map(_ours, found)))


def _ours(file: Path) -> bool:
    try:
        with file.open("rb") as stream:
            head = stream.read(4096)
    except OSError:
        return False
    return b'"ringwright.' in head or b"config_sha256" in head


def _is_service(folder: Path) -> bool:
    jobs = folder / SERVICE_JOBS
    return isdir(jobs) and (isfile(folder / LOCK) or any(jobs.glob(f"*/{SERVICE_RECORD}")))


def refuse_in_stored(told: str, place: Path) -> None:
    """Refuse a place within a stored run, a sweep or a service's data. told: begins the message. Raises OutputError."""
    around = stored_around(place)
    if around is not None:
        what = "a service's data" if _is_service(around) else "a stored run"
        raise OutputError(f"{told}: {around} is {what}, and nothing else is written there; choose another place")


def refuse_for_runs(results: Path) -> None:
    """Refuse a folder for runs that lies within what is stored, or cannot be made. Raises OutputError."""
    refuse_in_stored(f"--results {results}", results)
    refuse_unwritable(f"--results {results}", results)


def refuse_no_folder(told: str, folder: Path) -> Path:
    """Refuse a place where no folder can be, since it or what it would lie in is something else, or its name cannot be.
    Returns what is there already: the folder, or the nearest one around it. Raises OutputError."""
    _refuse_name(told, folder)
    there = _there(folder)
    if not there.is_dir():
        raise OutputError(f"{told}: {there} is no folder" if there != folder else f"{told}: is no folder")
    return there


def _there(path: Path) -> Path:
    """What is there of a path: it, or the nearest folder, or other thing, around it."""
    return next((one for one in (path, *path.parents) if os.path.lexists(one)), Path())


def _refuse_name(told: str, path: Path) -> None:
    """Refuse what the system does not even look for: a name that is too long, also within folders that are still to be
    made, or behind a folder that is closed."""
    there = _there(path)
    try:
        for one in (path, *(there / part for part in path.parts)):
            with suppress(FileNotFoundError, NotADirectoryError):
                os.lstat(one)
    except OSError as fault:
        raise OutputError(f"{told}: {fault.strerror}") from None


def refuse_unwritable(told: str, folder: Path) -> None:
    """Refuse a folder in which nothing can be written, or that cannot be made. told: begins the message. Raises
    OutputError."""
    there = refuse_no_folder(told, folder)
    try:
        with TemporaryFile(dir=there):  # permissions do not tell all: not of /proc, nor of a disk that is read only
            pass
    except OSError as fault:
        raise OutputError(f"{told}: cannot be written: {there}: {fault.strerror}") from None


def refuse_for_sweep(folder: Path) -> None:
    """Refuse a folder that the run of a sweep cannot have: within what is stored, or with other things in it. Raises
    OutputError."""
    refuse_for_runs(folder.parent)
    _refuse_name(f"--name {folder.name}", folder)
    if folder.exists() and not any((folder / name).exists() for name in (JOBS, ASIDE, MANIFEST)):
        if not folder.is_dir():
            raise OutputError(f"{folder}: exists and is no folder; give the run another name with --name")
        if any(path.name != LOCK for path in folder.iterdir()):
            what = "is another run" if _is_run(folder) else "holds other things than the run of a sweep"
            raise OutputError(f"{folder}: {what}; give the run another name with --name")


def refuse_for_service(data: Path) -> None:
    """Refuse a folder for a service's data that lies within what is stored, or in which it would clear away what is not
    its own. Raises OutputError."""
    refuse_unwritable(f"--data {data}", data)
    if _is_service(data):
        refuse_in_stored(f"--data {data}", data.absolute().parent)
        return
    refuse_in_stored(f"--data {data}", data)
    for name in (SERVICE_JOBS, SERVICE_NEW):
        if (data / name).is_dir() and any((data / name).iterdir()):
            raise OutputError(f"--data {data}: {data / name} is not a service's and not empty; choose another folder")


# -- files -------------------------------------------------------------------------------------------------------------


def refuse_output(option: str, path: Path, force: bool, source: Path | None = None) -> None:
    """Refuse a file that is not to be written, before any work is done.

    option: what asks for it, "" for an argument; force: a file that is there may be written over; source: the file that
    is read, over which nothing is ever written. Raises OutputError.
    """
    told = _told(option, path)
    if str(path) in ("", ".", "-"):
        raise OutputError(f"{option or path}: give the name of a file")
    _refuse_name(told, path)
    if path.is_dir():
        raise OutputError(f"{told}: is a folder; give the name of a file")
    refuse_in_stored(told, path)
    if not path.parent.is_dir():
        raise OutputError(f"{told}: there is no folder {path.parent}")
    if source is not None and path.exists() and source.exists() and path.samefile(source):
        raise OutputError(f"{told}: is the file that is read; choose another name")
    if path.is_file() and not force:
        raise OutputError(f"{told}: exists already; choose another name, or write over it with --force")
    if path.is_file() or not path.exists():
        place = Path(os.path.realpath(path)).parent
        if not place.is_dir():  # of a link to a file that is still to be made
            raise OutputError(f"{told}: there is no folder {place}")
        refuse_unwritable(told, place)


def _told(option: str, path: Path) -> str:
    return f"{option} {path}".strip()


@contextmanager
def output(option: str, path: Path, force: bool) -> Iterator[BinaryIO]:
    """A stream whose content becomes the file at one stroke when the context ends without an exception: temporary file,
    flush, its name, flush of the folder. What is no file, a pipe or a device, is written to as it is.

    Raises OutputError as `refuse_output`, also where the file has come since, and OSError that names option and file.
    """
    refuse_output(option, path, force)
    try:
        if path.exists() and not stat.S_ISREG(path.stat().st_mode):
            with path.open("wb") as stream:
                yield stream
            return
        place = Path(os.path.realpath(path))
        remove_half_written(place.parent)
        temporary = half_written(place.parent)
        try:
            with temporary.open("xb") as stream:
                yield stream
                stream.flush()
                os.fsync(stream.fileno())
            _name(temporary, place, option, path, force)
        finally:
            temporary.unlink(missing_ok=True)
        flush_folder(place.parent)
    except OSError as fault:
        raise OSError(fault.errno, fault.strerror, _told(option, path)) from None


def _name(temporary: Path, place: Path, option: str, path: Path, force: bool) -> None:
    """Give a written file its name: over what has it where that is wanted, else only if nothing has it."""
    if force:
        if place.exists():
            shutil.copymode(place, temporary)
        temporary.replace(place)
        return
    try:
        os.link(temporary, place)
    except FileExistsError:
        refuse_output(option, path, force)
        raise
    except OSError:  # a file system without links
        refuse_output(option, path, force)
        temporary.replace(place)
