"""A geometry from a Python file that a design names: run only where that was permitted.

The file is code with all rights of whoever runs it; nothing here holds it back.
"""

from __future__ import annotations

import hashlib
import sys
import types
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from pathlib import Path

from geometries.contract import Geometry, _registry
from geometries.errors import InvalidInput

__all__ = ["geometry_from_file", "running_code"]

_PERMITTED: ContextVar[bool] = ContextVar("files of designs may run as code", default=False)
LARGEST = 1_000_000
"""Bytes of such a file at most."""


@contextmanager
def running_code() -> Iterator[None]:
    """Permit files that designs name to run as code, while the context lasts."""
    token = _PERMITTED.set(True)
    try:
        yield
    finally:
        _PERMITTED.reset(token)


def geometry_from_file(path: Path, kind: str) -> type[Geometry]:
    """Return the geometry of a kind that a Python file declares.

    The kind is known to this caller alone, not to :func:`geometries.registered`.

    Raises
    ------
    InvalidInput
        If running code was not permitted, the file fails, or it declares no such kind.
    """
    if not _PERMITTED.get():
        raise InvalidInput(
            "code",
            "be permitted by motor --run-code: the file runs as code with all your rights, so only "
            "where you trust it",
            str(path),
        )
    try:
        text = path.read_bytes()[: LARGEST + 1]
    except OSError as cause:
        raise InvalidInput(
            "code", "be a Python file that can be read", f"{path}: {cause}"
        ) from None
    if len(text) > LARGEST:
        raise InvalidInput("code", f"be at most {LARGEST} bytes long", str(path))
    name = f"geometry_file_{hashlib.sha256(text).hexdigest()[:16]}"
    module = types.ModuleType(name)
    module.__file__ = str(path)
    before = dict(_registry)
    sys.modules[name] = module  # dataclasses look their module up
    try:
        exec(compile(text, str(path), "exec"), module.__dict__)
        declared = {k: v for k, v in _registry.items() if v.__module__ == name}
    except Exception as cause:
        words = f"{type(cause).__name__}: {cause}"
        raise InvalidInput("code", "run without an error", f"{path}: {words}") from cause
    finally:
        _registry.clear()
        _registry.update(before)
    if kind not in declared:
        known = ", ".join(declared) or "none"
        raise InvalidInput("kind", f"be one that {path.name} declares ({known})", repr(kind))
    found = declared[kind]
    found.code_file = str(path.resolve())
    return found
