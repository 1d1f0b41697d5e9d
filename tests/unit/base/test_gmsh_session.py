"""gmsh is one for the process: threads take turns, and a caller's open session is left as found."""

from __future__ import annotations

import asyncio
import os
import subprocess
import sys
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest

from motor.base.gmsh_session import gmsh_session
from motor.design.design import Design
from motor.design.starters import starter
from motor.results.motor_result import solve

KINDS = ("outside-magnet", "inside-magnet")
OPTIONS = {"Mesh.ElementOrder": 2.0, "Mesh.MeshSizeFactor": 0.3, "Geometry.Tolerance": 1e-3}


def figures(design: Design) -> dict[str, Any]:
    return solve(design).summary()


@pytest.fixture(scope="module")
def serial() -> dict[str, dict[str, Any]]:
    return {kind: figures(starter(kind)) for kind in KINDS}


def test_eight_threads_solve_what_one_does(serial: dict[str, dict[str, Any]]) -> None:
    kinds = [KINDS[k % 2] for k in range(24)]
    with ThreadPoolExecutor(8) as pool:
        found = list(pool.map(lambda kind: figures(starter(kind)), kinds))
    assert found == [serial[kind] for kind in kinds]


def test_tasks_of_an_event_loop_solve_what_one_does(serial: dict[str, dict[str, Any]]) -> None:
    async def together() -> list[dict[str, Any]]:
        return await asyncio.gather(*(asyncio.to_thread(figures, starter(k)) for k in KINDS * 3))

    assert asyncio.run(together()) == [serial[kind] for kind in KINDS * 3]


@pytest.fixture
def callers() -> Iterator[Any]:
    import gmsh

    gmsh.initialize()
    gmsh.option.setNumber("General.Terminal", 0)
    gmsh.model.add("mine")
    gmsh.model.occ.addBox(0, 0, 0, 1, 1, 1)
    gmsh.model.occ.synchronize()
    gmsh.model.mesh.generate(2)
    for name, value in OPTIONS.items():
        gmsh.option.setNumber(name, value)
    yield gmsh
    gmsh.finalize()


def test_a_callers_session_is_left_as_found(callers: Any, serial: dict[str, Any]) -> None:
    nodes, models = len(callers.model.mesh.getNodes()[0]), callers.model.list()
    assert figures(starter(KINDS[0])) == serial[KINDS[0]]
    assert callers.isInitialized()
    assert (callers.model.list(), callers.model.getCurrent()) == (models, "mine")
    assert len(callers.model.mesh.getNodes()[0]) == nodes
    assert {name: callers.option.getNumber(name) for name in OPTIONS} == OPTIONS


@pytest.mark.parametrize("name", ["", "section", "guest", "mesh", "solids"])
def test_a_callers_model_of_any_name_is_left_as_found(name: str, serial: dict[str, Any]) -> None:
    import gmsh

    gmsh.initialize()
    try:
        gmsh.option.setNumber("General.Terminal", 0)
        if name:
            gmsh.model.add(name)
        gmsh.model.occ.addBox(0, 0, 0, 1, 1, 1)
        gmsh.model.occ.synchronize()
        models = gmsh.model.list()
        assert figures(starter(KINDS[0])) == serial[KINDS[0]]
        assert (gmsh.model.list(), gmsh.model.getCurrent()) == (models, name)
        assert gmsh.model.getEntities(3) == [(3, 1)]
    finally:
        gmsh.finalize()


def test_a_callers_session_survives_a_failure(callers: Any) -> None:
    def fail() -> None:
        with gmsh_session() as gmsh:
            gmsh.model.add("another")
            raise RuntimeError

    with pytest.raises(RuntimeError):
        fail()
    assert callers.model.getCurrent() == "mine"
    assert {name: callers.option.getNumber(name) for name in OPTIONS} == OPTIONS


@pytest.mark.skipif(sys.platform == "win32", reason="no fork there")
def test_a_forked_process_has_a_lock_of_its_own() -> None:
    code = (
        "import os, motor\n"
        "from motor.base import gmsh_session as s\n"
        "with s.gmsh_session():\n"
        "    child = os.fork()\n"
        "    if not child:\n"
        "        os._exit(0 if s._LOCK.acquire(timeout=5) else 1)\n"
        "    assert os.waitpid(child, 0)[1] == 0\n"
    )
    subprocess.run([sys.executable, "-W", "ignore", "-c", code], check=True, timeout=60)


@pytest.mark.skipif(os.name != "posix", reason="signals of POSIX")
def test_a_peer_that_is_gone_does_not_end_the_process():
    script = (
        "import os, threading\n"
        "from motor.base.gmsh_session import gmsh_session\n"
        "def write():\n"
        "    end, pipe = os.pipe()\n"
        "    os.close(end)\n"
        "    try:\n"
        "        os.write(pipe, b'x')\n"
        "    except BrokenPipeError:\n"
        "        print('told')\n"
        "def use():\n"
        "    with gmsh_session():\n"
        "        write()\n"
        "    write()\n"
        "use()\n"
        "thread = threading.Thread(target=use)\n"
        "thread.start()\n"
        "thread.join()\n"
    )
    found = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True)
    assert (found.returncode, found.stdout.split()) == (0, ["told"] * 4), found.stderr
