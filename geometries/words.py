"""Text of a designer in files that hold it on one line."""

from __future__ import annotations

__all__ = ["one_line"]


def one_line(text: str) -> str:
    """Return text on one line, without letters that cannot be shown."""
    words = "".join(letter if letter.isprintable() else " " for letter in text)
    return " ".join(words.split())
