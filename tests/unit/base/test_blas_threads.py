"""Linear algebra runs on one thread inside, and on the caller's number afterwards."""

from __future__ import annotations

import threading
import types
from collections.abc import Callable

import pytest
import scipy.linalg  # noqa: F401  brings a library of its own
from threadpoolctl import ThreadpoolController, threadpool_limits

import motor
from motor.base import blas_threads
from motor.base.blas_threads import one_blas_thread


def numbers() -> set[int]:
    return {i["num_threads"] for i in ThreadpoolController().select(user_api="blas").info()}


def test_one_inside_and_the_callers_afterwards() -> None:
    with threadpool_limits(limits=2, user_api="blas"):
        before = numbers()
        with one_blas_thread():
            assert numbers() == {1}
        assert numbers() == before
        with pytest.raises(ZeroDivisionError), one_blas_thread():
            _ = 1 / 0
        assert numbers() == before


def test_callers_in_threads_that_overlap_leave_the_callers_number() -> None:
    """The first to come is not the last to leave."""
    with threadpool_limits(limits=2, user_api="blas"):
        before = numbers()
        inside, leave = threading.Event(), threading.Event()

        def longer() -> None:
            with one_blas_thread():
                inside.set()
                leave.wait(10)

        with one_blas_thread():
            other = threading.Thread(target=longer)
            other.start()
            assert inside.wait(10)
            assert numbers() == {1}
        assert numbers() == before
        leave.set()
        other.join()
        assert numbers() == before
        with one_blas_thread():
            assert numbers() == {1}


@pytest.mark.parametrize("call", [motor.solve, motor.blocked_impedance, motor.derivatives])
def test_what_computes_holds_them(
    call: Callable[[object], object], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Bad input ends the call after it took hold."""
    seen = []
    held = blas_threads._libraries().limit

    def limit(limits: int) -> object:
        seen.append(limits)
        return held(limits=limits)

    monkeypatch.setattr(blas_threads, "_libraries", lambda: types.SimpleNamespace(limit=limit))
    with pytest.raises((AttributeError, TypeError)):
        call(None)
    assert seen == [1]
