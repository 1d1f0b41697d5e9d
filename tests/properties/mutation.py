"""What is wrong with a file, drawn at random: its values, its structure, its lines, its bytes."""

from __future__ import annotations

import copy
import json
import math
import random
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

__all__ = [
    "DESIGNS",
    "NAMES",
    "NUMBERS",
    "QUANTITIES",
    "STUDIES",
    "any_value",
    "bytes_of",
    "flipped",
    "mutated_toml",
    "refused",
    "toml_of",
]

STUDIES = Path(__file__).parents[2] / "studies"
DESIGNS = sorted((STUDIES / "designs").glob("*.toml"))
LINE = 2000
"""Characters of the longest error."""

NAMES = (
    "",
    " ",
    "a\nb\nc,1,2",
    "a\r\nb",
    "[/b]",
    "[/red]",
    "[sealed]",
    "[bold]x",
    "$\\undefined$",
    "\x1b[31mred\x1b[0m\x1b]0;title\x07",
    "=1+1",
    "+1",
    "-1",
    "@SUM(A1)",
    '"quoted", and',
    "<script>alert(1)</script>",
    "</script><b>",
    "&amp;&",
    "{{ 7*7 }}",
    "%s %n {0}",
    "../../x",
    "/dev/zero",
    "CON",
    ".",
    "x" * 300,
    "x" * 70000,
    "\u202eright\u202c",
    "e\u0301\U0001f9f2",
    "\u2028line",
    "a\tb",
    "null",
    "\ufeffx",
)
"""Texts that mean something to a terminal, a plot, a table, a page or a file system."""
QUANTITIES = (
    "5 mm",
    "-5 mm",
    "0 mm",
    "1e-12 mm",
    "1e9 m",
    "1e308 mm",
    "1e400 mm",
    "nan mm",
    "inf mm",
    "-inf degC",
    "-300 degC",
    "5",
    "mm",
    "5 furlong",
    "5 mm*mm",
    "5 mm/0",
    "5 mm ** 99999999",
    "((((5))))",
    "__import__('os')",
    "5 %",
    "1e-320 ohm",
    "9" * 5000 + " mm",
    "5\u00a0mm",
    "5,5 mm",
    "0x10 mm",
    "1_0 mm",
)
NUMBERS = (0, 1, -1, 2**63, 10**30, 10**400, 0.5, -0.0, 1e-320, 1e308, -1e308, math.inf, math.nan)


def any_value(draw: random.Random, depth: int = 0) -> Any:
    """Return a number, quantity, text, truth value, list or table."""
    kind = draw.randrange(9 if depth < 3 else 6)
    if kind < 2:
        return draw.choice(NUMBERS)
    if kind < 4:
        return draw.choice(QUANTITIES)
    if kind < 5:
        return draw.choice(NAMES)
    if kind < 6:
        return draw.random() < 0.5
    if kind < 8:
        return [any_value(draw, depth + 1) for _ in range(draw.randrange(4))]
    return {draw.choice(NAMES) or "k": any_value(draw, depth + 1) for _ in range(draw.randrange(3))}


def toml_of(value: Any) -> str:
    """Return a table as TOML."""
    return "".join(f"{json.dumps(str(key))} = {_inline(item)}\n" for key, item in value.items())


def _inline(value: Any) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, float):
        return {"inf": "inf", "-inf": "-inf", "nan": "nan"}.get(repr(value), repr(value))
    if isinstance(value, int):
        return str(value)
    if isinstance(value, dict):
        return (
            "{" + ", ".join(f"{json.dumps(str(k))} = {_inline(v)}" for k, v in value.items()) + "}"
        )
    if isinstance(value, list):
        return "[" + ", ".join(map(_inline, value)) + "]"
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    return str(value)


