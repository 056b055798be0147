"""The table of jobs: every point of a run, its state, and who is at work on it. The one truth about a run.

Each change of state is one transaction here. A point is given out with a lease and a fence, a number that only grows;
a result is taken only from the fence given out last, so that a worker that comes late changes nothing. An answer is on
the disk, here, before the point counts as finished, and moves to a Parquet part later.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from enum import StrEnum
from itertools import accumulate
from pathlib import Path
from typing import Any

from solver.batch.store.errors import StoreError
from solver.batch.sweep.file import Point

JOBS = "jobs.sqlite"
TABLE_SCHEMA = "ringwright.jobs/1"
INTERRUPTED = "interrupt"  # the reason of a stopped point that is solved again without being asked for
_ANY = 1_000_000


class PointState(StrEnum):
    """How far a point is."""

    WAITING = "waiting"  # to be solved
    SOLVING = "solving"  # leased to a worker
    SOLVED = "solved"  # proven: the best, or that there is none
    STOPPED = "stopped"  # a limit ended it; what it has found is kept, and is not proven
    FAILED = "failed"  # given up, with the reason

    @property
    def terminal(self) -> bool:
        return self in (PointState.SOLVED, PointState.STOPPED, PointState.FAILED)


@dataclass(frozen=True)
class Lease:
    """A point given out for so long [s]; fence: its number among all leases of the run; strikes: how many workers it
    has cost before."""

    point: str
    fence: int
    seconds: float
    text: str
    time_limit_s: float
    strikes: int


@dataclass(frozen=True)
class Finished:
    """What a worker found out. record: as in `run.json`; rows: the solutions, as an Arrow stream; report: what differs
    from run to run."""

    state: PointState
    reason: str | None
    record: dict[str, Any]
    rows: bytes
    report: dict[str, Any]


def is_interrupted(point: Mapping[str, Any]) -> bool:
    """Whether a row of points is one that is stopped only until the next call."""
    return (point["state"], point["reason"]) == (PointState.STOPPED, INTERRUPTED)


def waiting_again(counts: Mapping[Any, int], interrupted: int) -> dict[str, int]:
    """How many points are in each state, so many of the stopped ones counted among those that wait."""
    told = {str(state): counts.get(state, 0) for state in PointState}
    told[PointState.STOPPED] -= interrupted
    told[PointState.WAITING] += interrupted
    return told


def journal_mode(version: tuple[int, int, int]) -> str:
    """How SQLite of that version keeps transactions: releases before 3.51.3 can lose a commit of a write-ahead log when
    two connections move it into the database at once, so they keep a rollback journal."""
    return "WAL" if version >= (3, 51, 3) else "TRUNCATE"


_TABLES = """
CREATE TABLE about (key TEXT PRIMARY KEY, value TEXT NOT NULL) WITHOUT ROWID;
CREATE TABLE points (
    id TEXT PRIMARY KEY, ordinal INTEGER NOT NULL, wanted INTEGER NOT NULL, settings TEXT NOT NULL,
    design TEXT NOT NULL, title TEXT NOT NULL, config_sha256 TEXT NOT NULL, time_limit_s REAL NOT NULL,
    answer_version TEXT NOT NULL,
    state TEXT NOT NULL, fence INTEGER NOT NULL DEFAULT 0, holder TEXT, lease_until TEXT,
    tries INTEGER NOT NULL DEFAULT 0, strikes INTEGER NOT NULL DEFAULT 0, reason TEXT,
    record TEXT, report TEXT, rows BLOB, part INTEGER
) WITHOUT ROWID;
CREATE INDEX points_by_state ON points (state, strikes, ordinal);
CREATE INDEX points_by_part ON points (part);
CREATE TABLE files (name TEXT PRIMARY KEY, sha256 TEXT NOT NULL) WITHOUT ROWID;
"""
_COLUMNS = (
    "id", "ordinal", "settings", "design", "title", "config_sha256", "answer_version", "state", "tries", "strikes",
    "reason", "record", "report", "rows", "part",
)  # fmt: skip


class JobTable:
    """The table of one run. Every method is one transaction and raises StoreError, naming the file, where the database
    is damaged or its disk is full."""

    def __init__(self, folder: Path, read_only: bool = False) -> None:
        """Open the table in `folder`, or make an empty one. read_only: raises StoreError where there is none."""
        self.path = folder / JOBS
        # Who only reads may have to undo what a runner that was killed left half done, which mode=ro does not allow.
        uri = f"{self.path.absolute().as_uri()}?mode={'rw' if read_only else 'rwc'}"
        with self._told():
            self._db = sqlite3.connect(uri, uri=True, timeout=30, isolation_level=None, check_same_thread=False)
            self._db.row_factory = sqlite3.Row
            if read_only:
                self._db.execute("PRAGMA query_only = TRUE")
            else:
                self._db.execute(f"PRAGMA journal_mode = {journal_mode(sqlite3.sqlite_version_info[:3])}")
                self._db.execute("PRAGMA synchronous = FULL")
            found = self._db.execute("PRAGMA quick_check").fetchone()[0]
            if found != "ok":
                raise StoreError(f"{self.path}: damaged ({found})")
            made = self._db.execute("SELECT 1 FROM sqlite_master WHERE name = 'about'").fetchone()
        if not made and read_only:
            raise StoreError(f"{self.path}: holds no jobs")
        if not made:
            with self._change() as db:
                for statement in _TABLES.split(";"):
                    db.execute(statement)
                db.execute("INSERT INTO about VALUES ('schema', ?), ('fence', '0')", (TABLE_SCHEMA,))
        elif self.about("schema") != TABLE_SCHEMA:
            raise StoreError(f"{self.path}: not a table of this version ({TABLE_SCHEMA})")

    def close(self) -> None:
        self._db.close()

    @contextmanager
    def _told(self) -> Iterator[None]:
        try:
            yield
        except sqlite3.Error as fault:
            raise StoreError(f"{self.path}: {fault}") from None

    @contextmanager
    def _change(self) -> Iterator[sqlite3.Connection]:
        """One transaction: all of it, or nothing."""
        with self._told():
            self._db.execute("BEGIN IMMEDIATE")
            try:
                yield self._db
                self._db.execute("COMMIT")
            except BaseException:
                if self._db.in_transaction:
                    self._db.execute("ROLLBACK")
                raise

    def _rows(self, query: str, values: Iterable[Any] = ()) -> list[sqlite3.Row]:
        with self._told():
            return self._db.execute(query, tuple(values)).fetchall()

    # -- what the run is ---------------------------------------------------------------------------------------------

    def about(self, key: str) -> str | None:
        """What was noted of the run under that key."""
        found = self._rows("SELECT value FROM about WHERE key = ?", (key,))
        return found[0]["value"] if found else None

    def describe(self, points: Iterable[Point], answer_version: str, about: dict[str, str]) -> None:
        """Take these points and notes. Points that are there keep what they have; others are not wanted any more."""
        with self._change() as db:
            db.execute("UPDATE points SET wanted = 0")
            db.executemany(
                "INSERT INTO points (id, ordinal, wanted, settings, design, title, config_sha256, time_limit_s,"
                " answer_version, state) VALUES (?, ?, 1, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT (id) DO UPDATE SET"
                " ordinal = excluded.ordinal, wanted = 1, settings = excluded.settings",
                [
                    (p.id, ordinal, p.settings_json, p.text, p.title, p.config_sha256, p.time_limit_s, answer_version,
                     PointState.WAITING)
                    for ordinal, p in enumerate(points)
                ],
            )  # fmt: skip
            db.executemany("INSERT OR REPLACE INTO about VALUES (?, ?)", about.items())

    def counts(self) -> dict[PointState, int]:
        """How many wanted points are in each state."""
        rows = self._rows("SELECT state, count(*) AS number FROM points WHERE wanted GROUP BY state")
        found = {row["state"]: row["number"] for row in rows}
        return {state: found.get(state, 0) for state in PointState}

    def interrupted(self) -> int:
        """How many wanted points were interrupted."""
        query = "SELECT count(*) AS number FROM points WHERE state = ? AND reason = ? AND wanted"
        found: int = self._rows(query, (PointState.STOPPED, INTERRUPTED))[0]["number"]
        return found

    def points(self, *states: PointState, columns: Iterable[str] = _COLUMNS) -> list[dict[str, Any]]:
        """The wanted points in these states, or all, in the file's order."""
        marks = ", ".join("?" for _ in states)
        within = f"AND state IN ({marks})" if states else ""
        query = f"SELECT {', '.join(columns)} FROM points WHERE wanted {within} ORDER BY ordinal"
        return [dict(row) for row in self._rows(query, states)]

    # -- the life of a point -----------------------------------------------------------------------------------------

    def lease(self, holder: str, limit_s: float | None, grace_s: float, struck: bool = True) -> Lease | None:
        """Give out the next point, those that have cost workers last, and only where `struck` allows them; None where
        none waits.

        The lease lasts a quarter longer than the point may be solved, and grace_s [s] more.
        """
        with self._change() as db:
            row = db.execute(
                "SELECT id, design, time_limit_s, strikes FROM points WHERE state = ? AND strikes <= ? AND wanted"
                " ORDER BY strikes, ordinal LIMIT 1",
                (PointState.WAITING, _ANY if struck else 0),
            ).fetchone()
            if row is None:
                return None
            limit = min(row["time_limit_s"], limit_s or row["time_limit_s"])
            lasts = limit * 1.25 + grace_s
            until = (datetime.now(UTC) + timedelta(seconds=min(lasts, 1e9))).isoformat(timespec="seconds")
            fence = int(db.execute("SELECT value FROM about WHERE key = 'fence'").fetchone()["value"]) + 1
            db.execute("UPDATE about SET value = ? WHERE key = 'fence'", (str(fence),))
            db.execute(
                "UPDATE points SET state = ?, fence = ?, holder = ?, lease_until = ?, tries = tries + 1 WHERE id = ?",
                (PointState.SOLVING, fence, holder, until, row["id"]),
            )
        return Lease(row["id"], fence, lasts, row["design"], limit, row["strikes"])

    def finish(self, lease: Lease, result: Finished) -> bool:
        """Take a result; False, and nothing is changed, where the lease is not the last one of its point. Of a point
        that was interrupted twice the better one of both is kept."""
        told = {
            "record": json.dumps(result.record, ensure_ascii=False),
            "report": json.dumps(result.report, ensure_ascii=False),
        }
        with self._change() as db:
            before = db.execute("SELECT record, report FROM points WHERE id = ?", (lease.point,)).fetchone()
            if result.reason == INTERRUPTED and before["record"] and _worth(dict(before)) > _worth(told):
                return _end(db, lease, PointState.STOPPED, INTERRUPTED)
            more = ", record = ?, report = ?, rows = ?, part = NULL"
            return _end(db, lease, result.state, result.reason, more, (*told.values(), result.rows))

    def strike(self, lease: Lease, reason: str, most: int, last: PointState, lost: int = 1) -> PointState | None:
        """So many workers of this lease were lost. The point waits again, or ends in the state `last` with its reason
        once `most` were lost on it. None where the lease is not the last one of its point."""
        with self._change() as db:
            row = db.execute(
                "SELECT strikes FROM points WHERE id = ? AND fence = ? AND state = ?",
                (lease.point, lease.fence, PointState.SOLVING),
            ).fetchone()
            if row is None:
                return None
            strikes = row["strikes"] + lost
            state = last if strikes >= most else PointState.WAITING
            db.execute(
                "UPDATE points SET state = ?, strikes = ?, reason = ?, holder = NULL, lease_until = NULL WHERE id = ?",
                (state, strikes, reason, lease.point),
            )
        return state

    def release(self, lease: Lease) -> bool:
        """Give a point back that was not at fault; False where the lease is not the last one of its point."""
        with self._change() as db:
            return _end(db, lease, PointState.WAITING, None)

    def void_leases(self) -> int:
        """What was leased when the last runner ended waits again; its late results are refused by their fence. Only the
        one that holds the run may call this."""
        with self._change() as db:
            return db.execute(
                "UPDATE points SET state = ?, holder = NULL, lease_until = NULL WHERE state = ?",
                (PointState.WAITING, PointState.SOLVING),
            ).rowcount

    def go_on(self) -> None:
        """What was interrupted waits again; what it has found stays until there is another result."""
        with self._change() as db:
            db.execute(
                "UPDATE points SET state = ?, reason = NULL WHERE state = ? AND reason = ?",
                (PointState.WAITING, PointState.STOPPED, INTERRUPTED),
            )

    def wait_again(self, points: Iterable[str]) -> None:
        """These points are to be solved anew."""
        with self._change() as db:
            db.executemany(
                "UPDATE points SET state = ?, strikes = 0, reason = NULL, record = NULL, report = NULL, rows = NULL,"
                " part = NULL WHERE id = ?",
                [(PointState.WAITING, point) for point in points],
            )

    def adopt(self, point: str, result: Finished) -> bool:
        """Take a result that another run has; False where the point does not wait any more."""
        with self._change() as db:
            done = db.execute(
                "UPDATE points SET state = ?, record = ?, report = ?, rows = ?, part = NULL WHERE id = ? AND state = ?",
                (result.state, json.dumps(result.record, ensure_ascii=False),
                 json.dumps(result.report, ensure_ascii=False), result.rows, point, PointState.WAITING),
            )  # fmt: skip
            return done.rowcount == 1

    # -- parts -------------------------------------------------------------------------------------------------------

    def loose(self, most: int, most_bytes: int) -> list[dict[str, Any]]:
        """Finished points that are in no part yet, in the file's order: at most so many, and with answers of so many
        bytes, but one at least."""
        found = self._rows("SELECT id, length(rows) AS size FROM points WHERE rows IS NOT NULL ORDER BY ordinal")
        sizes = accumulate(row["size"] for row in found)
        number = max(1, sum(size <= most_bytes for size in sizes))
        ids = [row["id"] for row in found[: min(most, number)]]
        query = f"SELECT {', '.join(_COLUMNS)} FROM points WHERE id = ?"
        return [dict(self._rows(query, (name,))[0]) for name in ids]

    def loose_size(self) -> tuple[int, int]:
        """How many finished points are in no part yet, and how many bytes their answers have."""
        query = "SELECT count(*) AS number, coalesce(sum(length(rows)), 0) AS size FROM points WHERE rows IS NOT NULL"
        row = self._rows(query)[0]
        return row["number"], row["size"]

    def bound(self, part: int, points: Iterable[str], files: dict[str, str]) -> None:
        """These points are in that part now, whose files have these hashes."""
        with self._change() as db:
            db.executemany("UPDATE points SET part = ?, rows = NULL WHERE id = ?", [(part, point) for point in points])
            db.executemany("INSERT OR REPLACE INTO files VALUES (?, ?)", files.items())

    def next_part(self) -> int:
        """A number that no part has."""
        found = self._rows("SELECT coalesce(max(part), 0) AS last FROM points")[0]["last"]
        listed = [int(name.rsplit("-", 1)[1].split(".")[0]) for name in self.files()]
        last: int = max([found, *listed])
        return last + 1

    def files(self) -> dict[str, str]:
        """Name and SHA-256 of every file of a part."""
        return {row["name"]: row["sha256"] for row in self._rows("SELECT name, sha256 FROM files ORDER BY name")}

    def without_part(self, part: int, names: Iterable[str]) -> int:
        """A part is not to be trusted: its points wait again. Returns how many."""
        with self._change() as db:
            db.executemany("DELETE FROM files WHERE name = ?", [(name,) for name in names])
            return db.execute(
                "UPDATE points SET state = ?, strikes = 0, reason = NULL, record = NULL, report = NULL, rows = NULL,"
                " part = NULL WHERE part = ?",
                (PointState.WAITING, part),
            ).rowcount


def _end(
    db: sqlite3.Connection, lease: Lease, state: PointState, reason: str | None, more: str = "",
    values: Iterable[Any] = (),
) -> bool:  # fmt: skip
    """End a lease, within a transaction. more: columns that change besides, to these values."""
    done = db.execute(
        f"UPDATE points SET state = ?, reason = ?, holder = NULL, lease_until = NULL{more} WHERE id = ? AND fence = ?"
        " AND state = ?",
        (state, reason, *values, lease.point, lease.fence, PointState.SOLVING),
    )
    return done.rowcount == 1


def _worth(found: Mapping[str, str]) -> tuple[bool, float]:
    """Orders what was found of one point until it was interrupted: a longer search has found no less."""
    record, report = json.loads(found["record"]), json.loads(found["report"])
    return bool(record.get("solutions")), report.get("seconds") or 0.0
