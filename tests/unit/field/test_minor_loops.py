"""Steel on minor loops: reversible where small, the shifted curve where large, a gradient."""

from __future__ import annotations

import functools

import numpy as np
import pytest

import motor
from motor.base.arrays import Floats
from motor.field.eddy_currents import Harmonic
from motor.field.minor_loops import MinorLoops, on_minor_loops, share_at
from motor.field.steel_part import SteelState
from motor.results.impedance import equations
from motor.results.motor_result import solve
from motor.results.parallel_parts import loads_at


@functools.cache
def harmonic() -> tuple[Harmonic, Floats]:
    """Return a starter's equations along its curve, and the load of 1 A."""
    result = solve(motor.starter("outside-magnet"), uncertainty=False)
    found = equations(result, result.field.coarse, np.zeros(1), 100.0, "slope", 4.0, 2.0)
    return found, loads_at(found.level, result.design.coil, np.zeros(1))[:, 0]


def law() -> tuple[MinorLoops, SteelState]:
    whole = harmonic()[0]
    return MinorLoops.about(whole.level.system.steel, whole.bias), whole.bias


def changed(state: SteelState, b: Floats) -> SteelState:
    """Return the state at other flux densities."""
    steel, size = law()[0], np.linalg.norm(b, axis=-1)
    nu, slope = np.empty_like(size), np.empty_like(size)
    for curve, members in steel._laws:
        h, slope[members] = curve.field_and_slope(size[members])
        nu[members] = h / size[members]
    return SteelState(b, size, nu, slope)


def test_small_changes_meet_the_reversible_reluctivity() -> None:
    whole, _ = harmonic()
    rest = whole.level.solution.reduced
    system = on_minor_loops(whole.level.system, rest)
    expected = whole.with_share(1.0).stiffness
    found = whole.whole(system.linear + system.steel_tangent(system.steel_at(rest)))
    assert abs(found - expected).max() < 1e-6 * abs(expected).max()


def test_the_tangent_is_the_slope_of_the_force() -> None:
    whole, load = harmonic()
    rest = whole.level.solution.reduced
    system = on_minor_loops(whole.level.system, rest)
    (step,) = whole.relaxed([100.0], load[:, None]).T
    a, h = rest + 3.0 * step, 1e-4
    tangent = whole.whole(system.steel_tangent(system.steel_at(a)))
    ahead, behind = (system.steel_force(system.steel_at(a + d * step)) for d in (h, -h))
    expected = (ahead - behind) / (2 * h)
    assert np.linalg.norm(tangent @ step - expected) < 1e-5 * np.linalg.norm(expected)


def test_large_changes_meet_the_curve_shifted_by_the_coercivity() -> None:
    """Along B0, where minor loops are much flatter than the curve."""
    steel, state = law()
    along = state.flux_density / state.size[..., None]
    small = steel.reversible(state, {})
    flatter = (small.slope - state.slope > small.nu - state.nu) & (small.slope > 3 * state.slope)
    assert flatter.any()
    b = 50.0 * along
    pushed, _, left = steel._minor(b)
    shift = (left[..., None] * pushed * along).sum(axis=-1)[flatter]
    bound = steel.coercivity()[flatter]
    assert (shift <= bound).all()
    assert (shift > 0.9 * bound).all()


def test_steel_opens_with_the_current_and_with_the_frequency() -> None:
    """Skins carry a higher flux density."""
    whole, load = harmonic()
    small, middle, large = (share_at(whole, i * load, 100.0)[1] for i in (1e-4, 0.5, 5.0))
    assert small == pytest.approx(1.0, abs=2e-3)
    assert 1 > middle > large > 0
    assert share_at(whole, 0.5 * load, 1000.0)[1] < middle
