"""Run all checks and write them as tables: ``python -m tests.verification [PATH]``."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path

import pytest

from tests.verification.checks import RECORD, TRENDS, Check, Kind, Trend

PAGE = Path(__file__).parents[2] / "studies" / "verification.md"
HEAD = """# How the numbers are checked

Written by `python -m tests.verification`; do not edit. Each line is a test: the number that is
expected, the number that this project gives, their difference and the largest difference that
passes. The tolerances are explained in the files of `tests/verification`.

"""
NUMBERS = """| what | source | expected | got | difference | tolerance | |
|---|---|---|---|---|---|---|
"""
SHARES = """
## Trends

Facts of the trade (common practice, no source): one motor's figure over that of another that
differs in one respect.

| what | share | less than | |
|---|---|---|---|
"""


def _cell(text: str) -> str:
    return text.replace("|", "\\|")


def _verdict(passed: bool) -> str:
    return "passed" if passed else "FAILED"


def _row(c: Check) -> str:
    kind = "" if c.relative else " abs"
    return (
        f"| {_cell(c.what)} | {_cell(c.source.words)} | {c.expected:.6g} | {c.got:.6g} "
        f"| {c.difference:+.1e}{kind} "
        f"| {c.tolerance:.1e}{kind} | {_verdict(c.passed)} |\n"
    )


def page(checks: Sequence[Check], trends: Sequence[Trend]) -> str:
    """Return the tables of checks, one for each kind of source; the outside ones count first."""
    of = {kind: [c for c in checks if c.source.kind is kind] for kind in Kind}
    outer = of[Kind.OUTSIDE]
    sources = {c.source.words for c in outer}
    failed = sum(not c.passed for c in (*checks, *trends))
    text = (
        f"**{len(outer)} checks against {len(sources)} outside sources.** Beside them "
        f"{len(of[Kind.OTHER_ROUTE])} by another route of our own, {len(of[Kind.IDENTITY])} "
        f"identities, {len(of[Kind.TRANSCRIPTION])} transcriptions of tables and {len(trends)} "
        f"trends. {f'{failed} FAILED' if failed else 'All passed'}.\n"
    )
    for kind, found in of.items():
        title, words = kind.value
        text += f"\n## {title}\n\n{words}\n\n{NUMBERS}" + "".join(map(_row, found))
    text += SHARES
    for t in trends:
        text += f"| {_cell(t.what)} | {t.share:.4g} | {t.most:g} | {_verdict(t.passed)} |\n"
    return HEAD + text


def main() -> int:
    """Run the tests of this folder, write the page, return pytest's exit code."""
    code = pytest.main([str(Path(__file__).parent), "-q", "-p", "no:cacheprovider", "-n", "0"])
    target = Path(sys.argv[1]) if len(sys.argv) > 1 else PAGE
    target.write_text(page(RECORD, TRENDS), encoding="utf-8")
    print(f"{target}: {len(RECORD) + len(TRENDS)} checks")
    return int(code)


if __name__ == "__main__":
    sys.exit(main())
