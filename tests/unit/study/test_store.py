"""The store: versions, foreign files, a full disk, an unwritable place."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest

from motor.base.errors import InvalidInput, OutputError
from motor.study.evaluate import Job, Outcome, job_of
from motor.study.store import SCHEMA_VERSION, Store
from tests.unit.study.plans import ferrite


def outcome(job: Job, value: float | None, error: str = "") -> Outcome:
    results = None if value is None else {"bl_at_rest_Tm": value}
    return Outcome(job.fingerprint, results, error, 0.1, "code")


def test_a_design_is_kept_and_a_result_never_overwritten(tmp_path: Path):
    job = job_of(ferrite())
    with Store(tmp_path / "s.sqlite") as store:
        assert store.finished([job.fingerprint]) == set()
        store.record(job, "text", outcome(job, None, "failed"))
        assert store.finished([job.fingerprint]) == {job.fingerprint}
        assert store.finished([job.fingerprint], failed=False) == set()
        assert store.results_of(job.fingerprint) is None
        store.record(job, "text", outcome(job, 6.0), 2)
        store.record(job, "text", outcome(job, 7.0))
        store.record(job, "text", outcome(job, None, "failed"))
    with Store(tmp_path / "s.sqlite") as store:
        assert store.results_of(job.fingerprint) == {"bl_at_rest_Tm": 6.0}


def test_points_come_back_in_order_with_what_is_known(tmp_path: Path):
    job = job_of(ferrite())
    with Store(tmp_path / "s.sqlite") as store:
        store.record(job, "text", outcome(job, 6.0))
        points = [(1, {"a": 2.0}, None, "impossible"), (0, {"a": 1.0}, job.fingerprint, "")]
        store.set_points("p", [*points, (2, {"a": 3.0}, "unknown", "")])
        rows = list(store.rows("p"))
    assert [r.number for r in rows] == [0, 1, 2]
    assert [r.error for r in rows] == ["", "impossible", "not solved yet"]
    assert rows[0].results == {"bl_at_rest_Tm": 6.0}


def test_another_version_and_other_files_are_refused(tmp_path: Path):
    path = tmp_path / "s.sqlite"
    Store(path).close()
    base = sqlite3.connect(path)
    base.execute(f"PRAGMA user_version = {SCHEMA_VERSION + 1}")
    base.close()
    with pytest.raises(InvalidInput, match=r"store must be of version 1; received .*version 2"):
        Store(path)
    foreign = sqlite3.connect(tmp_path / "other.sqlite")
    foreign.execute("CREATE TABLE a (b)")
    foreign.close()
    with pytest.raises(InvalidInput, match="another file"):
        Store(tmp_path / "other.sqlite")
    (tmp_path / "text").write_text("not a database, but long enough to be looked at " * 40)
    with pytest.raises(InvalidInput, match="store must be a store"):
        Store(tmp_path / "text")
    assert (tmp_path / "text").read_text().startswith("not a database")


def test_a_place_that_cannot_be_written(tmp_path: Path):
    for path in (tmp_path / "missing" / "s.sqlite", tmp_path):
        with pytest.raises(OutputError, match="could not be used"):
            Store(path)


def test_a_full_disk_is_an_error_and_the_store_still_opens(tmp_path: Path):
    path = tmp_path / "s.sqlite"
    job = job_of(ferrite())
    with Store(path) as store:
        store.record(job, "text", outcome(job, 6.0))
        pages = store._base.execute("PRAGMA page_count").fetchone()[0]
        store._base.execute(f"PRAGMA max_page_count = {pages}")
        many = [(n, {"a": 1.0 * n}, "x" * 32, "") for n in range(5000)]
        with pytest.raises(OutputError, match=r"full; what was finished before is kept"):
            store.set_points("p", many)
    with Store(path) as store:
        assert store.results_of(job.fingerprint) == {"bl_at_rest_Tm": 6.0}
        assert list(store.rows("p")) == []
        store.set_points("p", many)
        assert len(list(store.rows("p"))) == len(many)
