"""Public names of a package, imported when they are first used, so that the command starts fast."""

from __future__ import annotations

import importlib
from collections.abc import Callable, Mapping
from typing import Any

__all__ = ["importer"]


def importer(package: str, home: Mapping[str, tuple[str, ...]]) -> Callable[[str], Any]:
    """Return the ``__getattr__`` of a package whose names have their homes in these modules."""
    module_of = {name: module for module, names in home.items() for name in names}

    def get(name: str) -> Any:
        if name not in module_of:
            raise AttributeError(f"module {package!r} has no attribute {name!r}")
        return getattr(importlib.import_module(module_of[name]), name)

    return get
