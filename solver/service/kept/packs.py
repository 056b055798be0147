"""Sheets that were made once and are kept: a file for each pack, called after its job and after all that it follows
from, so that none is ever out of date."""

from __future__ import annotations

import hashlib
import json
import os
import threading
from contextlib import suppress
from pathlib import Path

from solver.batch.store.certificates import certified
from solver.batch.store.files import replace_whole
from solver.batch.store.provenance import code_sha256, versions
from solver.service.kept.certificates import certificate_of
from solver.service.kept.results import Results, told_of

KEPT_BYTES = 1 << 29  # of all packs; what was asked for longest ago goes first
_ENDING = ".pack"
_HASH = hashlib.sha256().digest_size


def pack_key(results: Results, point: str, rank: int, paper: str, both_units: bool) -> str:
    """What the sheets of a solution follow from, as a hash: code, design file, solution, what is known of it, and how
    they are to be. Raises as `Results.solution`."""
    design, _, row = results.solution(point, rank)
    known = row["point_id"] in results.twice, certified(certificate_of(results, row["point_id"]), design)
    text = results.design_text(row["point_id"])
    told = [code_sha256(), versions(), text, told_of(row), known, paper, both_units]
    return hashlib.sha256(json.dumps(told, sort_keys=True).encode()).hexdigest()


class Packs:
    """The packs in a folder. Thread-safe. That none can be kept is no fault: it is made again."""

    def __init__(self, folder: Path, most_bytes: int = KEPT_BYTES) -> None:
        self._folder, self._most = folder, most_bytes
        self._lock = threading.Lock()

    def of(self, job: str, key: str) -> bytes | None:
        """The pack of that job and key; None where it is not kept, or damaged."""
        path = self._path(job, key)
        try:
            found = path.read_bytes()
        except OSError:
            return None
        told, data = found[:_HASH], found[_HASH:]
        if hashlib.sha256(data).digest() != told:
            with suppress(OSError):
                path.unlink()
            return None
        with suppress(OSError):
            os.utime(path)
        return data

    def keep(self, job: str, key: str, data: bytes) -> None:
        """Keep a pack, and let those go that were asked for longest ago where there are too many."""
        with self._lock, suppress(OSError):
            self._folder.mkdir(exist_ok=True)
            replace_whole(self._path(job, key), hashlib.sha256(data).digest() + data)
            self._make_room()

    def forget(self, job: str) -> None:
        """Remove every pack of a job."""
        with self._lock, suppress(OSError):
            for path in self._folder.glob(f"{job}-*{_ENDING}"):
                path.unlink(missing_ok=True)

    def _make_room(self) -> None:
        found = sorted((entry.stat().st_mtime_ns, entry.stat().st_size, entry.path)
                       for entry in os.scandir(self._folder) if entry.name.endswith(_ENDING))  # fmt: skip
        left = sum(size for _, size, _ in found)
        for _, size, path in found[:-1]:  # never the last one, however large
            if left <= self._most:
                return
            os.unlink(path)
            left -= size

    def _path(self, job: str, key: str) -> Path:
        return self._folder / f"{job}-{key}{_ENDING}"
