"""Medians over several runs with their spread."""

from __future__ import annotations

import resource
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

import numpy as np

__all__ = ["Timing", "resident", "taking_turns", "timed"]

T = TypeVar("T")


@dataclass(frozen=True)
class Timing:
    """Seconds: median, least and most of several runs."""

    median: float
    least: float
    most: float

    def __str__(self) -> str:
        """Return milliseconds, e.g. '12.3 (11.9 to 15.0)'."""
        return f"{self.median * 1e3:.1f} ({self.least * 1e3:.1f} to {self.most * 1e3:.1f})"


def resident() -> float:
    """Return the memory of this process that is in use, in MB."""
    pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1])
    return pages * resource.getpagesize() / 2**20


def timed(work: Callable[[], T], runs: int = 7) -> tuple[T, Timing]:
    """Return the last result and the timing of several runs, after one that does not count."""
    ((result, timing),) = taking_turns([work], runs)
    return result, timing


def taking_turns(works: Sequence[Callable[[], T]], runs: int = 7) -> list[tuple[T, Timing]]:
    """Return the last result and the timing of each work, after one round that does not count.

    They take turns, so that all of them meet a machine that grows slower or faster.
    """
    results, seconds = [work() for work in works], []
    for _ in range(runs):
        for k, work in enumerate(works):
            start = time.perf_counter()
            results[k] = work()
            seconds.append(time.perf_counter() - start)
    table = np.reshape(seconds, (runs, len(works)))
    spread = [Timing(float(np.median(t)), float(t.min()), float(t.max())) for t in table.T]
    return list(zip(results, spread, strict=True))
