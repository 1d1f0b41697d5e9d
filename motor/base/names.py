"""Finding things by name, with a hint where a name is misspelt."""

from __future__ import annotations

import difflib
from typing import TypeVar

from motor.base.errors import InvalidInput

__all__ = ["near_names", "pick"]

T = TypeVar("T")
LINE = 400
"""Letters of the names that are listed where none is near."""


def near_names(name: str, known: list[str]) -> str:
    """Return a hint with the names closest to a misspelt one, or all of them."""
    folded = {k.lower(): k for k in known}
    near = [folded[k] for k in difflib.get_close_matches(name.lower(), folded, n=3, cutoff=0.5)]
    if near:
        return "did you mean " + " or ".join(near) + "?"
    shown = [k for n, k in enumerate(known) if len(", ".join(known[: n + 1])) <= LINE]
    more = f" and {len(known) - len(shown)} more" if len(shown) < len(known) else ""
    return "known: " + ", ".join(shown) + more


def pick(items: dict[str, T], name: str, what: str) -> T:
    """Return the item of that name; InvalidInput with a hint if there is none."""
    if name not in items:
        raise InvalidInput(what, f"be a known one ({near_names(name, list(items))})", repr(name))
    return items[name]
