"""Many designs: two processes, and thousands in one."""

from __future__ import annotations

import dataclasses
import os
import time
from concurrent.futures import ProcessPoolExecutor
from functools import partial

import motor
from motor.results.motor_result import solve
from tests.benchmarks.tables import Table
from tests.benchmarks.timing import resident

__all__ = ["long_sweep", "sweep"]

LONG_SWEEP, LONG_SWEEP_PART = 5000, 1000


def _chain(count: int, uncertainty: bool) -> int:
    """Solve neighbouring designs in turn, each started from the one before."""
    design = motor.starter("outside-magnet")
    near = None
    for k in range(count):
        depth = 6e-3 + 0.02e-3 * (k % 50)
        geometry = dataclasses.replace(design.geometry, gap_depth=depth, top_plate_thickness=depth)
        near = solve(design.replace(geometry=geometry), uncertainty=uncertainty, warm_start=near)
        _ = near.stroke_82
    return count


def sweep() -> Table:
    """Return designs per second in a sweep, in two processes."""
    rows = []
    os.environ["OPENBLAS_NUM_THREADS"] = "1"
    with ProcessPoolExecutor(2) as pool:
        list(pool.map(partial(_chain, uncertainty=True), [2, 2]))
        for label, uncertainty, count in (("off", False, 150), ("on", True, 60)):
            start = time.perf_counter()
            done = sum(pool.map(partial(_chain, uncertainty=uncertainty), [count, count]))
            rows.append((label, f"{done / (time.perf_counter() - start):.1f}"))
    return Table(
        "Sweep in two processes, each design from its neighbour",
        ("uncertainty", "designs per second"),
        tuple(rows),
    )


def long_sweep() -> Table:
    """Return time and memory over many designs in one process."""
    rows = []
    for _ in range(LONG_SWEEP // LONG_SWEEP_PART):
        start = time.perf_counter()
        _chain(LONG_SWEEP_PART, uncertainty=False)
        seconds = time.perf_counter() - start
        done = (len(rows) + 1) * LONG_SWEEP_PART
        rows.append((str(done), f"{seconds:.1f}", f"{resident():.0f}"))
    columns = ("designs so far", "seconds for the last part", "resident memory in MB")
    return Table("A long sweep in one process, uncertainty off", columns, tuple(rows))
