"""A few hundred cases of every kind of :mod:`tests.properties.fuzz`; many more by its command."""

from __future__ import annotations

import os
import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.properties.fuzz import AREAS, run_case
from tests.properties.mutation import NAMES, any_value, mutated_toml, toml_of

KILLS = [area for area in AREAS if "killed" in area]
MANY = settings.default.max_examples >= 1000
TEXT = 'a = 1\n[b]\nc = "5 mm"\nd = [1, 2]\n'


@pytest.mark.parametrize("area", [area for area in AREAS if area not in KILLS])
def test_a_result_or_an_error_in_one_line(area: str) -> None:
    @settings(max_examples=AREAS[area].few * (10 if MANY else 1))
    @given(st.integers(0, 2**32))
    def case(seed: int) -> None:
        assert run_case(area, seed)[0] in ("read", "refused")

    case()


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork")
@pytest.mark.parametrize("area", KILLS)
def test_what_is_killed_leaves_all_or_nothing(area: str) -> None:
    met = [run_case(area, seed)[0] for seed in range(AREAS[area].few)]
    assert "killed" in met


def test_mutations_change_and_stay_text_that_can_be_written() -> None:
    draw = random.Random(1)
    changed = [mutated_toml(draw, TEXT) for _ in range(200)]
    assert sum(text != TEXT.encode() for text in changed) > 190
    assert len(set(changed)) > 150
    values = [toml_of({name or "k": any_value(draw)}) for name in NAMES for _ in range(5)]
    assert all(text.endswith("\n") for text in values)
