"""The Pareto front by its definition."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from motor.study.pareto import pareto_front

GOODS = st.lists(
    st.tuples(st.integers(0, 6), st.one_of(st.integers(0, 6), st.just(float("nan")))),
    min_size=1,
    max_size=30,
)


def beats(a, b) -> bool:
    return all(x >= y for x, y in zip(a, b, strict=True)) and any(
        x > y for x, y in zip(a, b, strict=True)
    )


@given(GOODS)
def test_nothing_on_the_front_is_beaten_and_all_else_is(goods):
    front = pareto_front(np.array(goods, float))
    valid = [i for i, row in enumerate(goods) if not np.isnan(row).any()]
    for i in valid:
        beaten = any(beats(goods[j], goods[i]) for j in valid)
        assert (i in front) != beaten
    assert set(front) <= set(valid)
    assert list(np.array(goods, float)[front, 0]) == sorted(np.array(goods, float)[front, 0])
