"""The file below a study's store: its schema, its checks, its repair.

SQLite, ``PRAGMA user_version`` 2; ``application_id`` marks the file as a store::

    studies   which studies keep their designs here
        fingerprint  TEXT PRIMARY KEY   digest of the study
        name         TEXT
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
    claims    which design is being solved by which writer
        fingerprint  TEXT PRIMARY KEY
        writer       TEXT
    writers   programs that write at the moment; see motor/study/writers.py
        key, host, pid, birth, seen

The first three end in a column ``checksum`` over their row.  Write-ahead log; one transaction per
design, so that a row is there whole or not at all whenever the program is killed.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import shutil
import sqlite3
import time
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from motor.base.errors import InvalidInput, OutputError
from motor.study.writers import dead_writers, live_writers

__all__ = [
    "SCHEMA_VERSION",
    "clear_errors",
    "damaged",
    "is_whole",
    "opened",
    "refuse_damaged_rows",
    "repair",
    "signed",
]

SCHEMA_VERSION = 2
APPLICATION_ID = 0x4D4D5331
WAIT = 60.0
"""Seconds to wait for another program's transaction."""
CHECKED_ALWAYS = 2**28
"""Bytes (half a second's work) up to which a file is checked whenever it is opened; a larger one
after a writer has ended without closing it."""
SHOWN = 5
"""Damaged rows that an error names."""
MACHINE = {
    sqlite3.SQLITE_BUSY,
    sqlite3.SQLITE_CANTOPEN,
    sqlite3.SQLITE_FULL,
    sqlite3.SQLITE_IOERR,
    sqlite3.SQLITE_LOCKED,
    sqlite3.SQLITE_NOMEM,
    sqlite3.SQLITE_PERM,
    sqlite3.SQLITE_PROTOCOL,
    sqlite3.SQLITE_READONLY,
}
"""Errors that say nothing about the file's content."""
CHECKED = {"studies": "fingerprint", "designs": "fingerprint", "points": "plan, number"}
"""Tables whose rows end in a checksum, and their keys."""
BROKEN = (sqlite3.DatabaseError, UnicodeDecodeError, TypeError, ValueError)
"""What reading a damaged file may raise."""
Rows = dict[tuple[Any, ...], tuple[Any, ...]]
SCHEMA = """
CREATE TABLE IF NOT EXISTS studies (
    fingerprint TEXT PRIMARY KEY, name TEXT NOT NULL, checksum TEXT NOT NULL
) WITHOUT ROWID;
CREATE TABLE IF NOT EXISTS designs (
    fingerprint TEXT PRIMARY KEY, field TEXT NOT NULL, design TEXT NOT NULL, results TEXT,
    error TEXT NOT NULL, attempts INTEGER NOT NULL, seconds REAL NOT NULL, finished TEXT NOT NULL,
    checksum TEXT NOT NULL
) WITHOUT ROWID;
CREATE TABLE IF NOT EXISTS points (
    plan TEXT NOT NULL, number INTEGER NOT NULL, parameters TEXT NOT NULL, fingerprint TEXT,
    error TEXT NOT NULL, checksum TEXT NOT NULL, PRIMARY KEY (plan, number)
) WITHOUT ROWID;
CREATE TABLE IF NOT EXISTS claims (
    fingerprint TEXT PRIMARY KEY, writer TEXT NOT NULL
) WITHOUT ROWID;
CREATE TABLE IF NOT EXISTS writers (
    key TEXT PRIMARY KEY, host TEXT NOT NULL, pid INTEGER NOT NULL, birth TEXT NOT NULL,
    seen REAL NOT NULL
) WITHOUT ROWID;
"""


def signed(row: Sequence[Any]) -> tuple[Any, ...]:
    """Return a row with its checksum at the end."""
    text = json.dumps(list(row), default=repr)
    return (*row, hashlib.sha256(text.encode()).hexdigest()[:32])


def is_whole(row: Sequence[Any]) -> bool:
    """Return whether a row is as it was written."""
    return bool(signed(row[:-1])[-1] == row[-1])


def damaged(path: Path, what: str) -> InvalidInput:
    """Return the error that a store is not as it was written."""
    return InvalidInput(
        "store",
        "be as it was written",
        f"{path}: {what}; motor study ... --repair keeps what is whole and solves the rest again",
    )


