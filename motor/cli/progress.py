"""What a study that runs at a terminal needs: an engine, and a bar that shows how far it is."""

from __future__ import annotations

import contextlib
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from motor.base.media import terminal_text

if TYPE_CHECKING:
    from motor.study.cluster import Tls
    from motor.study.processes import Engine

__all__ = ["TIME_LIMIT", "engine_of", "progress_bar", "tls_of"]

TIME_LIMIT = 120.0
"""Seconds for a design before its worker is ended."""
MINUTE = 60.0
"""Seconds between two lines of progress where there is no terminal."""


@contextlib.contextmanager
def engine_of(
    workers: int | None = None,
    scheduler: str | None = None,
    time_limit: float = TIME_LIMIT,
    tls: Tls | None = None,
    say: Callable[[str], None] | None = None,
) -> Iterator[Engine]:
    """Give processes of this machine, or a cluster, whose caution is said; closed at the end."""
    from motor.base.errors import InvalidInput
    from motor.study.processes import Processes

    if not time_limit > 0:
        raise InvalidInput("--time-limit", "be greater than 0 s", f"{time_limit:g}")
    engine: Engine
    if scheduler is not None:
        from motor.study.cluster import Cluster

        cluster = engine = Cluster(scheduler, workers, time_limit, tls)
        if say is not None and cluster.caution:
            say(f"caution: {cluster.caution}")
    else:
        engine = Processes(workers, time_limit)
    try:
        yield engine
    finally:
        engine.close()


def tls_of(
    scheduler: str | None, ca: Path | None, cert: Path | None, key: Path | None
) -> Tls | None:
    """Return the files with which a cluster's parts know each other; None if none is given."""
    if ca is None and cert is None and key is None:
        return None
    from motor.base.errors import InvalidInput
    from motor.study.cluster import Tls

    if ca is None or cert is None or key is None:
        raise InvalidInput("--tls-ca, --tls-cert and --tls-key", "come together", "some of them")
    if scheduler is None:
        raise InvalidInput("--tls-ca", "come with --scheduler", str(ca))
    return Tls(ca, cert, key)


@contextlib.contextmanager
def progress_bar(label: str, *, shown: bool = True) -> Iterator[Callable[..., None]]:
    """Give the function that moves a bar with rate and time left on standard error.

    The bar is there only if standard error is a terminal and it is to be ``shown``; a file or pipe
    gets a line a minute instead.
    """
    if shown and not sys.stderr.isatty():
        yield _lines(label)
        return
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
        TextColumn("{task.description}", markup=False),
        BarColumn(),
        MofNCompleteColumn(),
        Rate(),
        TimeRemainingColumn(),
        console=Console(stderr=True, markup=False, emoji=False),
        disable=not shown,
    )
    with bar:
        line = bar.add_task(terminal_text(label), total=None)

        def move(done: int, total: int | None = None) -> None:
            bar.update(line, completed=done, total=total)

        yield move


def _lines(label: str) -> Callable[..., None]:
    """Return the function that says how far a run is, once a minute, on standard error."""
    began = said = time.monotonic()

    def move(done: int, total: int | None = None) -> None:
        nonlocal said
        now = time.monotonic()
        if now - said < MINUTE:
            return
        said = now
        share = "" if total is None else f" of {total}"
        rest = ""
        if total is not None and 0 < done < total:
            rest = f", about {(now - began) * (total - done) / done / 60:.0f} min left"
        minutes = f"{(now - began) / 60:.0f} min"
        line = f"{label}: {done}{share} after {minutes}{rest}"
        print(terminal_text(line), file=sys.stderr, flush=True)

    return move
