"""The page of checks counts what is outside, and each number once."""

from __future__ import annotations

import pytest

from tests.verification.__main__ import PAGE, page
from tests.verification.checks import (
    RECORD,
    TRENDS,
    Check,
    Kind,
    Source,
    Trend,
    check,
    outside,
    trend,
)

SAMPLE = [
    Check("a", Source("handbook", Kind.OUTSIDE), 1.0, 1.001, 1e-2),
    Check("b", Source("handbook", Kind.OUTSIDE), 2.0, 2.0, 1e-2),
    Check("c", Source("own solver", Kind.OTHER_ROUTE), 1.0, 1.0, 1e-2),
    Check("d", Source("Gauss", Kind.IDENTITY), 1.0, 1.0, 1e-2),
    Check("e", Source("table", Kind.TRANSCRIPTION), 1.0, 1.0, 1e-2),
]


def test_headline_counts_outside_sources_only() -> None:
    text = page(SAMPLE, [Trend("f", 0.5, 1.0)])
    assert "**2 checks against 1 outside sources.** Beside them 1 by another route" in text
    assert "1 identities, 1 transcriptions of tables and 1 trends. All passed." in text
    heads = [line for line in text.splitlines() if line.startswith("## ")]
    assert heads == [f"## {kind.value[0]}" for kind in Kind] + ["## Trends"]
    assert "| f | 0.5 | 1 | passed |" in text


def test_a_failure_is_told() -> None:
    wrong = Check("g", Source("handbook", Kind.OUTSIDE), 1.0, 1.1, 1e-2)
    assert "2 FAILED" in page([*SAMPLE, wrong], [Trend("h", 1.5, 1.0)])


def test_checks_and_trends_can_fail() -> None:
    kept, shares = len(RECORD), len(TRENDS)
    try:
        for got in (1.1, float("nan")):
            with pytest.raises(AssertionError, match="expected 1"):
                check("wrong on purpose", outside("none"), 1.0, got, 1e-2)
        for small in (1.2, -0.5, float("nan")):
            with pytest.raises(AssertionError, match="less than 1"):
                trend("wrong on purpose", small, 1.0)
    finally:
        del RECORD[kept:], TRENDS[shares:]


def test_no_number_of_the_page_stands_twice() -> None:
    """A quantity may be checked by two sources, not twice by one."""
    rows = [line.split(" | ")[:2] for line in PAGE.read_text(encoding="utf-8").splitlines()]
    named = [
        tuple(row) for row in rows if len(row) == 2 and not row[1].startswith(("-", "0", "so"))
    ]
    assert len(named) > 200
    assert sorted({n for n in named if named.count(n) > 1}) == []
