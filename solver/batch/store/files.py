"""Files written so that a crash leaves either the old one or the new one, and their hashes."""

from __future__ import annotations

import hashlib
import os
import re
import secrets
import shutil
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import BinaryIO

_TEMPORARY = ".half-written-"
_LEFTOVER = re.compile(re.escape(_TEMPORARY) + r"(\d+)-[0-9a-f]{8}")  # by whom it is written, and any eight digits


def write_flushed(path: Path, data: bytes) -> None:
    """Write a file and have it on the disk before returning. Raises OSError that names it."""
    try:
        with path.open("wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
    except OSError as fault:
        raise _named(fault, path) from None


def replace_whole(path: Path, data: bytes) -> None:
    """Put a file in its place at one stroke. Raises OSError that names it."""
    with replacing(path) as stream:
        stream.write(data)


@contextmanager
def replacing(path: Path) -> Iterator[BinaryIO]:
    """A stream whose content becomes the file at one stroke when the context ends without an exception: temporary file,
    flush, rename, flush of the folder. Raises OSError that names the file."""
    temporary = half_written(path.parent)
    try:
        with temporary.open("xb") as stream:
            yield stream
            stream.flush()
            os.fsync(stream.fileno())
        temporary.replace(path)
        flush_folder(path.parent)
    except OSError as fault:
        temporary.unlink(missing_ok=True)
        raise _named(fault, path) from None
    except BaseException:
        temporary.unlink(missing_ok=True)
        raise


@contextmanager
def whole_folder(parent: Path, files: Mapping[str, bytes]) -> Iterator[Path]:
    """A new folder in `parent` with these files (names with "/" lie in folders below), on the disk, for the context to
    give its name. Where that fails it is removed, and what was made for it. Raises OSError."""
    made = [folder for folder in (parent, *parent.parents) if not folder.exists()]
    temporary = half_written(parent)
    try:
        parent.mkdir(parents=True, exist_ok=True)
        remove_half_written(parent)
        temporary.mkdir()
        for name, data in files.items():
            path = temporary / name
            path.parent.mkdir(parents=True, exist_ok=True)
            write_flushed(path, data)
        flush_folder(temporary)
        yield temporary
    except BaseException:
        shutil.rmtree(temporary, ignore_errors=True)
        for folder in made:
            with suppress(OSError):
                folder.rmdir()
        raise
    flush_folder(parent)


def half_written(folder: Path) -> Path:
    """The path in it of a file or folder that is to be renamed once it is whole; it tells which process writes it."""
    return folder / f"{_TEMPORARY}{os.getpid()}-{secrets.token_hex(4)}"


def remove_half_written(folder: Path) -> None:
    """Remove what killed processes left half written there; what a process that lives is writing stays."""
    for leftover in folder.glob(f"{_TEMPORARY}*"):
        owner = _LEFTOVER.fullmatch(leftover.name)
        if owner is None or leftover.is_symlink() or alive(int(owner[1])):
            continue
        if leftover.is_dir():
            shutil.rmtree(leftover, ignore_errors=True)
        else:
            leftover.unlink(missing_ok=True)


def alive(process: int) -> bool:
    """Whether there is a process of that number."""
    try:
        os.kill(process, 0)
    except (ProcessLookupError, OverflowError):
        return False
    except PermissionError:
        pass
    return True


def flush_folder(path: Path) -> None:
    """Have the names in a folder on the disk."""
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def sha256_of(path: Path) -> str:
    """SHA-256 of a file's content. Raises OSError."""
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def _named(fault: OSError, path: Path) -> OSError:
    return OSError(fault.errno, fault.strerror, str(path))
