"""The store of a study: one SQLite file that keeps every finished design.

Schema, version 1 (``PRAGMA user_version``; ``application_id`` marks the file as a store)::

    designs   one row per solved or failed design
        fingerprint  TEXT PRIMARY KEY   digest of all inputs and of the program's source
        field        TEXT               digest of what the magnetic field depends on
        design       TEXT               the design as a TOML design file
        results      TEXT               JSON object, units in the names; NULL if it failed
        error        TEXT               '' or why it failed
        attempts     INTEGER            1, or 2 after a worker had died
        seconds      REAL               time to solve
        finished     TEXT               UTC, ISO 8601
    points    which designs a plan consists of, in its order
        plan         TEXT               digest of the plan
        number       INTEGER            from 0
        parameters   TEXT               JSON object, dotted names, SI values
        fingerprint  TEXT               NULL if the design cannot be built
        error        TEXT               '' or why it cannot be built
        PRIMARY KEY (plan, number)

Write-ahead log; one transaction per design, so that a row is there whole or not at all whenever
the program is killed.  Several programs may work on one store: who comes second with the same
fingerprint changes nothing.
"""

from __future__ import annotations

import contextlib
import json
import sqlite3
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Self

from motor.base.errors import InvalidInput, OutputError
from motor.study.evaluate import Job, Outcome

__all__ = ["SCHEMA_VERSION", "Row", "Store"]

SCHEMA_VERSION = 1
APPLICATION_ID = 0x4D4D5331
WAIT = 60.0
"""Seconds to wait for another program's transaction."""
BATCH = 400
"""Fingerprints looked up at once."""
SCHEMA = """
CREATE TABLE IF NOT EXISTS designs (
    fingerprint TEXT PRIMARY KEY, field TEXT NOT NULL, design TEXT NOT NULL, results TEXT,
    error TEXT NOT NULL, attempts INTEGER NOT NULL, seconds REAL NOT NULL, finished TEXT NOT NULL
) WITHOUT ROWID;
CREATE TABLE IF NOT EXISTS points (
    plan TEXT NOT NULL, number INTEGER NOT NULL, parameters TEXT NOT NULL, fingerprint TEXT,
    error TEXT NOT NULL, PRIMARY KEY (plan, number)
) WITHOUT ROWID;
"""


@dataclass(frozen=True)
class Row:
    """One point of a plan with what the store knows of it.

    Parameters
    ----------
    number : int
    values : mapping of dotted name to SI value
    results : mapping or None
        None if it failed, cannot be built or is not solved yet.
    error : str
        Why it failed; "not solved yet" if it is not in the store.
    """

    number: int
    values: Mapping[str, Any]
    results: Mapping[str, Any] | None
    error: str


