"""gmsh, opened and closed: it keeps global state, so everything that uses it does so in here."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from typing import Any

from motor.base.errors import MeshError

__all__ = ["gmsh_session"]

DEBIAN_PACKAGES = "libglu1-mesa libgl1 libxrender1 libxcursor1 libxft2 libxinerama1 libgomp1"


@contextlib.contextmanager
def gmsh_session() -> Iterator[Any]:
    """Open gmsh quietly and close it again whatever happens."""
    try:
        import gmsh
    except OSError as cause:
        raise MeshError(
            f"gmsh's library could not be loaded ({cause}). On Debian install what it needs: "
            f"apt-get install {DEBIAN_PACKAGES}"
        ) from cause
    gmsh.initialize(readConfigFiles=False, interruptible=False)
    try:
        gmsh.option.setNumber("General.Terminal", 0)
        gmsh.option.setNumber("General.NumThreads", 1)
        yield gmsh
    finally:
        gmsh.finalize()
