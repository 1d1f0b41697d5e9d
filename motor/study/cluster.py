"""The engine beyond one machine: Dask distributed (optional extra ``cluster``).

What a million designs would cost: at 0.1 s each 28 hours on one core, half an hour on 64 cores.
Designs that differ only in the coil share a field, so a plan with 20 windings per motor takes a
tenth of that.  A row of the store is about 4 kB: 4 GB, written by one process at some thousands
of rows a second.  The layout: the store and this program on one machine, one single-threaded
worker per core of the others with the same version of this project installed, and twice as many
tasks in flight as there are workers, so that the scheduler's memory does not grow with the plan.

Whoever reaches a scheduler can run code on its workers and on who asks it, unless all parts speak
TLS.  With one certificate for every part, signed by an authority of your own::

    dask scheduler --protocol tls --tls-ca-file ca.pem --tls-cert part.pem --tls-key part-key.pem
    dask worker tls://host:8786 --nthreads 1 --nworkers -1 --tls-ca-file ... (the same three)
    motor study my.toml --out results --scheduler tls://host:8786 --tls-ca ca.pem --tls-cert
        part.pem --tls-key part-key.pem
"""

from __future__ import annotations

import asyncio
import gc
import importlib
import logging
import math
import queue
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from motor.base.errors import InvalidInput, MachineError
from motor.study.evaluate import Outcome, solve_jobs
from motor.study.processes import LATER, THREADS, Lost, Task

__all__ = ["Cluster", "Tls"]

PATIENCE = 10.0
"""Seconds to look for a scheduler."""
WORKERS = 60.0
"""Seconds to wait for the first worker, and for one when the last has gone."""
LOOK = 0.5
"""Seconds between looks at workers and time limits."""
ANSWER = 10.0
"""Seconds that a scheduler may take to say how many workers it has."""
BEGUN = "magnet-motor-study-begun"
"""Topic under which a worker tells that it has begun a task."""
DIED = ("KilledWorker", "CancelledError", "FutureCancelledError")


@dataclass(frozen=True)
class Tls:
    """Files with which the parts of a cluster know each other, PEM.

    Parameters
    ----------
    ca : Path
        Certificate of the authority that has signed all others.
    certificate, key : Path
        Of this part; a local cluster uses them for all of its parts.
    """

    ca: Path
    certificate: Path
    key: Path

    def __post_init__(self) -> None:
        for name, path in (("ca", self.ca), ("cert", self.certificate), ("key", self.key)):
            if not path.is_file():
                raise InvalidInput(f"--tls-{name}", "be a file", str(path))


@dataclass(frozen=True)
class _Flying:
    """A task that a cluster has."""

    number: int
    designs: int
    future: Any


