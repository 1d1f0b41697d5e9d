"""The engine beyond one machine: Dask distributed (optional extra ``cluster``).

What a million designs would cost: at 0.1 s each 28 hours on one core, half an hour on 64 cores.
Designs that differ only in the coil share a field, so a plan with 20 windings per motor takes a
tenth of that.  A row of the store is about 4 kB: 4 GB, written by one process at some thousands
of rows a second.  The layout: the store and this program on one machine, one single-threaded
worker per core of the others with the same version of this project installed, and twice as many
tasks in flight as there are workers, so that the scheduler's memory does not grow with the plan.
"""

from __future__ import annotations

import importlib
from typing import Any

from motor.base.errors import InvalidInput
from motor.study.evaluate import Outcome, solve_jobs
from motor.study.processes import THREADS, Lost, Task

__all__ = ["Cluster"]

PATIENCE = "10s"
"""How long to look for a scheduler."""


class Cluster:
    """Solve on a Dask cluster.

    Parameters
    ----------
    scheduler : str
        Address such as "tcp://host:8786", or "local" for a cluster of processes on this machine.
    workers : int or None
        Of a local cluster; None for all cores.

    Raises
    ------
    InvalidInput
        If the package is not installed or no scheduler answers.
    """

    def __init__(self, scheduler: str, workers: int | None = None) -> None:
        try:
            self._dask: Any = importlib.import_module("distributed")
            settings: Any = importlib.import_module("dask")
        except ImportError:
            raise InvalidInput(
                "--scheduler",
                "come with the package distributed (pip install 'magnet-motor-study[cluster]')",
                scheduler,
            ) from None
        # a local scheduler gives a task back at once, and running.py hands it out once more; one
        # elsewhere forgives as many deaths as its own allowed-failures says
        settings.config.set({"distributed.scheduler.allowed-failures": 0})
        self._local: Any = None
        address: Any = scheduler
        if scheduler == "local":
            settings.config.set(
                {f"distributed.nanny.pre-spawn-environ.{name}": "1" for name in THREADS}
            )
            self._local = address = self._dask.LocalCluster(
                n_workers=workers, threads_per_worker=1, dashboard_address=None
            )
        try:
            self._client = self._dask.Client(address, timeout=PATIENCE, set_as_default=False)
        except (OSError, ValueError) as cause:
            raise InvalidInput(
                "--scheduler", "be the address of a running scheduler", f"{scheduler} ({cause})"
            ) from None
        self._done = self._dask.as_completed(loop=self._client.loop)
        self._number: dict[Any, int] = {}

    @property
    def workers(self) -> int:
        """Threads of all workers at the moment; at least 1."""
        return max(1, int(sum(self._client.nthreads().values())))

    @property
    def local_processes(self) -> list[int]:
        """Process ids of a local cluster's workers."""
        nannies = [] if self._local is None else self._local.workers.values()
        return [n.process.pid for n in nannies if n.process is not None]

    def submit(self, number: int, task: Task) -> None:
        """Take a task."""
        future = self._client.submit(solve_jobs, task, pure=False)
        self._number[future.key] = number
        self._done.add(future)

    def collect(self) -> list[tuple[int, list[Outcome] | Lost]]:
        """Wait until something is finished."""
        found: list[tuple[int, list[Outcome] | Lost]] = []
        for future in (next(self._done), *self._done.next_batch(block=False)):
            number = self._number.pop(future.key)
            error = future.exception()
            if error is None:
                found.append((number, future.result()))
            else:
                kind = type(error).__name__
                died = kind in ("KilledWorker", "CancelledError", "FutureCancelledError")
                found.append((number, Lost("the worker died" if died else f"{kind}: {error}")))
            future.release()
        return found

    def close(self) -> None:
        """Leave the cluster; a local one is stopped."""
        self._done.clear()
        self._client.close()
        if self._local is not None:
            self._local.close()
