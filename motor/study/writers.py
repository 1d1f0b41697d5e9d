"""Which programs write into a store at the moment, and whether they still run.

A writer is known by its machine, process and the process's start: a number that the system has
given to another process since is not taken for it.  Of another machine's programs it is only
known when they last took up a design.
"""

from __future__ import annotations

import os
import socket
import sqlite3
import time
import uuid
import weakref
from pathlib import Path

__all__ = ["Writer", "dead_writers", "drop", "live_writers"]

EXPIRY = 3600.0
"""Seconds after which a writer of another machine that has taken up nothing counts as dead."""
_OPEN: weakref.WeakValueDictionary[str, Writer] = weakref.WeakValueDictionary()
"""Writers of this very process, as long as somebody holds them."""


class Writer:
    """One open store that writes."""

    def __init__(self) -> None:
        self.key = uuid.uuid4().hex
        _OPEN[self.key] = self

    def sign(self, base: sqlite3.Connection) -> None:
        """Write into the store who writes, and that it still does."""
        pid = os.getpid()
        row = (self.key, socket.gethostname(), pid, _birth(pid), time.time())
        base.execute("INSERT OR REPLACE INTO writers VALUES (?, ?, ?, ?, ?)", row)

    def leave(self) -> None:
        """Count as ended from now on, whatever its row in the store says."""
        _OPEN.pop(self.key, None)


def drop(base: sqlite3.Connection, keys: list[str]) -> None:
    """Remove writers and their claims."""
    for key in keys:
        base.execute("DELETE FROM claims WHERE writer = ?", (key,))
        base.execute("DELETE FROM writers WHERE key = ?", (key,))


def dead_writers(base: sqlite3.Connection) -> list[str]:
    """Return the keys of writers that have ended without leaving."""
    return [row[0] for row in base.execute("SELECT * FROM writers") if not _is_alive(*row)]


def live_writers(base: sqlite3.Connection) -> list[int]:
    """Return the process numbers of writers that run."""
    return [row[2] for row in base.execute("SELECT * FROM writers") if _is_alive(*row)]


def _is_alive(key: str, host: str, pid: int, birth: str, seen: float) -> bool:
    try:
        if host != socket.gethostname():
            return time.time() - seen < EXPIRY
        return key in _OPEN if pid == os.getpid() else birth == _birth(pid)
    except (TypeError, ValueError):  # a damaged row
        return False


def _birth(pid: int) -> str:
    """Return when a process was started, in words of its system; "none" if it does not run."""
    try:
        state = Path(f"/proc/{pid}/stat").read_text(encoding="utf-8", errors="replace")
        fields = state.rpartition(")")[2].split()
        return "none" if fields[0] in "ZX" else fields[19]
    except (OSError, IndexError):
        pass
    try:
        os.kill(pid, 0)
    except PermissionError:
        return ""
    except (OSError, OverflowError):
        return "none"
    return ""