class Cluster:
    """Solve on a Dask cluster.

    Parameters
    ----------
    scheduler : str
        Address such as "tcp://host:8786", or "local" for a cluster of processes on this machine.
    workers : int or None
        Of a local cluster; None for all cores.
    limit : float
        Seconds for a design, from when a worker begins it; the worker is then restarted by its
        nanny, and its task is :class:`Lost`.
    tls : Tls or None
        None for a connection that is neither encrypted nor authenticated.

    Raises
    ------
    InvalidInput
        If the package is not installed, no scheduler answers, or it has no worker in time.
    """

    def __init__(
        self,
        scheduler: str,
        workers: int | None = None,
        limit: float = math.inf,
        tls: Tls | None = None,
    ) -> None:
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
        for part in ("distributed.client", "distributed.nanny", "distributed.comm"):
            logging.getLogger(part).setLevel(logging.CRITICAL)  # told by our own errors
        self.limit, self.scheduler, self.tls = limit, scheduler, tls
        self._local: Any = None
        self._client: Any = None
        self._flying: dict[str, _Flying] = {}
        self._begun: dict[str, tuple[float, str]] = {}
        self._done: queue.SimpleQueue[str] = queue.SimpleQueue()
        self._worked = time.monotonic()
        try:
            self._connect(workers, settings)
        except BaseException:
            self.close()
            raise

    def _connect(self, workers: int | None, settings: Any) -> None:
        """Start or find the scheduler, and wait for its first worker."""
        security, address, wrong = _security(self._dask, self.tls), self.scheduler, ""
        try:
            if address == "local":
                settings.config.set(
                    {f"distributed.nanny.pre-spawn-environ.{name}": "1" for name in THREADS}
                )
                self._local = address = self._dask.LocalCluster(
                    n_workers=workers,
                    threads_per_worker=1,
                    dashboard_address=None,
                    host="127.0.0.1",
                    security=security,
                    protocol="tcp://" if self.tls is None else "tls://",
                )
            self._client = self._dask.Client(
                address, timeout=PATIENCE, set_as_default=False, security=security
            )
        except (OSError, ValueError, RuntimeError, TypeError) as cause:
            wrong = str(cause)
        if wrong:
            gc.collect()  # a client that failed, collected while the next one starts, blocks it
            raise InvalidInput(
                "--scheduler",
                f"be the address of a running scheduler that answers within {PATIENCE:g} s",
                f"{self.scheduler} ({wrong})",
            )
        self._client.subscribe_topic(BEGUN, self._hear)
        try:
            self._client.wait_for_workers(1, timeout=WORKERS)
        except (TimeoutError, OSError):
            raise InvalidInput(
                "--scheduler", f"have a worker within {WORKERS:g} s", f"{self.scheduler}: none"
            ) from None

    @property
    def caution(self) -> str:
        """What to be careful about with such a connection; "" with TLS."""
        if self.tls is not None:
            return ""
        if self._local is not None:
            return (
                f"the scheduler listens on {self._local.scheduler_address} without authentication: "
                "whoever can log in to this machine can run code as you; --workers needs no port"
            )
        return (
            f"{self.scheduler} neither authenticates nor encrypts: only in a network that you "
            "trust; --tls-ca, --tls-cert and --tls-key change that"
        )

    @property
    def workers(self) -> int:
        """Threads of all workers at the moment; at least 1."""
        return max(1, self._threads())

    def _threads(self) -> int:
        """Return how many threads all workers have; 0 if the scheduler does not answer."""
        try:
            found = self._client.sync(self._client.scheduler.ncores, callback_timeout=ANSWER)
        except (OSError, TimeoutError, RuntimeError, ValueError):
            return 0
        return int(sum(found.values()))

    @property
    def local_processes(self) -> list[int]:
        """Process ids of a local cluster's workers."""
        nannies = [] if self._local is None else self._local.workers.values()
        return [n.process.pid for n in nannies if n.process is not None]

    def submit(self, number: int, task: Task) -> None:
        """Take a task."""
        future = self._client.submit(_solve, task, pure=False)
        self._flying[future.key] = _Flying(number, len(task), future)
        future.add_done_callback(lambda done: self._done.put(done.key))

    def _hear(self, event: tuple[float, Any]) -> None:
        """Note that a worker has begun a task; runs in a thread of the client."""
        said = event[1]
        self._begun[said["key"]] = (time.monotonic(), said["worker"])

    def collect(self) -> list[tuple[int, list[Outcome] | Lost]]:
        """Wait until something is finished or out of time.

        Raises
        ------
        MachineError
            If no worker has been there for as long as a first one is waited for.
        """
        found: list[tuple[int, list[Outcome] | Lost]] = []
        while not found:
            try:
                found += self._finished(self._done.get(timeout=LOOK))
            except queue.Empty:
                self._look_for_workers()
                found += self._overdue()
                continue
            self._worked = time.monotonic()
        return found

    def _finished(self, key: str) -> list[tuple[int, list[Outcome] | Lost]]:
        """Return what came of a task; nothing if it was given up before."""
        task = self._flying.pop(key, None)
        self._begun.pop(key, None)
        if task is None:
            return []
        outcome: list[Outcome] | Lost
        try:
            outcome = task.future.result()
        except (Exception, asyncio.CancelledError) as error:
            if self._client.status != "running":
                raise MachineError(self._gone("is gone")) from None
            kind = type(error).__name__
            outcome = Lost("the worker died" if kind in DIED else f"{kind}: {error}")
        task.future.release()
        return [(task.number, outcome)]

    def _gone(self, what: str) -> str:
        return (
            f"the scheduler {self.scheduler} {what}; what is finished is kept, the same command "
            "goes on"
        )

    def _look_for_workers(self) -> None:
        if self._threads():
            self._worked = time.monotonic()
        elif time.monotonic() - self._worked > WORKERS:
            raise MachineError(
                self._gone(f"does not answer or has had no worker for {WORKERS:g} s")
            )

    def _overdue(self) -> list[tuple[int, list[Outcome] | Lost]]:
        """Give up tasks that are out of time, and restart their workers."""
        found: list[tuple[int, list[Outcome] | Lost]] = []
        for key, (since, worker) in list(self._begun.items()):
            task = self._flying.get(key)
            if task is None:
                del self._begun[key]  # finished, or another program's
            elif time.monotonic() - since > self.limit * task.designs:
                del self._flying[key], self._begun[key]
                task.future.cancel()
                words = f"the worker was ended at the time limit of {self.limit:g} s a design"
                try:
                    self._client.restart_workers([worker], timeout=ANSWER, raise_for_error=False)
                except (OSError, TimeoutError, ValueError, RuntimeError):
                    words = f"out of time, and {worker} has no nanny to end it: do it by hand"
                found.append((task.number, Lost(words)))
        return found

    def close(self) -> None:
        """Leave the cluster; a local one is stopped."""
        self._flying.clear()
        if self._client is not None:
            self._client.close()
        if self._local is not None:
            self._local.close()


def _solve(task: Task) -> list[Outcome]:
    """Solve a task on a worker, which tells when it begins."""
    for name in LATER:  # a design's time is not that of imports
        importlib.import_module(name)
    worker = importlib.import_module("distributed").get_worker()
    worker.log_event(BEGUN, {"key": worker.get_current_task(), "worker": worker.address})
    return solve_jobs(task)


def _security(dask: Any, tls: Tls | None) -> Any:
    if tls is None:
        return None
    parts = {
        f"tls_{part}_{end}": str(path)
        for part in ("client", "scheduler", "worker")
        for end, path in (("cert", tls.certificate), ("key", tls.key))
    }
    return dask.Security(tls_ca_file=str(tls.ca), require_encryption=True, **parts)
