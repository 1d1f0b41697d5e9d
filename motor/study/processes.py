"""Engines of a study: where jobs are solved.  Here, or in processes of this machine.

An engine takes numbered tasks (jobs that share a field) and gives back what came of them, in
any order.  A worker that dies is replaced; its task comes back as :class:`Lost`.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import multiprocessing.connection
import os
import signal
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Protocol

from motor.base.errors import InvalidInput
from motor.study.evaluate import Job, Outcome, solve_jobs

__all__ = ["Engine", "Here", "Lost", "Processes", "Task"]

Task = tuple[Job, ...]
THREADS = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")
"""Each worker is one process on one core: more threads only get in each other's way."""


@dataclass(frozen=True)
class Lost:
    """A task whose worker died."""

    reason: str


class Engine(Protocol):
    """What a study runs on."""

    @property
    def workers(self) -> int:
        """How many tasks are solved at once."""

    def submit(self, number: int, task: Task) -> None:
        """Take a task; the number comes back with its outcome."""

    def collect(self) -> list[tuple[int, list[Outcome] | Lost]]:
        """Wait until something is finished and return all that is."""

    def close(self) -> None:
        """Stop all workers; unfinished tasks are dropped."""


class Here:
    """Solve in this very process, one task after the other."""

    def __init__(self) -> None:
        self.workers = 1
        self._waiting: deque[tuple[int, Task]] = deque()

    def submit(self, number: int, task: Task) -> None:
        """Take a task."""
        self._waiting.append((number, task))

    def collect(self) -> list[tuple[int, list[Outcome] | Lost]]:
        """Solve the next task."""
        number, task = self._waiting.popleft()
        return [(number, solve_jobs(task))]

    def close(self) -> None:
        """Drop what waits."""
        self._waiting.clear()


def _work(pipe: multiprocessing.connection.Connection[Any, Any]) -> None:
    """Solve tasks from a pipe until it closes; runs in the worker."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    with contextlib.suppress(EOFError, OSError):
        while True:
            number, task = pipe.recv()
            pipe.send((number, solve_jobs(task)))


@contextlib.contextmanager
def _one_thread() -> Iterator[None]:
    """Let processes that are started inside have one thread of linear algebra each."""
    before = {name: os.environ.get(name) for name in THREADS}
    os.environ.update(dict.fromkeys(THREADS, "1"))
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                del os.environ[name]
            else:
                os.environ[name] = value


class _Worker:
    """One process with its pipe and the task it has."""

    def __init__(self) -> None:
        context = multiprocessing.get_context("spawn")
        self.pipe, theirs = context.Pipe()
        self.process = context.Process(target=_work, args=(theirs,), daemon=True)
        with _one_thread():
            self.process.start()
        theirs.close()
        self.number: int | None = None

    def stop(self) -> None:
        self.pipe.close()
        self.process.terminate()
        self.process.join()
        self.process.close()


class Processes:
    """Solve in worker processes of this machine.

    Parameters
    ----------
    workers : int or None
        How many; None for all cores.
    """

    def __init__(self, workers: int | None = None) -> None:
        count = len(os.sched_getaffinity(0)) if workers is None else workers
        if isinstance(count, bool) or not isinstance(count, int) or count < 1:
            raise InvalidInput("workers", "be a whole number of at least 1", repr(workers))
        self.workers = count
        self._crew: list[_Worker] = []
        self._waiting: deque[tuple[int, Task]] = deque()

    def submit(self, number: int, task: Task) -> None:
        """Take a task."""
        self._waiting.append((number, task))

    def _hand_out(self) -> None:
        """Give waiting tasks to idle workers that live, new ones as needed."""
        for worker in [w for w in self._crew if w.number is None and not w.process.is_alive()]:
            self._crew.remove(worker)
            worker.stop()
        idle = sum(worker.number is None for worker in self._crew)
        for _ in range(min(self.workers - len(self._crew), len(self._waiting) - idle)):
            self._crew.append(_Worker())
        for worker in self._crew:
            if worker.number is None and self._waiting:
                number, task = self._waiting.popleft()
                worker.number = number
                with contextlib.suppress(OSError):  # a dead worker shows when it is listened to
                    worker.pipe.send((number, task))

    def collect(self) -> list[tuple[int, list[Outcome] | Lost]]:
        """Wait until a worker has finished or died."""
        found: list[tuple[int, list[Outcome] | Lost]] = []
        self._hand_out()
        busy = {w.pipe: w for w in self._crew if w.number is not None}
        for pipe in multiprocessing.connection.wait(list(busy)):
            worker = busy[pipe]  # type: ignore[index]
            number = worker.number
            assert number is not None
            try:
                found.append(worker.pipe.recv())
                worker.number = None
            except (EOFError, OSError):
                worker.process.join()
                reason = f"the worker died (exit code {worker.process.exitcode})"
                found.append((number, Lost(reason)))
                self._crew.remove(worker)
                worker.stop()
        return found

    def close(self) -> None:
        """Stop all workers."""
        self._waiting.clear()
        for worker in self._crew:
            worker.stop()
        self._crew.clear()