@contextlib.contextmanager
def clear_errors(path: Path) -> Iterator[None]:
    """Turn errors of the file system into OutputError, damage into InvalidInput."""
    try:
        yield
    except sqlite3.ProgrammingError:
        raise
    except UnicodeDecodeError:  # in a message of SQLite about its schema
        raise damaged(path, "its schema is damaged") from None
    except sqlite3.DatabaseError as cause:
        text = str(cause)
        code = getattr(cause, "sqlite_errorcode", sqlite3.SQLITE_CORRUPT) & 0xFF
        if code == sqlite3.SQLITE_NOTADB:
            raise InvalidInput("store", "be a store of this program", f"{path}: {text}") from None
        whole = getattr(cause, "sqlite_errorcode", None)  # with the folder's reasons it differs
        if whole == sqlite3.SQLITE_READONLY and os.access(path, os.W_OK):
            raise damaged(path, "its head says that it may only be read") from None
        if code in MACHINE:
            raise OutputError(
                f"store {path} could not be used: {text}; what was finished before is kept"
            ) from cause
        raise damaged(path, text) from cause


def opened(path: Path) -> sqlite3.Connection:
    """Open a store, made if it does not exist, and check the file.

    Raises
    ------
    InvalidInput
        If the file is something else, a store of another version, or damaged.
    OutputError
        If it cannot be opened or written.
    """
    with clear_errors(path):
        base = _connected(path)
        try:
            _check_or_make(base, path)
        except BaseException:
            base.close()
            raise
    return base


def _connected(path: Path) -> sqlite3.Connection:
    base = sqlite3.connect(path, timeout=WAIT, isolation_level=None)
    base.text_factory = lambda raw: raw.decode("utf-8", "surrogateescape")
    return base


def _check_or_make(base: sqlite3.Connection, path: Path) -> None:
    ours = _is_ours(base, path)
    _write_ahead(base)
    base.execute("PRAGMA synchronous = NORMAL")
    if ours:
        if path.stat().st_size <= CHECKED_ALWAYS or dead_writers(base):
            found = [row[0] for row in base.execute(f"PRAGMA integrity_check({SHOWN})")]
            if found != ["ok"]:
                named = _named_rows(base)
                raise damaged(path, f"{'; '.join(map(str, found))}{named and ', ' + named}")
        return
    _make(base)


def _make(base: sqlite3.Connection) -> None:
    base.execute("BEGIN IMMEDIATE")
    for statement in filter(str.strip, SCHEMA.split(";")):
        base.execute(statement)
    base.execute(f"PRAGMA user_version = {SCHEMA_VERSION}")
    base.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    base.execute("COMMIT")


def _write_ahead(base: sqlite3.Connection) -> None:
    """Switch the write-ahead log on; where two programs do so at once, SQLite lets none wait."""
    end = time.monotonic() + WAIT
    while True:
        try:
            base.execute("PRAGMA journal_mode = WAL")
            return
        except sqlite3.OperationalError as error:
            if error.sqlite_errorcode & 0xFF != sqlite3.SQLITE_BUSY or time.monotonic() > end:
                raise
        time.sleep(0.02)


def _is_ours(base: sqlite3.Connection, path: Path) -> bool:
    """Return whether a file is a store of this version; False if it is empty."""
    base.execute("BEGIN")  # one look: another program may be making the store at this moment
    try:
        version = base.execute("PRAGMA user_version").fetchone()[0]
        owner = base.execute("PRAGMA application_id").fetchone()[0]
        tables = base.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]
    finally:
        with contextlib.suppress(sqlite3.Error):
            base.execute("ROLLBACK")
    if owner == APPLICATION_ID:
        if version != SCHEMA_VERSION:
            raise InvalidInput(
                "store",
                f"be of version {SCHEMA_VERSION}",
                f"{path}: version {version}; remove it or take another folder",
            )
        return True
    if owner or version or tables:
        raise InvalidInput("store", "be a store of this program", f"{path}: another file")
    return False


def refuse_damaged_rows(base: sqlite3.Connection, path: Path) -> None:
    """Raise InvalidInput with the names of all rows that are not as they were written."""
    named = _named_rows(base)
    if named:
        raise damaged(path, named)


