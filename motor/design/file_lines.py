"""A design file as records: sections of lines, each a key, its value in TOML, and what it is.

The writer of design files puts them down, pages show those that changed: nobody reads them back
from text.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from motor.base.media import toml_text
from motor.base.toml_records import required
from motor.base.units import UNITS, format_quantity
from motor.design.characteristic import Characteristic
from motor.design.moving_parts import characteristic_text

__all__ = ["Line", "Section", "name_of", "note", "plain_text", "record_lines", "text_of"]


@dataclass(frozen=True)
class Line:
    """One key.

    Parameters
    ----------
    key : str
        "" for a line of explanation.
    value : str
        As TOML, with its unit.
    doc : str
        What it is; a comment behind it.
    usual : bool
        Whether it is left out, since it has its usual value.
    missing : bool
        Whether there is no usual value: ``value`` shows how one would look.
    """

    key: str
    value: str
    doc: str = ""
    usual: bool = False
    missing: bool = False

    @property
    def text(self) -> str:
        """Key and value."""
        return f"{self.key} = {self.value}"

    @property
    def written(self) -> str:
        """The whole line; what is left out is a comment."""
        if not self.key:
            return f"# {self.doc}"
        return f"{'# ' if self.usual else ''}{self.text}" + (f"   # {self.doc}" if self.doc else "")


@dataclass(frozen=True)
class Section:
    """Lines below one head, "[coil]" or, one of several, "[[coil.parts]]"; "" before the first."""

    head: str
    lines: tuple[Line, ...]

    @property
    def repeated(self) -> bool:
        """Whether a file may have several of it."""
        return self.head.startswith("[[")

    @property
    def plain(self) -> Section:
        """The same without what is left out, and without explanations."""
        kept = [line for line in self.lines if line.key and not line.usual]
        return Section(self.head, tuple(dataclasses.replace(line, doc="") for line in kept))


def note(*words: str) -> list[Line]:
    """Return lines of explanation."""
    return [Line("", "", line) for line in words]


def text_of(sections: Sequence[Section]) -> str:
    """Return sections as text, without a line's end at the end."""
    blocks = [
        "\n".join([*([s.head] if s.head else []), *(line.written for line in s.lines)])
        for s in sections
    ]
    return "\n\n".join(blocks)


def record_lines(record: Any, skip: tuple[str, ...] = ()) -> list[Line]:
    """Return the lines of a record's fields, all but those named."""
    lines = []
    for field in dataclasses.fields(record):
        if field.name in skip:
            continue
        value = getattr(record, field.name)
        usual = not required(field) and value == field.default
        options = field.metadata.get("options")
        doc = field.metadata.get("doc", "") + (f" ({', '.join(options)})" if options else "")
        text = _missing(field) if value is None else _text(field, value)
        lines.append(Line(field.name, text, doc, usual, value is None))
    return lines


def _missing(field: dataclasses.Field[Any]) -> str:
    """Return how a value that is not given would look."""
    quantity = field.metadata["quantity"]
    return "0.0" if quantity == "number" else f'"... {UNITS[quantity][1]}"'


def _text(field: dataclasses.Field[Any], value: Any) -> str:
    quantity = field.metadata.get("quantity")
    if isinstance(value, Characteristic):
        return characteristic_text(field.name, value)
    if quantity in UNITS:
        return f'"{format_quantity(value, quantity)}"'
    if isinstance(value, int | float | np.number):
        return plain_text(value)
    return toml_text(name_of(value))


def plain_text(value: Any) -> str:
    """Return numbers as TOML, those of numpy too, whose ``repr`` names their type."""
    return repr(np.asarray(value).tolist())


def name_of(value: Any) -> str:
    """Return the name of a material, or the text itself."""
    return value if isinstance(value, str) else str(getattr(value, "name", value))
