"""What a benchmark gives: a table of text, and the line that tells the machine."""

from __future__ import annotations

import dataclasses
import os
import platform
import time

__all__ = ["Table", "machine"]


@dataclasses.dataclass(frozen=True)
class Table:
    """Heading, column names and rows of text."""

    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]

    def markdown(self) -> str:
        """Return the table as Markdown."""
        lines = [f"### {self.title}", "", "| " + " | ".join(self.columns) + " |"]
        lines.append("|" + "---|" * len(self.columns))
        return "\n".join([*lines, *("| " + " | ".join(row) + " |" for row in self.rows)]) + "\n"


def machine() -> str:
    """Return the machine in general terms, and the date."""
    return (
        f"{time.strftime('%Y-%m-%d')}, {platform.machine()}, {os.cpu_count()} cores, Python "
        f"{platform.python_version()}.  Milliseconds unless said otherwise: median (least to "
        "most) of several runs."
    )
