"""Checks that several files share tell what they compared when they fail."""

from __future__ import annotations

import pytest

pytest.register_assert_rewrite(
    "tests.unit.design.design_texts", "tests.unit.geometries.geometry_checks"
)
