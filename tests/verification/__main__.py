"""Run all outside checks and write them as a table: ``python -m tests.verification [PATH]``."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from tests.verification.checks import RECORD

PAGE = Path(__file__).parents[2] / "studies" / "verification.md"
HEAD = """# Checks against the outside

Written by `python -m tests.verification`; do not edit. Each line is a test: the number that a
source gives, the number that this project gives, their difference and the largest difference
that passes. The tolerances are explained in the files of `tests/verification`.

"""


def _cell(text: str) -> str:
    return text.replace("|", "\\|")


def page() -> str:
    """Return the table of all checks recorded so far."""
    lines = [
        "| what | source | expected | got | difference | tolerance | |",
        "|---|---|---|---|---|---|---|",
    ]
    for c in RECORD:
        kind = "" if c.relative else " abs"
        lines.append(
            f"| {_cell(c.what)} | {_cell(c.source)} | {c.expected:.6g} | {c.got:.6g} "
            f"| {c.difference:+.1e}{kind} "
            f"| {c.tolerance:.1e}{kind} | {'passed' if c.passed else 'FAILED'} |"
        )
    sources = {c.source for c in RECORD}
    passed = sum(c.passed for c in RECORD)
    count = f"{len(RECORD)} checks over {len(sources)} sources, {passed} passed."
    return HEAD + count + "\n\n" + "\n".join(lines) + "\n"


def main() -> int:
    """Run the tests of this folder, write the page, return pytest's exit code."""
    code = pytest.main([str(Path(__file__).parent), "-q", "-p", "no:cacheprovider"])
    target = Path(sys.argv[1]) if len(sys.argv) > 1 else PAGE
    target.write_text(page(), encoding="utf-8")
    print(f"{target}: {len(RECORD)} checks")
    return int(code)


if __name__ == "__main__":
    sys.exit(main())