def _named_rows(base: sqlite3.Connection) -> str:
    """Return which rows differ from their checksums, in words; "" if none does."""
    names: set[tuple[str, Any]] = set()
    lost: list[Any] = []
    with contextlib.suppress(*BROKEN):
        for table in CHECKED:
            for row in base.execute(f"SELECT * FROM {table}"):
                if is_whole(row):
                    continue
                if table == "designs":
                    lost.append(row[0])
                elif table == "points":
                    names.add(("point", row[1]))
                else:
                    names.add(("study", row[1]))
        pairs = list(base.execute("SELECT fingerprint, number FROM points")) if lost else []
        for key in lost:
            points = {("point", number) for of, number in pairs if of == key}
            names |= points or {("design", str(key)[:12])}
    if not names:
        return ""
    shown = [f"{kind} {which!a}" for kind, which in sorted(names, key=_order)]
    more = f" and {len(shown) - SHOWN} more" if len(shown) > SHOWN else ""
    return f"{', '.join(shown[:SHOWN])}{more} differ from their checksums"


def _order(name: tuple[str, Any]) -> tuple[bool, Any, str]:
    """Numbered points first, in their order."""
    number = name[1] if isinstance(name[1], int) else -1
    return name[0] != "point", number, str(name)


def repair(path: str | Path) -> tuple[int, Path]:
    """Rebuild a store from all rows that are as they were written; the next run solves the rest.

    Returns
    -------
    kept : int
        Designs that were whole.
    copy : Path
        The damaged file, kept beside the store.

    Raises
    ------
    InvalidInput
        If the file is no store, or another run uses it.
    OutputError
        If it cannot be read or written.
    """
    path = Path(path)
    if not path.is_file():
        raise InvalidInput("store", "exist", str(path))
    copy, new = (path.with_name(path.name + end) for end in (".damaged", ".repaired"))
    rows: dict[str, Rows] = {table: {} for table in CHECKED}
    try:
        with path.open("rb") as stream:
            head = stream.read(100)
        owner = tuple(int.from_bytes(head[at : at + 4], "big") for at in (68, 60))
        if owner != (APPLICATION_ID, SCHEMA_VERSION):
            raise InvalidInput("store", f"be of version {SCHEMA_VERSION}", f"{path}: another file")
        with clear_errors(path), contextlib.closing(_connected(path)) as old:
            _refuse_writers(old, path)
            _salvage(old, rows)
        shutil.copyfile(path, copy)
        new.unlink(missing_ok=True)
        _graft(copy, new)
        with clear_errors(path):
            with contextlib.closing(_connected(new)) as old:
                _salvage(old, rows)
            new.unlink()
            with contextlib.closing(opened(new)) as made:
                made.execute("BEGIN IMMEDIATE")
                for table, found in rows.items():
                    for row in found.values():
                        marks = ",".join("?" * len(row))
                        made.execute(f"INSERT OR IGNORE INTO {table} VALUES ({marks})", row)
                made.execute("COMMIT")
        for end in ("-wal", "-shm"):  # they belong to the old file
            path.with_name(path.name + end).unlink(missing_ok=True)
        os.replace(new, path)
    except OSError as cause:
        raise OutputError(f"store {path} could not be repaired: {cause.strerror}") from cause
    return len(rows["designs"]), copy


def _refuse_writers(base: sqlite3.Connection, path: Path) -> None:
    try:
        busy = live_writers(base)
    except BROKEN:
        return  # damaged as well
    if busy:
        raise InvalidInput("store", "be used by no other run", f"{path}: process {busy[0]}")


def _graft(copy: Path, goal: Path) -> None:
    """Copy a store with the first page, which names its tables, that every new store has."""
    with contextlib.closing(sqlite3.connect(":memory:", isolation_level=None)) as base:
        _make(base)
        page = bytearray(base.serialize())[:4096]
    page[24:28] = bytes(4)  # not the change counter that the size stands beside: look at the file
    shutil.copyfile(copy, goal)
    with goal.open("r+b") as stream:
        stream.write(page)


def _salvage(base: sqlite3.Connection, rows: dict[str, Rows]) -> None:
    """Collect all whole rows of all tables by key, as far as they can be read from either end."""
    for table, keys in CHECKED.items():
        width = keys.count(",") + 1
        for order in ("", " DESC"):
            by = ", ".join(key + order for key in keys.split(", "))
            with contextlib.suppress(*BROKEN):
                for row in base.execute(f"SELECT * FROM {table} ORDER BY {by}"):
                    if is_whole(row):
                        rows[table][row[:width]] = row
