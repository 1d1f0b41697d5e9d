"""Steps of a run, told through the logger "motor": what begins (debug), what took how long (info).

The numerical core prints nothing; whoever wants to watch it adds a handler to this logger.
"""

from __future__ import annotations

import contextlib
import logging
import time
from collections.abc import Iterator
from dataclasses import dataclass

__all__ = ["LOG", "Step", "step"]

LOG = logging.getLogger("motor")


@dataclass
class Step:
    """A step under way; ``detail`` is told with its time at its end."""

    detail: str = ""


@contextlib.contextmanager
def step(words: str) -> Iterator[Step]:
    """Tell that something begins, and at its end how long it took."""
    LOG.debug("%s", words)
    began, now = time.perf_counter(), Step()
    yield now
    detail = f", {now.detail}" if now.detail else ""
    LOG.info("%s: %.2f s%s", words, time.perf_counter() - began, detail)
