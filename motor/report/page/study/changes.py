"""What a design changes of its base, as lines of a design file to copy."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from motor.design.design import Design
from motor.design.writing import design_to_toml

__all__ = ["Changes", "changes_of"]

Sections = dict[str, dict[str, str]]
SKIPPED = ("name", "notes")
HEADER = re.compile(r"\[\[?[^\]]+\]\]?")
KEY = re.compile(r"([A-Za-z0-9_\-\"]+) = ")


@dataclass(frozen=True)
class Changes:
    """The changed lines of many designs, key by key.

    Parameters
    ----------
    keys : tuple of (section, key)
        Section is "" before the first header, "[coil]" and so on; the key is "" where a whole
        block such as one of the designer's own materials belongs together.
    lines : tuple of tuple of str
        For each key the different texts that occur.
    choice : tuple of tuple of int
        For each key and design the index of its text, -1 where the design has the base's.
    """

    keys: tuple[tuple[str, str], ...]
    lines: tuple[tuple[str, ...], ...]
    choice: tuple[tuple[int, ...], ...]


def _sections(text: str) -> Sections:
    """Return the lines of a design file by section and key; repeated blocks as one text each."""
    found: Sections = {"": {}}
    section = block = ""
    for line in text.splitlines():
        if HEADER.fullmatch(line):
            section = line
            block = ""
            if line.startswith("[["):
                count = sum(s.startswith(line) for s in found)
                block = f"{line}#{count}"
                found[block] = {"": line}
            else:
                found.setdefault(section, {})
        elif block and line:
            found[block][""] += f"\n{line}"
        elif match := KEY.match(line):
            found[section][match[1]] = line
    return found


def _default_line(design: Design, section: str, key: str) -> str:
    """Return the line of a key that is left out because it has its usual value."""
    here = ""
    for line in design_to_toml(design, comments=True).splitlines():
        if HEADER.fullmatch(line):
            here = line
        match = re.match(rf"# ({re.escape(key)} = .*?)(   # .*)?$", line)
        if here == section and match and '"... ' not in match[1]:
            return match[1]
    return f"# {key}: to be left out"


def changes_of(
    base: str,
    texts: Sequence[str],
    designs: Sequence[Design | None],
    *,
    materials: bool = True,
) -> Changes:
    """Compare design files with their base's.

    Parameters
    ----------
    base : str
        Design file of the base.
    texts : sequence of str
        Design files, "" for none.
    designs : sequence of Design or None
        The same, to ask for usual values.
    materials : bool
        False to leave out the blocks of own materials, for scatter of magnets and steels.
    """
    home = _sections(base)
    rows: dict[tuple[str, str], dict[int, str]] = {}
    usual: dict[tuple[str, str], str] = {}
    for number, (text, design) in enumerate(zip(texts, designs, strict=True)):
        if not text or design is None:
            continue
        own = _sections(text)
        for section, lines in own.items():
            if section.startswith("[[materials") and not materials:
                continue
            for key, line in lines.items():
                if home.get(section, {}).get(key) != line and key not in SKIPPED:
                    rows.setdefault((section, key), {})[number] = line
        for section, lines in home.items():
            for key in lines:
                if key not in own.get(section, {}) and key not in SKIPPED and key:
                    place = section, key
                    if place not in usual:
                        usual[place] = _default_line(design, section, key)
                    rows.setdefault(place, {})[number] = usual[place]
    order = list(home)
    keys = sorted(rows, key=lambda place: order.index(place[0]) if place[0] in order else 99)
    texts_of = [tuple(dict.fromkeys(rows[place].values())) for place in keys]
    choice = []
    for place, known in zip(keys, texts_of, strict=True):
        index = {line: k for k, line in enumerate(known)}
        choice.append(
            tuple(index[rows[place][n]] if n in rows[place] else -1 for n in range(len(texts)))
        )
    return Changes(tuple(keys), tuple(texts_of), tuple(choice))
