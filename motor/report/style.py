"""The look of all figures: one place for colours, dashes, markers and hatches, in two themes.

``light`` is for screens.  ``print`` survives a black-and-white printer: greys that differ in
lightness, and lines that differ in dashes too::

    with motor.report.style.theme("print"):
        result.bl_curve.plot()
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from contextvars import ContextVar

__all__ = ["THEMES", "theme"]

THEMES = ("light", "print")
_CURRENT: ContextVar[str] = ContextVar("theme", default="light")


@contextlib.contextmanager
def theme(name: str) -> Iterator[None]:
    """Draw figures in a theme, "light" or "print", inside the block."""
    from geometries.errors import InvalidInput

    if name not in THEMES:
        raise InvalidInput("theme", f"be one of {', '.join(THEMES)}", repr(name))
    token = _CURRENT.set(name)
    try:
        yield
    finally:
        _CURRENT.reset(token)