class Store:
    """An open store.  A context manager; errors of the file system become ``OutputError``.

    Parameters
    ----------
    path : path
        Made if it does not exist.

    Raises
    ------
    InvalidInput
        If the file is something else, or a store of another version.
    OutputError
        If it cannot be opened or written.
    """

    def __init__(self, path: str | Path) -> None:
        self.path = Path(path)
        with self._clear_errors():
            self._base = sqlite3.connect(self.path, timeout=WAIT, isolation_level=None)
            try:
                self._open()
            except BaseException:
                self._base.close()
                raise

    def _open(self) -> None:
        base = self._base
        version = base.execute("PRAGMA user_version").fetchone()[0]
        owner = base.execute("PRAGMA application_id").fetchone()[0]
        tables = base.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]
        if owner != APPLICATION_ID and (owner or tables or version):
            raise InvalidInput("store", "be a store of this program", f"{self.path}: another file")
        if owner == APPLICATION_ID and version != SCHEMA_VERSION:
            raise InvalidInput(
                "store", f"be of version {SCHEMA_VERSION}", f"{self.path}: version {version}"
            )
        base.execute("PRAGMA journal_mode = WAL")
        base.execute("PRAGMA synchronous = NORMAL")
        if owner == APPLICATION_ID:
            return
        with self._transaction():
            for statement in filter(str.strip, SCHEMA.split(";")):
                base.execute(statement)
            base.execute(f"PRAGMA user_version = {SCHEMA_VERSION}")
            base.execute(f"PRAGMA application_id = {APPLICATION_ID}")

    @contextlib.contextmanager
    def _clear_errors(self) -> Iterator[None]:
        try:
            yield
        except sqlite3.DatabaseError as cause:
            text = str(cause)
            if "not a database" in text or "malformed" in text:
                raise InvalidInput(
                    "store", "be a store of this program", f"{self.path}: {text}"
                ) from None
            raise OutputError(
                f"store {self.path} could not be used: {text}; what was finished before is kept"
            ) from cause

    @contextlib.contextmanager
    def _transaction(self) -> Iterator[None]:
        self._base.execute("BEGIN IMMEDIATE")
        try:
            yield
        except BaseException:
            if self._base.in_transaction:
                self._base.execute("ROLLBACK")
            raise
        self._base.execute("COMMIT")

    def close(self) -> None:
        """Close the file."""
        self._base.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def finished(self, fingerprints: Iterable[str], *, failed: bool = True) -> set[str]:
        """Return which fingerprints are in the store; without those that failed on request."""
        wanted, found = list(fingerprints), set()
        clause = "" if failed else " AND results IS NOT NULL"
        with self._clear_errors():
            for start in range(0, len(wanted), BATCH):
                some = wanted[start : start + BATCH]
                marks = ",".join("?" * len(some))
                query = f"SELECT fingerprint FROM designs WHERE fingerprint IN ({marks}){clause}"
                found |= {row[0] for row in self._base.execute(query, some)}
        return found

    def record(self, job: Job, text: str, outcome: Outcome, attempts: int = 1) -> None:
        """Write one finished design; a design that is there with results stays as it is."""
        results = None if outcome.results is None else json.dumps(dict(outcome.results))
        now = datetime.now(UTC).isoformat(timespec="seconds")
        row = (job.fingerprint, job.field, text, results, outcome.error, attempts)
        with self._clear_errors(), self._transaction():
            self._base.execute(
                "INSERT INTO designs VALUES (?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT (fingerprint) "
                "DO UPDATE SET results = excluded.results, error = excluded.error, "
                "attempts = excluded.attempts, seconds = excluded.seconds, "
                "finished = excluded.finished "
                "WHERE designs.results IS NULL AND excluded.results IS NOT NULL",
                (*row, outcome.seconds, now),
            )

    def set_points(
        self, plan: str, points: Iterable[tuple[int, Mapping[str, Any], str | None, str]]
    ) -> None:
        """Write points of a plan: number, values, fingerprint and error."""
        rows = [(plan, n, json.dumps(dict(v)), print_, e) for n, v, print_, e in points]
        with self._clear_errors(), self._transaction():
            self._base.executemany("INSERT OR REPLACE INTO points VALUES (?, ?, ?, ?, ?)", rows)

    def results_of(self, fingerprint: str) -> Mapping[str, Any] | None:
        """Return the results of one design; None if it failed or is not in the store."""
        query = "SELECT results FROM designs WHERE fingerprint = ?"
        with self._clear_errors():
            row = self._base.execute(query, (fingerprint,)).fetchone()
        return None if row is None or row[0] is None else dict(json.loads(row[0]))

    def entry_of(self, fingerprint: str) -> tuple[str, str] | None:
        """Return one design as a TOML design file, and why it failed ('' if not); or None."""
        query = "SELECT design, error FROM designs WHERE fingerprint = ?"
        with self._clear_errors():
            row = self._base.execute(query, (fingerprint,)).fetchone()
        return None if row is None else (row[0], row[1])

    def rows(self, plan: str) -> Iterator[Row]:
        """Yield all points of a plan in order, with their results."""
        query = (
            "SELECT p.number, p.parameters, d.results, p.error, d.error, d.fingerprint FROM points "
            "p LEFT JOIN designs d ON d.fingerprint = p.fingerprint WHERE p.plan = ? ORDER BY "
            "p.number"
        )
        with self._clear_errors():
            for number, parameters, results, impossible, failed, known in self._base.execute(
                query, (plan,)
            ):
                found = None if results is None else json.loads(results)
                missing = "" if known or impossible else "not solved yet"
                error = impossible or failed or missing
                yield Row(number, json.loads(parameters), found, error)
