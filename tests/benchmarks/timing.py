"""Medians over several runs with their spread."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeVar

import numpy as np

__all__ = ["Timing", "timed"]

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


def timed(work: Callable[[], T], runs: int = 7) -> tuple[T, Timing]:
    """Return the last result and the timing of several runs, after one that does not count."""
    result = work()
    seconds = []
    for _ in range(runs):
        start = time.perf_counter()
        result = work()
        seconds.append(time.perf_counter() - start)
    return result, Timing(float(np.median(seconds)), min(seconds), max(seconds))
