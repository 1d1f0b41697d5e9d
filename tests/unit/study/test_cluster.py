"""Dask: the same results in the same store, whatever dies, hangs or is not there; TLS."""

from __future__ import annotations

import ast
import os
import shutil
import signal
import socket
import subprocess
from pathlib import Path

import pytest

import motor
from motor.base.errors import InvalidInput, MachineError
from motor.study.cluster import Cluster, Tls
from motor.study.evaluate import job_of
from motor.study.processes import Here
from motor.study.running import read_rows, run
from tests.unit.study.plans import ferrite, small_plan

distributed = pytest.importorskip("distributed")
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
        assert "127.0.0.1" in cluster.caution
        assert "without authentication" in cluster.caution
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
    monkeypatch.setattr("motor.study.cluster.PATIENCE", 1)
    with socket.socket() as unused:
        unused.bind(("127.0.0.1", 0))
        address = f"tcp://127.0.0.1:{unused.getsockname()[1]}"
    with pytest.raises(InvalidInput, match=rf"--scheduler must be the address .*{address}"):
        Cluster(address)
    with pytest.raises(InvalidInput, match="--scheduler must be the address"):
        Cluster("nonsense://x")


def test_a_hung_worker_is_ended_at_the_time_limit(tmp_path: Path):
    cluster = Cluster("local", 1, limit=2.0)
    stopped: list[int] = []

    def stop(event) -> None:
        hear(event)
        if not stopped:
            stopped.append(cluster.local_processes[0])
            os.kill(stopped[0], signal.SIGSTOP)

    hear = cluster._hear
    cluster._client.unsubscribe_topic("magnet-motor-study-begun")
    cluster._client.subscribe_topic("magnet-motor-study-begun", stop)
    task = tuple(job_of(point.design) for point in small_plan(2, 4).points() if point.design)
    try:
        cluster.submit(7, task[:1])
        ((number, lost),) = cluster.collect()
        assert (number, lost.reason) == (
            7,
            "the worker was ended at the time limit of 2 s a design",
        )
        cluster.submit(8, task[1:2])
        ((number, outcomes),) = cluster.collect()
        assert number == 8
        assert outcomes[0].error == ""
        assert stopped[0] not in cluster.local_processes
    finally:
        cluster.close()


def test_no_workers_and_a_scheduler_that_goes_away_are_told(monkeypatch):
    monkeypatch.setattr("motor.study.cluster.WORKERS", 1.0)
    there = distributed.LocalCluster(n_workers=0, dashboard_address=None, host="127.0.0.1")
    try:
        address = there.scheduler_address
        with pytest.raises(InvalidInput, match=rf"have a worker within 1 s; received {address}: n"):
            Cluster(address)
        monkeypatch.setattr("distributed.Client.wait_for_workers", lambda *_, **__: None)
        cluster = Cluster(address)
        assert "neither authenticates nor encrypts" in cluster.caution
        cluster.submit(0, (job_of(ferrite()),))
        with pytest.raises(MachineError, match="has had no worker for 1 s; what is finished is k"):
            cluster.collect()
        there.close()
        with pytest.raises(MachineError, match=f"the scheduler {address} is gone"):
            cluster.collect()
        cluster.close()
    finally:
        there.close()


@pytest.mark.skipif(shutil.which("openssl") is None, reason="makes certificates with openssl")
def test_tls_lets_nobody_else_in(tmp_path: Path, monkeypatch):
    key, certificate = tmp_path / "key.pem", tmp_path / "cert.pem"
    command = "openssl req -x509 -newkey ec -pkeyopt ec_paramgen_curve:prime256v1 -nodes -days 2"
    files = ["-subj", "/CN=localhost", "-keyout", str(key), "-out", str(certificate)]
    subprocess.run([*command.split(), *files], check=True, capture_output=True)
    tls = Tls(certificate, certificate, key)
    cluster = Cluster("local", 1, tls=tls)
    try:
        assert cluster.caution == ""
        cluster.submit(0, (job_of(ferrite()),))
        ((_, outcomes),) = cluster.collect()
        assert outcomes[0].error == ""
        address = cluster._local.scheduler_address
        assert address.startswith("tls://127.0.0.1:")
        monkeypatch.setattr("motor.study.cluster.PATIENCE", 1)
        for other in (address, address.replace("tls", "tcp")):
            with pytest.raises(InvalidInput, match="be the address of a running scheduler"):
                Cluster(other)
    finally:
        cluster.close()
    with pytest.raises(InvalidInput, match="--tls-key must be a file"):
        Tls(certificate, certificate, tmp_path / "none.pem")


def test_nothing_pickled_is_read():
    """Pickles run code when read; only what a process sends to its own workers may be one."""
    root = Path(motor.__file__).parent
    places = [*root.rglob("*.py"), *(root.parent / "geometries").rglob("*.py")]
    assert len(places) > 100
    banned = {"pickle", "cPickle", "dill", "cloudpickle", "shelve", "marshal", "joblib", "yaml"}
    for path in places:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            names: list[str] = []
            if isinstance(node, ast.Import):
                names = [alias.name.split(".")[0] for alias in node.names]
            elif isinstance(node, ast.ImportFrom) and node.module:
                names = [node.module.split(".")[0]]
            elif isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
                # a geometry's file that a design names runs only where --run-code was given
                allowed = node.func.id == "exec" and path.name == "from_file.py"
                assert node.func.id not in ("eval", "exec") or allowed, path
            elif isinstance(node, ast.keyword):
                assert node.arg != "allow_pickle", path
            assert not banned & set(names), path
