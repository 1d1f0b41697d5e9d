"""A geometry from a Python file that a design names: run only where that was permitted.

The file is code with all rights of whoever runs it; nothing here holds it back.
"""

from __future__ import annotations

import dataclasses
import hashlib
import sys
import types
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from pathlib import Path
from typing import Any

from geometries.contract import Geometry, _registry
from geometries.errors import InvalidInput

__all__ = ["code_permitted", "geometry_from_file", "running_code"]

_PERMITTED: ContextVar[bool] = ContextVar("files of designs may run as code", default=False)
LARGEST = 1_000_000
"""Bytes of such a file at most."""
MODULE = "geometry_file_"
"""Of a file's module, before the digest of its text."""


@contextmanager
def running_code() -> Iterator[None]:
    """Permit files that designs name to run as code, while the context lasts."""
    token = _PERMITTED.set(True)
    try:
        yield
    finally:
        _PERMITTED.reset(token)


def code_permitted() -> bool:
    """Return whether files that designs name may run as code here."""
    return _PERMITTED.get()


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
    name = MODULE + hashlib.sha256(text).hexdigest()[:16]
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
    found.__reduce_ex__ = _reduced  # type: ignore[method-assign, assignment]
    return found


def _reduced(geometry: Geometry, _: int) -> tuple[Any, ...]:
    """Return how a geometry is made again in another process: from its file."""
    return _again, (geometry.code_file, type(geometry).__module__, geometry.kind, vars(geometry))


def _again(path: str, module: str, kind: str, values: dict[str, Any]) -> Geometry:
    """Return the geometry, its file run only where that has not happened in this process yet."""
    known = vars(sys.modules[module]).values() if module in sys.modules else ()
    kinds = (k for k in known if isinstance(k, type) and issubclass(k, Geometry))
    cls = next((k for k in kinds if k.kind == kind), None) or geometry_from_file(Path(path), kind)
    if cls.__module__ != module:
        raise InvalidInput("code", "stay as it is while a study runs", path)
    names = {field.name for field in dataclasses.fields(cls)}
    return cls(**{name: value for name, value in values.items() if name in names})
