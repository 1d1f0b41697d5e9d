"""Runs a small plan again and again and kills it: python -m tests.unit.study.victim STORE KILLS.

The plan runs in a child that is killed with SIGKILL at a random moment, KILLS times, and then
once to its end.  Prints how many kills met a running child.
"""

from __future__ import annotations

import os
import random
import signal
import sys
import time
from pathlib import Path

from motor.study.processes import Here
from motor.study.running import run
from tests.unit.study.plans import small_plan


def main(store: Path, kills: int) -> None:
    plan = small_plan(4, 6)
    draw = random.Random(7)
    met = 0
    for _ in range(kills):
        child = os.fork()
        if child == 0:
            run(plan, store, engine=Here())
            os._exit(0)
        time.sleep(draw.uniform(0.0, 0.12))
        os.kill(child, signal.SIGKILL)
        _, status = os.waitpid(child, 0)
        met += os.WIFSIGNALED(status)
    run(plan, store, engine=Here())
    print(met)


if __name__ == "__main__":
    main(Path(sys.argv[1]), int(sys.argv[2]))
