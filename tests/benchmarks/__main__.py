"""Print all benchmarks: ``python -m tests.benchmarks [PATH]`` also writes them as Markdown.

Every figure is a median over several runs, smallest and largest in brackets, in milliseconds.
Run it on an otherwise idle machine.
"""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path

from tests.benchmarks.against import against_other_library, neighbour
from tests.benchmarks.precision import draw_precision, precision
from tests.benchmarks.scale import scale
from tests.benchmarks.slopes import slopes
from tests.benchmarks.stages import stages
from tests.benchmarks.start_up import imports
from tests.benchmarks.sweeps import long_sweep, sweep
from tests.benchmarks.tables import machine


def main() -> None:
    """Print the tables; write them to a file if one is named."""
    text = f"# Benchmarks\n\nWritten by `python -m tests.benchmarks`.  {machine()}\n"
    builders = [stages, slopes, sweep, long_sweep, scale, imports]
    if importlib.util.find_spec("ngsolve") is not None:
        builders[1:1] = [against_other_library, neighbour, precision]
    for build in builders:
        table = build()
        print(table.markdown(), flush=True)
        text += "\n" + table.markdown()
        if build is precision and len(sys.argv) > 1:
            draw_precision(table, Path(sys.argv[1]).with_suffix(".png"))
    if len(sys.argv) > 1:
        Path(sys.argv[1]).write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
