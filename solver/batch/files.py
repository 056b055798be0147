"""Files written so that a crash leaves either the old one or the new one, and their hashes."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO

_TEMPORARY = ".half-written-"


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
    temporary = path.with_name(_TEMPORARY + path.name)
    try:
        with temporary.open("wb") as stream:
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


def remove_half_written(folder: Path) -> None:
    """Remove what a killed process left of `replace_whole`."""
    with os.scandir(folder) as entries:
        leftovers = [entry.path for entry in entries if entry.name.startswith(_TEMPORARY)]
    for leftover in leftovers:
        Path(leftover).unlink(missing_ok=True)


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
