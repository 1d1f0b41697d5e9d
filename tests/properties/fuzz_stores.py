"""Cases of stores and folders: damaged, or killed while they are written; see fuzz.py."""

from __future__ import annotations

import dataclasses
import os
import random
import signal
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from motor.base.errors import InvalidInput
from motor.base.whole_files import MANIFEST, folder_of
from motor.design.reading import read_design
from motor.study.evaluate import Job, Outcome, job_of
from motor.study.store import Row, Store, repair
from tests.properties.mutation import (
    DESIGNS,
    flipped,
    refused,
)

__all__ = ["killed_folder", "killed_store", "store"]

POINTS = 12
"""Designs of a store."""


def _filled(path: Path, key: Callable[[int], str]) -> None:
    with Store(path) as store:
        for number in range(POINTS):
            _record(store, number, key(number))
        store.set_points("p", [(n, {"a": 1.0 * n}, key(n), "") for n in range(POINTS)])


def _record(store: Store, number: int, key: str) -> None:
    job = dataclasses.replace(_job(), fingerprint=key)
    store.record(job, f"name = {number}", Outcome(key, {"bl": 6.0 + number}, "", 0.1, "code"))


def _job() -> Job:
    if not _JOB:
        _JOB.append(job_of(read_design(DESIGNS[0])))
    return _JOB[0]


_JOB: list[Job] = []


def _right(row: Row) -> bool:
    """Return whether a row holds its own result or says that there is none."""
    wanted = {"bl": 6.0 + row.number}
    return row.values == {"a": 1.0 * row.number} and (
        (row.results == wanted and not row.error)
        or (row.results is None and row.error == "not solved yet")
    )


def store(draw: random.Random, folder: Path) -> str:
    """Open a store with flipped bits, cut, zeroed, or with a page in place of another."""
    path, key = folder / "s.sqlite", "{:032x}".format
    _filled(path, key)
    data = path.read_bytes()
    what = draw.randrange(5)
    if what < 2:
        data = flipped(draw, data, draw.choice([1, 1, 2, 20]))
    elif what == 2:
        data = data[: draw.randrange(len(data))]
    elif what == 3:
        at = draw.randrange(len(data))
        data = data[:at] + bytes(min(512, len(data) - at)) + data[at + 512 :]
    else:
        one, two = (4096 * draw.randrange(len(data) // 4096) for _ in range(2))
        data = data[:one] + data[two : two + 4096] + data[one + 4096 :]
    path.write_bytes(data)
    points = [(n, {"a": 1.0 * n}, key(n), "") for n in range(POINTS)]
    try:
        with Store(path) as opened:
            opened.set_points("p", points)
            rows = list(opened.rows("p"))
    except InvalidInput as error:
        said = refused(error)
        if "--repair" not in str(error):
            return said
        try:
            repair(path)
        except InvalidInput as error:  # the mark of a store is gone
            return refused(error)
        with Store(path) as opened:
            opened.set_points("p", points)
            rows = list(opened.rows("p"))
    else:
        said = "read"
    assert len(rows) == POINTS
    assert all(map(_right, rows)), [row for row in rows if not _right(row)]
    return said


@contextmanager
def _killed(draw: random.Random, work: Callable[[], None], most: float) -> Iterator[int]:
    """Run something in a process that is killed at a moment drawn; give 1 if it still ran."""
    child = os.fork()
    if child == 0:
        try:
            work()
        finally:
            os._exit(0)
    time.sleep(draw.uniform(0, most))
    os.kill(child, signal.SIGKILL)
    _, status = os.waitpid(child, 0)
    yield int(os.WIFSIGNALED(status))


def killed_store(draw: random.Random, folder: Path) -> str:
    """Kill a program that writes a store: rows are there whole or not, claims are free."""
    path, key = folder / "s.sqlite", "{:032x}".format

    def work() -> None:
        with Store(path) as store:
            store.set_points("p", [(n, {"a": 1.0 * n}, key(n), "") for n in range(POINTS)])
            for n in range(POINTS):
                store.claim([key(n)])
                _record(store, n, key(n))
                time.sleep(0.001)

    _job()
    with _killed(draw, work, 0.06) as met, Store(path) as opened:
        assert all(map(_right, opened.rows("p")))
        claim = opened.claim(map(key, range(POINTS)))
        assert not claim.others
        assert len(claim.known) + len(claim.ours) == POINTS
    return "killed" if met else "read"


def killed_folder(draw: random.Random, folder: Path) -> str:
    """Kill a program that fills a folder: all of one writing is there, or all of another."""
    out = folder / "out"

    def fill(text: str) -> None:
        with folder_of(out) as (work, _):
            (work / "sub").mkdir()
            for name in ("a", "b", "sub/c", "sub/d"):
                (work / name).write_text(text * 1000)

    def work() -> None:
        while True:
            for text in "xyz":
                fill(text)

    with _killed(draw, work, 0.05) as met:
        fill("w") if draw.random() < 0.3 else _touch(out)
        files = [p for p in out.rglob("*") if p.is_file() and p.name not in (MANIFEST, "extra")]
        assert len({p.read_text() for p in files}) < 2, "files of two writings"
        assert len(files) in (0, 4), sorted(files)
        left = [str(path) for path in out.rglob(".partial-*")]
        assert not left, f"left behind: {left}"
    return "killed" if met else "read"


def _touch(out: Path) -> None:
    """Write something else into the folder, so that what a killed program left is settled."""
    with folder_of(out) as (work, _):
        (work / "extra").write_text("e")
