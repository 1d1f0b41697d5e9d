"""gmsh, opened and closed, by one thread at a time: it keeps one state for the whole process.

A gmsh session that the caller has open stays as it is: its models, its current model and its
options are put back.  What no lock can see is the caller's own use of gmsh in another thread.
"""

from __future__ import annotations

import contextlib
import ctypes
import os
import signal
import tempfile
import threading
import uuid
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from motor.base.errors import MeshError

__all__ = ["gmsh_session"]

DEBIAN_PACKAGES = "libglu1-mesa libgl1 libxrender1 libxcursor1 libxft2 libxinerama1 libgomp1"

_LOCK = threading.Lock()


def _new_lock() -> None:
    """Give a forked process its own lock: the copy may be held by a thread it does not have."""
    global _LOCK
    _LOCK = threading.Lock()


if hasattr(os, "register_at_fork"):
    os.register_at_fork(after_in_child=_new_lock)


@contextlib.contextmanager
def gmsh_session() -> Iterator[Any]:
    """Give gmsh with default options and an empty model, and leave it as it was found.

    Threads wait for one another from opening to closing.

    Raises
    ------
    MeshError
        If gmsh's library cannot be loaded.
    """
    try:
        import gmsh  # takes a tenth of a second: start-up
    except OSError as cause:
        raise MeshError(
            f"gmsh's library could not be loaded ({cause}). On Debian install what it needs: "
            f"apt-get install {DEBIAN_PACKAGES}"
        ) from cause
    with _LOCK, _guest(gmsh) if gmsh.isInitialized() else _owner(gmsh):
        gmsh.option.setNumber("General.Terminal", 0)
        gmsh.option.setNumber("General.NumThreads", 1)
        gmsh.model.add(f"motor-{uuid.uuid4().hex}")  # found by its name: no caller's has the same
        yield gmsh


@contextlib.contextmanager
def _owner(gmsh: Any) -> Iterator[None]:
    """Open gmsh and close it again whatever happens."""
    gmsh.initialize(readConfigFiles=False, interruptible=False)
    _ignore_closed_pipes()
    try:
        yield
    finally:
        gmsh.finalize()
        _ignore_closed_pipes()


def _ignore_closed_pipes() -> None:
    """Put SIGPIPE back to where Python has it: gmsh lets a peer that is gone end the process."""
    if os.name == "posix" and signal.getsignal(signal.SIGPIPE) is signal.SIG_IGN:
        libc = ctypes.CDLL(None)  # signal.signal() serves the main thread only
        libc.signal.argtypes, libc.signal.restype = (ctypes.c_int, ctypes.c_void_p), ctypes.c_void_p
        libc.signal(signal.SIGPIPE, ctypes.c_void_p(1))  # SIG_IGN


@contextlib.contextmanager
def _guest(gmsh: Any) -> Iterator[None]:
    """Set the caller's session aside: options in a file, models where they are."""
    terminal, current = gmsh.option.getNumber("General.Terminal"), gmsh.model.getCurrent()
    before = len(gmsh.model.list())
    gmsh.option.setNumber("General.Terminal", 0)
    with tempfile.TemporaryDirectory() as folder:
        options = str(Path(folder) / "caller.opt")
        gmsh.write(options)
        gmsh.option.restoreDefaults()
        try:
            yield
        finally:
            gmsh.option.restoreDefaults()
            gmsh.option.setNumber("General.Terminal", 0)
            gmsh.merge(options)  # into a model of ours: an unnamed one would take the file's name
            while len(gmsh.model.list()) > before:
                gmsh.model.setCurrent(gmsh.model.list()[-1])
                gmsh.model.remove()
            gmsh.model.setCurrent(current)
            gmsh.option.setNumber("General.Terminal", terminal)
