"""Which theme figures are drawn in; what the themes look like stands in `motor.report.style`."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from contextvars import ContextVar

__all__ = ["THEMES", "current", "theme", "use"]

THEMES = ("light", "print")
_CURRENT: ContextVar[str] = ContextVar("theme", default="light")


def current() -> str:
    """Return the theme in force."""
    return _CURRENT.get()


def use(name: str) -> None:
    """Draw all figures in a theme, "light" or "print", from now on."""
    _CURRENT.set(_known(name))


@contextlib.contextmanager
def theme(name: str) -> Iterator[None]:
    """Draw figures in a theme, "light" or "print", inside the block."""
    token = _CURRENT.set(_known(name))
    try:
        yield
    finally:
        _CURRENT.reset(token)


def _known(name: str) -> str:
    if name not in THEMES:
        from motor.base.errors import InvalidInput

        raise InvalidInput("theme", f"be one of {', '.join(THEMES)}", repr(name))
    return name
