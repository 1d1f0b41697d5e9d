"""What a design changes of its base, as lines of a design file to copy."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from motor.design.design import Design
from motor.design.file_lines import Line
from motor.design.writing import design_sections

__all__ = ["Changes", "changes_of"]

Blocks = dict[str, dict[str, Line]]
SKIPPED = ("name", "notes")


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


def _blocks(design: Design) -> Blocks:
    """Return a design's lines by section and key; one of several sections is one line as a whole.

    What stands below one of several, such as the wire of a part of the coil, belongs to it.
    """
    found: Blocks = {}
    inside = ""
    for section in design_sections(design):
        if section.repeated:
            count = sum(head.startswith(section.head) for head in found)
            inside = f"{section.head}#{count}"
        elif not section.head.startswith(f"[{inside[2:].partition(']]')[0]}."):
            found[section.head] = {line.key: line for line in section.lines if line.key}
            continue
        texts = [section.head, *(line.text for line in section.plain.lines)]
        text = "\n".join([found[inside][""].value, *texts] if inside in found else texts)
        found[inside] = {"": Line("", text)}
    return found


def _given(line: Line | None) -> str | None:
    return None if line is None or line.usual else line.text


def _shown(key: str, line: Line | None) -> str:
    """Return what a design says of a key that its base has otherwise."""
    if line is None or line.missing:
        return f"# {key}: to be left out"
    return line.text if key else line.value


def changes_of(
    base: Design, designs: Sequence[Design | None], *, materials: bool = True
) -> Changes:
    """Compare design files with their base's.

    Parameters
    ----------
    base : Design
    designs : sequence of Design or None
    materials : bool
        False to leave out the blocks of own materials, for scatter of magnets and steels.
    """
    home = _blocks(base)
    rows: dict[tuple[str, str], dict[int, str]] = {}
    for number, design in enumerate(designs):
        own = {} if design is None else _blocks(design)
        for section in own:
            if section.startswith("[[materials") and not materials:
                continue
            before, after = home.get(section, {}), own[section]
            for key in [*after, *(k for k in before if k not in after)]:
                old, new = before.get(key), after.get(key)
                if _given(old) != _given(new) and key not in SKIPPED:
                    rows.setdefault((section, key), {})[number] = _shown(key, new)
        for section in () if design is None else home:
            for key, line in home[section].items():
                if section not in own and key and not line.usual:
                    rows.setdefault((section, key), {})[number] = _shown(key, None)
    order = list(home)
    keys = sorted(rows, key=lambda place: order.index(place[0]) if place[0] in order else 99)
    texts_of = [tuple(dict.fromkeys(rows[place].values())) for place in keys]
    choice = []
    for place, known in zip(keys, texts_of, strict=True):
        index = {line: k for k, line in enumerate(known)}
        choice.append(
            tuple(index[rows[place][n]] if n in rows[place] else -1 for n in range(len(designs)))
        )
    return Changes(tuple(keys), tuple(texts_of), tuple(choice))
