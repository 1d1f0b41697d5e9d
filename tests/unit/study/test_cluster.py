"""Dask: the same results in the same store, also when workers are killed; no scheduler there."""

from __future__ import annotations

import os
import signal
import socket
from pathlib import Path

import pytest

from motor.base.errors import InvalidInput
from motor.study.cluster import Cluster
from motor.study.processes import Here
from motor.study.running import read_rows, run
from tests.unit.study.plans import small_plan

pytest.importorskip("distributed")
pytestmark = [
    pytest.mark.filterwarnings("ignore"),  # of the cluster's own event loops
]


def test_a_local_cluster_gives_the_same_and_survives_killed_workers(tmp_path: Path):
    plan = small_plan(4, 6)
    run(plan, tmp_path / "here.sqlite", engine=Here())
    cluster = Cluster("local", 2)
    killed: list[int] = []

    def kill_one(done: int, _: int) -> None:
        if not killed and done > 6:
            killed.append(cluster.local_processes[0])
            os.kill(killed[0], signal.SIGKILL)

    try:
        assert cluster.workers == 2
        done = run(plan, tmp_path / "there.sqlite", engine=cluster, progress=kill_one)
    finally:
        cluster.close()
    assert killed
    assert done.solved == 20
    rows, right = (read_rows(tmp_path / f"{n}.sqlite", plan) for n in ("there", "here"))
    for row, wanted in zip(rows, right, strict=True):
        assert row.error == wanted.error
        if wanted.results is not None:
            assert row.results is not None
            key = "bl_at_rest_Tm"
            assert row.results[key] == pytest.approx(wanted.results[key], rel=1e-9)


def test_a_scheduler_that_is_not_there_is_named(monkeypatch):
    monkeypatch.setattr("motor.study.cluster.PATIENCE", "1s")
    with socket.socket() as unused:
        unused.bind(("127.0.0.1", 0))
        address = f"tcp://127.0.0.1:{unused.getsockname()[1]}"
    with pytest.raises(InvalidInput, match=rf"--scheduler must be the address .*{address}"):
        Cluster(address)
    with pytest.raises(InvalidInput, match="--scheduler must be the address"):
        Cluster("nonsense://x")
