"""Any physical B-H table gives a curve that Newton's method can rely on."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from motor.base.constants import MU0
from motor.materials import TabulatedSteel


@st.composite
def steel_tables(draw: st.DrawFn) -> tuple[tuple[float, ...], tuple[float, ...], float | None]:
    """Return columns of B and H whose slope falls to nearly that of free space."""
    rows = draw(st.integers(4, 25))
    powers = sorted(draw(st.lists(st.floats(0.02, 4.0), min_size=rows - 3, max_size=rows - 3)))
    powers = [*powers[::-1], 0.3, 0.1, 0.03]
    b = h = 0.0
    columns: tuple[list[float], list[float]] = ([], [])
    for power in powers:
        rise = draw(st.floats(0.02, 0.3))
        b += rise
        h += rise / (MU0 * 10**power)
        columns[0].append(b)
        columns[1].append(h)
    saturation = draw(st.none() | st.floats(0.5, 3.0))
    return tuple(columns[0]), tuple(columns[1]), saturation


@given(steel_tables())
def test_any_physical_table_gives_a_rising_curve(
    columns: tuple[tuple[float, ...], tuple[float, ...], float | None],
) -> None:
    flux, field, saturation = columns
    steel = TabulatedSteel(
        name="any",
        density=7850.0,
        source="",
        flux_density=flux,
        field=field,
        saturation=saturation,
    )
    curve = steel.curve()
    b = np.concatenate([np.geomspace(1e-6, 0.99e-3, 50), np.linspace(1e-3, 12.0, 12_001)])
    h, slope = curve.field_and_slope(b)
    assert np.isfinite(h).all()
    assert (np.diff(h) > 0).all()
    assert (slope > 0).all()
    assert (np.diff(curve.energy(b)) > 0).all()
