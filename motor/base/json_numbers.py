"""Numbers as JSON holds them."""

from __future__ import annotations

import math

__all__ = ["finite"]


def finite(value: float | None) -> float | None:
    """Return a number, or None where there is none or no finite one."""
    return None if value is None or not math.isfinite(value) else float(value)
