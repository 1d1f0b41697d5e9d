"""Text of a designer in each medium: one function a medium, which everything of his passes.

A name may hold anything that a person can type; what a medium takes for a code of its own is made
harmless here.  HTML and SVG escape where they are written (templates do so by themselves); what
goes into a file of another kind on one line passes :func:`geometries.words.one_line`.
"""

from __future__ import annotations

import json

__all__ = ["csv_cell", "plot_text", "terminal_text", "toml_text"]

FORMULA = ("=", "+", "-", "@")
"""What a spreadsheet takes for the start of a formula."""


def terminal_text(text: str) -> str:
    """Return text without codes that a terminal obeys; its lines stay."""
    return "".join(
        c if c.isprintable() or c in "\n\t" else "\N{REPLACEMENT CHARACTER}" for c in text
    )


def plot_text(text: str) -> str:
    """Return text on one line in which a figure sees no formula between dollar signs."""
    return _one_line(text).replace("$", r"\$")


def csv_cell(value: object) -> object:
    """Return what a cell of a CSV table holds: numbers as they are, text harmless on one line.

    A text that a spreadsheet would run as a formula is led by an apostrophe, which it hides.
    """
    if not isinstance(value, str):
        return value
    text = _one_line(value)
    return f"'{text}" if text.startswith(FORMULA) and not _is_number(text) else text


def toml_text(text: str) -> str:
    """Return text as a TOML string in quotes."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _one_line(text: str) -> str:
    from geometries.words import one_line  # here, for the start-up time of the commands

    return one_line(text)


def _is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True