def mutated_toml(draw: random.Random, text: str) -> bytes:
    """Return a TOML file with some of its values, keys, tables, lines or bytes changed."""
    if draw.random() < 0.75:
        data = tomllib.loads(text)
        for _ in range(draw.choice([1, 1, 1, 2, 3])):
            _change(draw, data)
        text = toml_of(data)
        if draw.random() < 0.8:
            return text.encode()
    if draw.random() < 0.5:
        lines = text.splitlines()
        for _ in range(draw.randint(1, 4)):
            place = draw.randrange(len(lines))
            what: Callable[[], Any] = draw.choice(
                [
                    lambda at=place: lines.pop(at) if len(lines) > 1 else None,
                    lambda at=place: lines.insert(draw.randrange(len(lines)), lines[at]),
                    lambda at=place: lines.insert(at, draw.choice(NAMES)),
                    lambda at=place: lines.__setitem__(at, lines[at][: draw.randrange(20)]),
                ]
            )
            what()
        return "\n".join(lines).encode()
    return bytes_of(draw, text.encode())


def _change(draw: random.Random, data: dict[str, Any]) -> None:
    """Change one place of a tree: another value, none, another name, another depth, two swapped."""
    places = _places(data)
    if not places:
        data[draw.choice(NAMES) or "k"] = any_value(draw)
        return
    holder, key = draw.choice(places)
    other_holder, other = draw.choice(places)
    what = draw.randrange(9)
    if what == 0:
        del holder[key]
    elif what == 1 and isinstance(holder, dict):
        holder[draw.choice([*map(str, holder), *NAMES[:20], "mesh"])] = copy.deepcopy(holder[key])
    elif what == 2:
        holder[key] = [copy.deepcopy(holder[key])] * draw.choice([1, 2, 500])
    elif what == 3:
        holder[key] = {"value": copy.deepcopy(holder[key])}
    elif what == 4:
        holder[key] = copy.deepcopy(other_holder[other])
    elif what in (5, 6) and _number(holder[key]) is not None:
        value, unit = _number(holder[key])  # type: ignore[misc]
        scaled = value * draw.choice([0.5, 0.9, 0.99, 1.01, 1.1, 2.0, 10.0, 0.0, -1.0])
        holder[key] = f"{scaled:.6g} {unit}" if unit else scaled
    elif what == 7 and isinstance(holder[key], str):
        number, _, unit = holder[key].partition(" ")
        holder[key] = f"{draw.choice(['-', '1e3', '0', ''])}{number} {draw.choice(['m', unit, ''])}"
    else:
        holder[key] = any_value(draw)


def _number(value: Any) -> tuple[float, str] | None:
    """Return a number or quantity as number and unit; None if it is something else."""
    if isinstance(value, float):
        return value, ""
    number, _, unit = value.partition(" ") if isinstance(value, str) else ("", "", "")
    try:
        return float(number), unit
    except ValueError:
        return None


def _places(value: Any) -> list[tuple[Any, Any]]:
    """Return every holder with each of its keys or indices."""
    items = value.items() if isinstance(value, dict) else enumerate(value)
    found: list[tuple[Any, Any]] = []
    for key, item in items:
        found.append((value, key))
        if isinstance(item, dict | list):
            found += _places(item)
    return found


def bytes_of(draw: random.Random, data: bytes) -> bytes:
    """Return bytes of which some are changed, cut, doubled, or joined by others."""
    found = bytearray(data)
    for _ in range(draw.randint(1, 6)):
        at = draw.randrange(len(found) + 1)
        what = draw.randrange(6)
        if what == 0:
            del found[at : at + draw.randint(1, 40)]
        elif what == 1:
            found[at:at] = found[at : at + draw.randint(1, 200)]
        elif what == 2:
            found[at:at] = draw.choice([b"\0", b"\xff\xfe", b"\xef\xbb\xbf", b"\x1b", b"\n", b'"'])
        elif what == 3:
            del found[at:]
        elif what == 4:
            found[at:at] = draw.choice(NAMES[:24]).encode()
        elif found:
            found = bytearray(flipped(draw, bytes(found), 1))
    return bytes(found)


def flipped(draw: random.Random, data: bytes, count: int) -> bytes:
    """Return bytes with some bits flipped."""
    found = bytearray(data)
    for _ in range(count):
        found[draw.randrange(len(found))] ^= 1 << draw.randrange(8)
    return bytes(found)


def refused(error: Exception) -> str:
    """Return "refused" for an error in one readable line."""
    text = str(error)
    assert text.strip(), "an error without words"
    assert len(text) < LINE, f"an error of {len(text)} characters"
    wrong = [c for c in text if not c.isprintable()]
    assert not wrong, f"an error with {wrong[:3]}: {text[:300]!a}"
    return "refused"
