"""How long the command and the package take to start."""

from __future__ import annotations

import subprocess
import sys
from functools import partial

from tests.benchmarks.tables import Table
from tests.benchmarks.timing import timed

__all__ = ["imports"]


def imports() -> Table:
    """Return how long the command takes to start."""
    rows = []
    for label, arguments in (
        ("motor --help", ["-m", "motor", "--help"]),
        ("import motor", ["-c", "import motor"]),
        ("import motor.results.motor_result", ["-c", "import motor.results.motor_result"]),
    ):
        command = [sys.executable, *arguments]
        _, t = timed(partial(subprocess.run, command, check=True, capture_output=True), 5)
        rows.append((label, str(t)))
    return Table("Start-up, whole process", ("what", "time"), tuple(rows))
