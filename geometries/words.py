"""Text of a designer in files that hold it on one line."""

from __future__ import annotations

from html import escape

__all__ = ["markup_line", "one_line"]


def one_line(text: str) -> str:
    """Return text on one line, without letters that cannot be shown."""
    words = "".join(letter if letter.isprintable() else " " for letter in text)
    return " ".join(words.split())


def markup_line(text: str) -> str:
    """Return text on one line as SVG and HTML hold it."""
    return escape(one_line(text))
