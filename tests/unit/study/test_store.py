"""The store: versions, foreign files, damage, several writers, a full disk."""

from __future__ import annotations

import dataclasses
import os
import random
import re
import signal
import socket
import sqlite3
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from motor.base.errors import InvalidInput, OutputError
from motor.base.whole_files import asking
from motor.study import store_file
from motor.study.evaluate import Job, Outcome, job_of
from motor.study.store import SCHEMA_VERSION, Claim, Row, Store, repair
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
    with pytest.raises(InvalidInput, match=r"store must be of version 2; received .*version 3"):
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


# damage


def filled(path: Path, count: int = 30) -> str:
    """Write a store of some designs and their points; return the plan."""
    job = job_of(ferrite())
    with Store(path) as store:
        keys = [f"{n:032x}" for n in range(count)]
        for n, key in enumerate(keys):
            own = dataclasses.replace(job, fingerprint=key)
            store.record(own, f"name = {n}", outcome(own, 6.0 + n))
        store.set_points("p", [(n, {"a": 1.0 * n}, key, "") for n, key in enumerate(keys)])
        store.admit("mine", "f" * 32)
    return "p"


def read(path: Path) -> list[Row]:
    with Store(path) as store:
        return list(store.rows("p"))


def test_a_changed_result_is_named_and_solved_again_on_request(tmp_path: Path):
    path = tmp_path / "s.sqlite"
    plan = filled(path)
    base = sqlite3.connect(path)
    base.execute("UPDATE designs SET results = replace(results, '13.0', '19.0')")
    base.execute("UPDATE points SET parameters = '{\"a\": 5.5}' WHERE number = 21")
    base.commit()
    base.close()
    for look in (lambda s: list(s.rows(plan)), lambda s: s.claim([f"{7:032x}"])):
        with (
            Store(path) as store,
            pytest.raises(InvalidInput, match=r": point 7, point 21 differ from their checks.*--r"),
        ):
            look(store)
    kept, copy = repair(path)
    assert kept == 29
    assert copy.read_bytes()[:6] == b"SQLite"
    with Store(path) as store:
        known = {f"{n:032x}" for n in range(30) if n != 7}
        assert store.finished(f"{n:032x}" for n in range(30)) == known
        assert store.claim([f"{7:032x}"]).ours == {f"{7:032x}"}
        store.admit("mine", "another")
        with pytest.raises(InvalidInput, match="of the study 'mine'"):
            store.admit("hers", "other")


@pytest.mark.parametrize("seed", range(60))
def test_flipped_bits_give_the_same_rows_or_a_clear_error(tmp_path: Path, seed: int):
    path = tmp_path / "s.sqlite"
    plan = filled(path)
    right = read(path)
    data, draw = bytearray(path.read_bytes()), random.Random(seed)
    for _ in range(1 + seed % 3):
        data[draw.randrange(len(data))] ^= 1 << draw.randrange(8)
    path.write_bytes(data)
    try:
        assert read(path) == right
        return
    except InvalidInput as error:
        words = str(error)
    if "--repair" not in words:  # its first hundred bytes say that it is something else
        assert re.search(rf"store must be (a store|of version 2).*{path}", words)
        return
    repair(path)
    with Store(path) as store:
        store.set_points(plan, [(n, {"a": 1.0 * n}, f"{n:032x}", "") for n in range(30)])
        found = list(store.rows(plan))
    for row, wanted in zip(found, right, strict=True):
        assert row in (wanted, dataclasses.replace(wanted, results=None, error="not solved yet"))


# several programs


def test_two_writers_never_solve_the_same(tmp_path: Path):
    path = tmp_path / "s.sqlite"
    job = job_of(ferrite())
    keys = [job.fingerprint, "a" * 32]
    with Store(path) as one, Store(path) as two:
        assert one.claim(keys).ours == set(keys)
        assert two.claim(keys) == Claim(set(), set(keys), set())
        one.record(job, "text", outcome(job, 6.0))
        assert two.claim(keys) == Claim({keys[0]}, {keys[1]}, set())
        one.release(keys)
        assert two.claim(keys) == Claim({keys[0]}, set(), {keys[1]})
        assert one.claim(keys).others == {keys[1]}
        two.close()
        assert one.claim(keys).ours == {keys[1]}
        two._base = sqlite3.connect(path)


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork")
def test_claims_of_a_killed_program_are_void_and_its_store_is_checked(tmp_path: Path, monkeypatch):
    path = tmp_path / "s.sqlite"
    plan = filled(path)
    child = os.fork()
    if child == 0:
        store = Store(path)
        store.claim(["a" * 32])
        os.kill(os.getpid(), signal.SIGKILL)
    while Path(f"/proc/{child}/stat").read_text().rpartition(")")[2].split()[0] != "Z":
        time.sleep(0.01)  # dead and not yet waited for
    checked: list[str] = []
    monkeypatch.setattr(store_file, "CHECKED_ALWAYS", 0)
    real = store_file._connected

    def traced(where: Path) -> sqlite3.Connection:
        base = real(where)
        base.set_trace_callback(lambda sql: checked.append(sql) if "integrity" in sql else None)
        return base

    monkeypatch.setattr(store_file, "_connected", traced)
    with Store(path) as store:
        assert len(checked) == 1
        assert store.claim(["a" * 32]).ours == {"a" * 32}
        with pytest.raises(InvalidInput, match=r"be used by no other run; received .*process"):
            repair(path)
    os.waitpid(child, 0)
    with Store(path) as store:
        assert len(checked) == 1
        assert len(list(store.rows(plan))) == 30


def test_a_process_number_given_to_another_process_is_not_the_writer(tmp_path: Path):
    path = tmp_path / "s.sqlite"
    filled(path)
    base = sqlite3.connect(path)
    host = socket.gethostname()
    others = [("old", host, 1, "1"), ("here", host, os.getpid(), "1"), ("far", "far", 1, "")]
    for n, (key, at, pid, birth) in enumerate(others):
        seen = time.time() if key == "far" else 0.0
        base.execute("INSERT INTO writers VALUES (?, ?, ?, ?, ?)", (key, at, pid, birth, seen))
        base.execute("INSERT INTO claims VALUES (?, ?)", ("xyz"[n] * 32, key))
    base.commit()
    base.close()
    with Store(path) as store:
        found = store.claim([letter * 32 for letter in "xyz"])
        assert found.ours == {"x" * 32, "y" * 32}
        assert found.others == {"z" * 32}


def test_a_study_keeps_its_store_under_another_name_or_with_other_values(tmp_path: Path):
    with Store(tmp_path / "s.sqlite") as store:
        store.admit("gap", "print")
        store.admit("gap", "other print")
        store.admit("renamed", "print")
        with pytest.raises(InvalidInput, match=r"belong to the study 'coil'; received .* 'gap'"):
            store.admit("coil", "third")
        with asking(force=True):
            store.admit("coil", "third")
        store.admit("coil", "third")


def test_programs_that_make_a_store_at_once_all_open_it(tmp_path):
    def opens_and_closes(path: Path) -> None:
        Store(path).close()

    for k in range(25):
        with ThreadPoolExecutor(4) as pool:
            made = [pool.submit(opens_and_closes, tmp_path / f"{k}.sqlite") for _ in range(4)]
        assert [one.exception() for one in made] == [None] * 4
