"""Files that a user names: regular, of a sensible size, UTF-8 text; TOML and rows of tables.

Whatever a TOML file holds is checked before anything is made of it: numbers are finite and of at
most 64 bits, as TOML demands, and text is printable and on one line, so that no name brings a row
into a table or a control code to a terminal.

Errors name the file and the line.  They quote nothing of a file that is not what it should be: it
may be one that was not meant to be shown.
"""

from __future__ import annotations

import csv
import math
import re
import stat
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from motor.base.errors import InvalidInput

__all__ = ["check_file", "check_text", "numbered_rows", "parse_toml", "read_text", "read_toml"]

TEXT_MOST = 4_000_000
"""Bytes of a design, a study or a B-H table."""
CELL_MOST = 1000
"""Letters in one cell of a table, and in one text of a TOML file."""
NOTES, NOTES_MOST = "notes", 20_000
"""The one text that may have several lines, and its letters."""
ENDLESS = ("range_mm",)
"""Keys whose numbers may be infinite: where a polynomial holds."""
MARKS = ",;\t"
"""What may stand between the cells of a table."""


def check_file(path: Path, what: str, most: int) -> None:
    """Raise InvalidInput unless a path is a regular file of at most so many bytes."""
    try:
        found = path.stat()
    except FileNotFoundError:
        raise InvalidInput(what, "exist", str(path)) from None
    except (OSError, ValueError) as cause:
        reason = getattr(cause, "strerror", None) or cause
        raise InvalidInput(what, "be readable", f"{path}: {reason}") from None
    if not stat.S_ISREG(found.st_mode):
        kind = "a folder" if stat.S_ISDIR(found.st_mode) else "a device or pipe"
        raise InvalidInput(what, "be a regular file", f"{path}: {kind}")
    if found.st_size > most:
        size = f"{found.st_size / 1e6:.3g} MB"
        raise InvalidInput(what, f"be at most {most / 1e6:g} MB long", f"{path}: {size}")


def read_text(path: str | Path, what: str, most: int = TEXT_MOST) -> str:
    """Return the text of a file, without a byte order mark.

    Parameters
    ----------
    path : path
    what : str
        What it should be, for the error message.
    most : int
        Bytes.

    Raises
    ------
    InvalidInput
    """
    path = Path(path)
    check_file(path, what, most)
    try:
        with path.open("rb") as stream:
            data = stream.read(most + 1)
    except (OSError, ValueError) as cause:
        reason = getattr(cause, "strerror", None) or cause
        raise InvalidInput(what, "be readable", f"{path}: {reason}") from None
    if len(data) > most:
        raise InvalidInput(what, f"be at most {most / 1e6:g} MB long", f"{path}: more")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as cause:
        raise InvalidInput(what, "be UTF-8 text", f"{path}: {cause.reason}") from None


def read_toml(path: str | Path, what: str) -> dict[str, Any]:
    """Return what a TOML file holds; InvalidInput if it cannot be used."""
    return parse_toml(read_text(path, what), what)


def parse_toml(text: str, what: str) -> dict[str, Any]:
    """Return what a TOML text holds; InvalidInput with the place if it is none.

    A key that stands twice is named with both lines.
    """
    try:
        data = tomllib.loads(text.removeprefix("\ufeff"))
        _check_value("", data)
        return data
    except RecursionError:
        reason = "nesting too deep"
    except InvalidInput:
        raise
    except ValueError as cause:  # tomllib's own, and Python's for numbers of thousands of digits
        reason = (
            str(cause)
            if isinstance(cause, tomllib.TOMLDecodeError)
            else "a number of too many digits"
        )
        reason = _twice(text, reason) or reason
    raise InvalidInput(what, "be valid TOML", reason)


def _check_value(place: str, value: object) -> None:
    """Raise InvalidInput for a number or text in a TOML file that nothing can use."""
    if isinstance(value, dict):
        for key, item in value.items():
            check_text(f"key {key!r}" if place == "" else f"key of {place}", key)
            _check_value(f"{place}.{key}" if place else key, item)
    elif isinstance(value, list):
        for item in value:
            _check_value(place, item)
    elif isinstance(value, str):
        check_text(place, value)
    elif isinstance(value, int):
        if not -(2**63) <= value < 2**63:
            raise InvalidInput(place, "be a number of at most 64 bits", "a larger whole number")
    elif isinstance(value, float) and not math.isfinite(value):
        endless = place.rpartition(".")[2] in ENDLESS and not math.isnan(value)
        if not endless:
            raise InvalidInput(place, "be a finite number", value)


def check_text(place: str, text: str) -> None:
    """Raise InvalidInput for a text that is long or does not stand on one printable line."""
    notes = place == NOTES
    most = NOTES_MOST if notes else CELL_MOST
    if len(text) > most:
        raise InvalidInput(place, f"have at most {most} letters", f"{len(text)} letters")
    if text.isprintable():
        return
    bad = next((c for c in text if not c.isprintable() and not (notes and c in "\n\r\t")), None)
    if bad is not None:
        what = "line break" if bad in "\n\r" else f"character {bad!a}"
        raise InvalidInput(place, "be printable text on one line", f"text with a {what}")


def _twice(text: str, reason: str) -> str:
    """Return which key or section stands twice and where; '' if the reason is another."""
    place = re.search(r"\(at (?:line (\d+)|end of document)", reason)
    if place is None or not reason.startswith(("Cannot overwrite", "Cannot declare")):
        return ""
    lines = text.splitlines()
    last = int(place[1]) if place[1] else len(lines)
    keys: dict[tuple[str, str], int] = {}
    section = ""
    for number, line in enumerate(lines[:last], 1):
        head = re.match(r"\s*(\[\[?[^\]]*\]\]?)\s*(?:#.*)?$", line)
        pair = re.match(r"""\s*("[^"]*"|'[^']*'|[A-Za-z0-9_.\- ]+?)\s*=""", line)
        if head:
            section = head[1] + (str(number) if head[1].startswith("[[") else "")
            key, told = (section, ""), f"section {head[1]}"
        elif pair:
            key, told = (section, pair[1]), f"key {pair[1]!r}"
            told += f" in {section.rstrip('0123456789')}" if section else ""
        else:
            continue
        if key in keys:
            return f"{told} on line {keys[key]} and again on line {number}"
        keys[key] = number
    return ""


def numbered_rows(text: str, what: str) -> Iterator[tuple[int, list[str]]]:
    """Yield line number and cells of each row of a table, the header first.

    Lines that are empty or begin with ``#`` are left out.  Cells are stripped; comma, semicolon or
    tab stands between them, whichever the header has most of.

    Raises
    ------
    InvalidInput
        For a row that is no row of a table.
    """
    mark = ""
    for number, line in enumerate(text.splitlines(), 1):
        if not line.strip() or line.lstrip().startswith("#"):
            continue
        mark = mark or max(MARKS, key=line[:CELL_MOST].count)
        try:
            cells = next(csv.reader([line], delimiter=mark))
        except (csv.Error, StopIteration):
            raise InvalidInput(
                f"{what}, line {number}", "be a row of a table", "something else"
            ) from None
        if max(map(len, cells), default=0) > CELL_MOST:
            longest = f"{max(map(len, cells))} letters"
            raise InvalidInput(
                f"{what}, line {number}", f"hold cells of at most {CELL_MOST} letters", longest
            )
        yield number, [cell.strip() for cell in cells]
