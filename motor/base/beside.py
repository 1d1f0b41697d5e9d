"""Two pieces of work at once, where that can be had for nothing."""

from __future__ import annotations

import multiprocessing
import os
import sys
import threading
from collections.abc import Callable

__all__ = ["beside"]


def beside(other: Callable[[], object], here: Callable[[], object]) -> None:
    """Do ``other`` in a copy of this process while this one does ``here``.

    What ``other`` leaves behind must be files: nothing comes back.  Both are done here, one after
    the other, where copying a process is not safe or no faster: beside other threads, on one
    core, on systems other than Linux, and in a worker process.  What fails in the copy is done
    here again, so that its error is raised.
    """
    if not _worthwhile():
        other()
        here()
        return
    twin = multiprocessing.get_context("fork").Process(target=_quietly, args=(other,), daemon=True)
    twin.start()
    try:
        here()
    finally:
        twin.join()
    if twin.exitcode:
        other()


def _quietly(work: Callable[[], object]) -> None:
    try:
        work()
    except BaseException:
        os._exit(1)


def _worthwhile() -> bool:
    return (
        sys.platform == "linux"
        and len(os.sched_getaffinity(0)) > 1
        and threading.active_count() == 1
        and multiprocessing.parent_process() is None
    )
