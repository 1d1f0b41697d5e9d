"""Engines of a study: where jobs are solved.  Here, or in processes of this machine.

An engine takes numbered tasks (jobs that share a field) and gives back what came of them, in
any order.  A worker that dies is replaced; its task comes back as :class:`Lost`.
"""

from __future__ import annotations

import contextlib
import importlib
import math
import multiprocessing
import multiprocessing.connection
import os
import signal
import time
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Protocol

from geometries import code_permitted, running_code
from motor.base.errors import InvalidInput, MachineError
from motor.study.evaluate import Job, Outcome, solve_jobs

__all__ = ["Engine", "Here", "Lost", "Processes", "Task"]

Task = tuple[Job, ...]
THREADS = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")
"""Each worker is one process on one core: more threads only get in each other's way."""

LATER = ("gmsh", "motor.field.solve", "motor.results.motor_result")
"""What a worker imports before its first task."""
START = 60.0
"""Seconds that a process may take to start, beside its task's time."""


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


def _work(pipe: multiprocessing.connection.Connection[Any, Any], permitted: bool) -> None:
    """Solve tasks from a pipe until it closes; runs in the worker.

    Files that designs name run as code where that was ``permitted`` to this program's user.
    """
    with running_code() if permitted else contextlib.nullcontext():
        _solve_all(pipe)


def _solve_all(pipe: multiprocessing.connection.Connection[Any, Any]) -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    with contextlib.suppress(ImportError, OSError):  # a design's time is not that of imports
        for name in LATER:
            importlib.import_module(name)
    with contextlib.suppress(EOFError, OSError):
        pipe.send(None)  # it has started
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
        self.process = context.Process(target=_work, args=(theirs, code_permitted()), daemon=True)
        with _one_thread():
            self.process.start()
        theirs.close()
        self.started = False
        self.number: int | None = None
        self.designs = 0
        self.deadline = math.inf

    def give(self, number: int, task: Task, limit: float) -> None:
        """Hand over a task; its time runs from here, or from the process's start."""
        self.number, self.designs = number, len(task)
        self.set_deadline(limit)
        with contextlib.suppress(OSError):  # a dead worker shows when it is listened to
            self.pipe.send((number, task))

    def set_deadline(self, limit: float) -> None:
        self.deadline = time.monotonic() + limit * self.designs + START * (not self.started)

    def stop(self) -> None:
        self.pipe.close()
        self.process.kill()  # a stopped or hung one does not hear SIGTERM
        self.process.join()
        self.process.close()


class Processes:
    """Solve in worker processes of this machine.

    Parameters
    ----------
    workers : int or None
        How many; None for all cores.
    limit : float
        Seconds for a design; a worker that takes longer is replaced, its task is :class:`Lost`.
    """

    def __init__(self, workers: int | None = None, limit: float = math.inf) -> None:
        count = len(os.sched_getaffinity(0)) if workers is None else workers
        if isinstance(count, bool) or not isinstance(count, int) or count < 1:
            raise InvalidInput("workers", "be a whole number of at least 1", repr(workers))
        self.workers, self.limit = count, limit
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
                worker.give(number, task, self.limit)

    def collect(self) -> list[tuple[int, list[Outcome] | Lost]]:
        """Wait until a worker has finished, died or run out of time.

        Raises
        ------
        MachineError
            If a worker ends by itself before it has started: the next would do the same.
        """
        found: list[tuple[int, list[Outcome] | Lost]] = []
        self._hand_out()
        while not found:
            busy = {w.pipe: w for w in self._crew if w.number is not None}
            left = min(w.deadline for w in busy.values()) - time.monotonic()
            wait = None if math.isinf(left) else max(0.0, left)
            ready = multiprocessing.connection.wait(list(busy), wait)
            for worker in [busy[pipe] for pipe in ready]:  # type: ignore[index]
                found += self._heard(worker)
            now = time.monotonic()
            for worker in [w for w in busy.values() if w.pipe not in ready and w.deadline < now]:
                words = f"the worker was ended at the time limit of {self.limit:g} s a design"
                found.append(self._dropped(worker, words))
        return found

    def _heard(self, worker: _Worker) -> list[tuple[int, list[Outcome] | Lost]]:
        """Return what a worker has sent, or that it died; nothing if it has just started."""
        try:
            message = worker.pipe.recv()
        except (EOFError, OSError):
            worker.process.join()
            code = worker.process.exitcode
            if not worker.started and code is not None and code > 0:
                raise MachineError(
                    f"a worker process ended before it had started (exit code {code}); a script "
                    'that runs a study must do so under  if __name__ == "__main__":'
                ) from None
            return [self._dropped(worker, f"the worker died (exit code {code})")]
        if message is None:
            worker.started = True
            worker.set_deadline(self.limit)
            return []
        worker.number, worker.deadline = None, math.inf
        return [message]

    def _dropped(self, worker: _Worker, reason: str) -> tuple[int, Lost]:
        """Stop a worker and return its task as lost."""
        number = worker.number
        assert number is not None
        self._crew.remove(worker)
        worker.stop()
        return number, Lost(reason)

    def close(self) -> None:
        """Stop all workers."""
        self._waiting.clear()
        for worker in self._crew:
            worker.stop()
        self._crew.clear()
