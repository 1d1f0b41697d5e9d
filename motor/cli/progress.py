"""What a study that runs at a terminal needs: an engine, and a bar that shows how far it is."""

from __future__ import annotations

import contextlib
import sys
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from motor.study.processes import Engine

__all__ = ["TIME_LIMIT", "engine_of", "progress_bar"]

TIME_LIMIT = 120.0
"""Seconds for a design before its worker is ended."""


@contextlib.contextmanager
def engine_of(
    workers: int | None = None, scheduler: str | None = None, time_limit: float = TIME_LIMIT
) -> Iterator[Engine]:
    """Give processes of this machine, or a cluster; closed at the end."""
    from motor.study.processes import Processes

    engine: Engine
    if scheduler is not None:
        from motor.study.cluster import Cluster

        engine = Cluster(scheduler, workers)
    else:
        engine = Processes(workers, time_limit)
    try:
        yield engine
    finally:
        engine.close()


@contextlib.contextmanager
def progress_bar(label: str, *, shown: bool = True) -> Iterator[Callable[..., None]]:
    """Give the function that moves a bar with rate and time left on standard error.

    The bar is there only if standard error is a terminal and it is to be ``shown``.
    """
    from rich.console import Console
    from rich.progress import (
        BarColumn,
        MofNCompleteColumn,
        Progress,
        ProgressColumn,
        Task,
        TextColumn,
        TimeRemainingColumn,
    )
    from rich.text import Text

    class Rate(ProgressColumn):
        def render(self, task: Task) -> Text:
            speed = task.finished_speed or task.speed
            return Text("" if speed is None else f"{speed:.1f} designs/s")

    bar = Progress(
        TextColumn("{task.description}"),
        BarColumn(),
        MofNCompleteColumn(),
        Rate(),
        TimeRemainingColumn(),
        console=Console(stderr=True),
        disable=not (shown and sys.stderr.isatty()),
    )
    with bar:
        line = bar.add_task(label, total=None)

        def move(done: int, total: int | None = None) -> None:
            bar.update(line, completed=done, total=total)

        yield move
