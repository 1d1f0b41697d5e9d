"""Numbers on screens: as far as they are known, shares only where they tell something."""

from __future__ import annotations

import pytest

from motor.report.tables.comparison import _share
from motor.report.tables.remarks import known


@pytest.mark.parametrize(
    ("value", "doubt", "digits", "text"),
    [
        (0.96092, 0.0081, 2, "0.9609"),
        (0.0045908, 0.05, 2, "0.005"),
        (-6e-7, 1e-4, 1, "0.0000"),
        (1.3e-4, 3e-5, 1, "0.00013"),
        (2.267e-5, 1e-5, 1, "2e-05"),
        (1234.5, 20.0, 1, "1230"),
        (3.456, 0.0996, 1, "3.5"),
        (39.0612, 0.0, 1, "39.06"),
        (39.0612, float("nan"), 1, "39.06"),
    ],
)
def test_a_value_as_far_as_it_is_known(value: float, doubt: float, digits: int, text: str) -> None:
    assert known(value, doubt, digits) == text


def test_shares_of_what_changes_its_sign_are_left_out() -> None:
    assert _share(-0.7, 0.55) == ""
    assert (_share(-0.5, 0.5), _share(0.1, -0.5), _share(-0.1, -0.5)) == (
        "-100.0",
        "+20.0",
        "-20.0",
    )
