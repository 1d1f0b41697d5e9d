"""One thread for linear algebra while the program computes, and the caller's number afterwards.

The dense blocks of these problems are so small that a second thread only waits for the first;
beside other work the waiting costs several times the computation.
"""

from __future__ import annotations

import contextlib
import functools
import threading
from collections.abc import Iterator
from typing import Any

__all__ = ["one_blas_thread"]

_HELD = threading.Lock()


@functools.cache
def _libraries() -> Any:
    """Return the handle on all linear algebra that is used here; looking for it takes 7 ms."""
    import cvxopt  # noqa: F401  each of the two brings its own, numpy too
    import scipy.linalg  # noqa: F401
    from threadpoolctl import ThreadpoolController

    return ThreadpoolController().select(user_api="blas")


@contextlib.contextmanager
def one_blas_thread() -> Iterator[None]:
    """Hold linear algebra at one thread until the end of the block.

    The number belongs to the process: other threads see one as well.  Of calls that overlap only
    the first holds it, since two that each put back what they found could leave one for good;
    a call that goes on after the first has ended runs with the caller's number.
    """
    if not _HELD.acquire(blocking=False):
        yield
        return
    try:
        with _libraries().limit(limits=1):
            yield
    finally:
        _HELD.release()
