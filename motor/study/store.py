"""The store of a study: one SQLite file that keeps every finished design.

Several programs may work on one store: each claims a design before it solves it, and the claims
of a program that has ended are void.  Every row carries a checksum, which is looked at whenever
it is read.  The schema stands in :mod:`motor.study.store_file`.
"""

from __future__ import annotations

import contextlib
import json
import sqlite3
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Self

from motor.base.errors import InvalidInput
from motor.base.whole_files import is_forced
from motor.study.evaluate import Job, Outcome
from motor.study.store_file import (
    SCHEMA_VERSION,
    clear_errors,
    damaged,
    is_whole,
    opened,
    refuse_damaged_rows,
    repair,
    signed,
)
from motor.study.writers import Writer, dead_writers, drop

__all__ = ["SCHEMA_VERSION", "Claim", "Row", "Store", "repair"]

BATCH = 400
"""Fingerprints looked up at once."""


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


@dataclass(frozen=True)
class Claim:
    """What became of asking for some designs, by fingerprint.

    Parameters
    ----------
    known : set of str
        In the store already.
    others : set of str
        Being solved by another program.
    ours : set of str
        To be solved by who asked, and by nobody else as long as it runs.
    """

    known: set[str]
    others: set[str]
    ours: set[str]


class Store:
    """An open store.  A context manager; errors of the file system become ``OutputError``.

    Parameters
    ----------
    path : path
        Made if it does not exist.

    Raises
    ------
    InvalidInput
        If the file is something else, a store of another version, or not as it was written.
    OutputError
        If it cannot be opened or written.
    """

    def __init__(self, path: str | Path) -> None:
        self.path = Path(path)
        self._base = opened(self.path)
        self._writer: Writer | None = None

    @contextlib.contextmanager
    def _writing(self) -> Iterator[None]:
        """One transaction of a program that is known to write."""
        with clear_errors(self.path):
            self._base.execute("BEGIN IMMEDIATE")
            try:
                if self._writer is None:
                    writer = Writer()
                    writer.sign(self._base)
                    self._writer = writer
                yield
            except BaseException:
                if self._base.in_transaction:
                    self._base.execute("ROLLBACK")
                raise
            self._base.execute("COMMIT")

    def close(self) -> None:
        """Close the file; designs that were claimed and not solved are free again."""
        if self._writer is not None:
            with contextlib.suppress(sqlite3.Error):
                drop(self._base, [self._writer.key])
            self._writer.leave()
        self._base.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def admit(self, name: str, fingerprint: str) -> None:
        """Let a study use this store if it is its own, or nobody's yet.

        It is the same study if its fingerprint or its name is.  Under
        :func:`motor.base.whole_files.asking` with ``force`` any study is let in.

        Raises
        ------
        InvalidInput
            With the name of the study that the store belongs to.
        """
        with self._writing():
            known = [self._whole(r) for r in self._base.execute("SELECT * FROM studies")]
            same = any(row[0] == fingerprint or row[1] == name for row in known)
            if known and not same and not is_forced():
                raise InvalidInput(
                    "store",
                    f"belong to the study {name!r}",
                    f"{self.path} of the study {known[0][1]!r}; take another folder, or --force "
                    "to keep both in one",
                )
            row = signed((fingerprint, name))
            self._base.execute("INSERT OR REPLACE INTO studies VALUES (?, ?, ?)", row)

    def _whole(self, row: Sequence[Any]) -> Sequence[Any]:
        """Return a row if it is as it was written; otherwise raise with all that are not."""
        if not is_whole(row):
            refuse_damaged_rows(self._base, self.path)
            raise damaged(self.path, f"design {str(row[0])[:12]!a} differs from its checksum")
        return row

    def finished(self, fingerprints: Iterable[str], *, failed: bool = True) -> set[str]:
        """Return which fingerprints are in the store; without those that failed on request."""
        wanted, found = list(fingerprints), set()
        clause = "" if failed else " AND results IS NOT NULL"
        with clear_errors(self.path):
            for start in range(0, len(wanted), BATCH):
                some = wanted[start : start + BATCH]
                marks = ",".join("?" * len(some))
                query = f"SELECT * FROM designs WHERE fingerprint IN ({marks}){clause}"
                found |= {self._whole(row)[0] for row in self._base.execute(query, some)}
        return found

    def claim(self, fingerprints: Iterable[str], *, failed: bool = True) -> Claim:
        """Take up designs that nobody has solved or is solving; without ``failed`` failed ones too.

        Claims end with :meth:`record`, :meth:`release`, :meth:`close` or the program itself.
        """
        wanted = set(fingerprints)
        with self._writing():
            assert self._writer is not None
            drop(self._base, dead_writers(self._base))
            self._writer.sign(self._base)
            known = self.finished(wanted, failed=failed)
            add = "INSERT OR IGNORE INTO claims VALUES (?, ?)"
            self._base.executemany(add, [(key, self._writer.key) for key in wanted - known])
            query = "SELECT fingerprint FROM claims WHERE writer = ?"
            ours = {row[0] for row in self._base.execute(query, (self._writer.key,))} & wanted
        return Claim(known, wanted - known - ours, ours - known)

    def release(self, fingerprints: Iterable[str]) -> None:
        """Give back designs that were claimed and will not be solved."""
        with self._writing():
            remove = "DELETE FROM claims WHERE fingerprint = ?"
            self._base.executemany(remove, [(key,) for key in fingerprints])

    def record(self, job: Job, text: str, outcome: Outcome, attempts: int = 1) -> None:
        """Write one finished design; a design that is there with results stays as it is."""
        results = None if outcome.results is None else json.dumps(dict(outcome.results))
        now = datetime.now(UTC).isoformat(timespec="seconds")
        row = (job.fingerprint, job.field, text, results, outcome.error, attempts)
        with self._writing():
            self._base.execute(
                "INSERT INTO designs VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT (fingerprint) "
                "DO UPDATE SET field = excluded.field, design = excluded.design, "
                "results = excluded.results, error = excluded.error, attempts = excluded.attempts, "
                "seconds = excluded.seconds, finished = excluded.finished, "
                "checksum = excluded.checksum "
                "WHERE designs.results IS NULL AND excluded.results IS NOT NULL",
                signed((*row, float(outcome.seconds), now)),
            )
            self._base.execute("DELETE FROM claims WHERE fingerprint = ?", (job.fingerprint,))

    def set_points(
        self, plan: str, points: Iterable[tuple[int, Mapping[str, Any], str | None, str]]
    ) -> None:
        """Write points of a plan: number, values, fingerprint and error."""
        rows = [signed((plan, n, json.dumps(dict(v)), print_, e)) for n, v, print_, e in points]
        with self._writing():
            self._base.executemany("INSERT OR REPLACE INTO points VALUES (?, ?, ?, ?, ?, ?)", rows)

    def _design(self, fingerprint: str) -> Sequence[Any] | None:
        query = "SELECT * FROM designs WHERE fingerprint = ?"
        with clear_errors(self.path):
            row = self._base.execute(query, (fingerprint,)).fetchone()
        return None if row is None else self._whole(row)

    def results_of(self, fingerprint: str) -> Mapping[str, Any] | None:
        """Return the results of one design; None if it failed or is not in the store."""
        row = self._design(fingerprint)
        return None if row is None or row[3] is None else dict(json.loads(row[3]))

    def entry_of(self, fingerprint: str) -> tuple[str, str] | None:
        """Return one design as a TOML design file, and why it failed ('' if not); or None."""
        row = self._design(fingerprint)
        return None if row is None else (row[2], row[4])

    def rows(self, plan: str) -> Iterator[Row]:
        """Yield all points of a plan in order, with their results."""
        query = (
            "SELECT p.*, d.* FROM points p LEFT JOIN designs d ON d.fingerprint = p.fingerprint "
            "WHERE p.plan = ? ORDER BY p.number"
        )
        with clear_errors(self.path):
            for place, found in enumerate(self._base.execute(query, (plan,))):
                (_, number, parameters, key, impossible, _), design = found[:6], found[6:]
                self._whole(found[:6])
                if number != place:
                    raise damaged(self.path, f"point {place} is missing")
                results, failed, known = None, "", design[0] is not None
                if known:
                    self._whole(design)
                    failed = design[4]
                    results = None if design[3] is None else json.loads(design[3])
                missing = "not solved yet" if key is not None and not known else ""
                yield Row(number, json.loads(parameters), results, impossible or failed or missing)
