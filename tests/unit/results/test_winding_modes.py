"""Inductance of other windings in one motor's field, against direct solves and closed sums."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from motor.base.arrays import Floats
from motor.base.errors import InvalidInput
from motor.design.reading import read_design
from motor.design.starters import starter
from motor.results.impedance import blocked_impedance
from motor.results.motor_result import read_off_other_coil, solve
from motor.results.winding_modes import Section, WindingModes, sections_of, winding_modes
from tests.unit.cli.running import DESIGN

HIGHEST = 300.0


def smooth(
    radius: tuple[float, float] = (0.01, 0.014), height: tuple[float, float] = (-0.03, 0.05)
) -> WindingModes:
    """Return modes whose flux per turn is (1 + 2 t) cos(40 z) and 0.5 t^2, t from -1 to 1."""
    z = np.linspace(*height, 161)
    integral = np.sin(40 * z) / 40 - np.sin(40 * height[0]) / 40
    flux = np.zeros((2, 4, len(z)))
    flux[0, 0], flux[0, 1] = integral, 2 * integral
    flux[1, 0], flux[1, 2] = (z - z[0]) / 6, (z - z[0]) / 3
    return WindingModes(
        np.array([0.0, 1e-3]),
        radius,
        height,
        flux,
        np.array([1e-3, 2e-3]),
        np.array([5e-3, 8e-3]),
        (0.012, 0.001),
    )


def test_couplings_are_means_over_the_sections() -> None:
    modes = smooth()
    one = Section(0.0105, 0.0125, -0.004, 0.006, 50.0)
    other = Section(0.011, 0.012, 0.01, 0.013, -20.0)
    expected = np.zeros(2)
    for s in (one, other):
        t = np.linspace(*(2 * (r - 0.01) / 0.004 - 1 for r in (s.inner, s.outer)), 2001)
        high, low = s.high + 1e-3, s.low + 1e-3
        along = (np.sin(40 * high) - np.sin(40 * low)) / 40 / (high - low)
        means = [np.trapezoid(f, t) / (t[-1] - t[0]) for f in (1 + 2 * t, 0.5 * t**2)]
        expected += s.turns * np.array([means[0] * along, means[1]])
    found = modes.coupling([one, other], 1e-3)
    assert found == pytest.approx(expected, rel=1e-6)
    linkage = modes.linkage([one, other], np.array([1e-3]), np.array([0.0, 200.0]))[:, 0]
    assert linkage[0] == pytest.approx((expected**2).sum(), rel=1e-6)
    lag = 2 * np.pi * 200 * 1e-3
    assert linkage[1] == pytest.approx(expected[0] ** 2 + expected[1] ** 2 / (1 + 1j * lag))


def test_what_is_not_known_and_how_errors_grow() -> None:
    modes = smooth()
    assert modes.knows([Section(0.01, 0.014, -0.03, 0.05, 1.0)])
    assert not modes.knows([Section(0.01, 0.0141, -0.01, 0.01, 1.0)])
    assert not modes.knows([Section(0.01, 0.012, -0.01, 0.01, 1.0)], [-0.03, 0.0])
    assert modes.misfit(0.012, 0.001) == pytest.approx(modes.own)
    for winding in ((0.012 * 1.25, 0.001), (0.012 / 1.25, 0.001), (0.012, 0.002)):
        assert modes.misfit(*winding) == pytest.approx(modes.far)
    assert (modes.misfit(0.006, 0.001) > 2 * modes.far).all()


def test_another_winding_is_that_of_a_direct_solve() -> None:
    """Within what is stated, beside the mesh's own error."""
    result = solve(starter("inside-magnet"))
    modes, design = winding_modes(result, HIGHEST), result.design
    coil = dataclasses.replace(
        design.coil,
        winding_height=1.3 * design.coil.winding_height,
        layers=1,
        rest_position=1e-3,
    )
    other = read_off_other_coil(design.replace(coil=coil), result.field)
    x: Floats = np.array([-1e-3, 1e-3])
    exact = blocked_impedance(other, x.tolist(), [HIGHEST])
    linkage = modes.linkage(sections_of(coil), x, exact.frequency)
    stated = modes.misfit(coil.winding_height, coil.build_up)
    mesh = (exact.inductance_uncertainty / exact.inductance).max()
    assert linkage.real == pytest.approx(exact.inductance, rel=float(np.hypot(stated[0], mesh)))
    losses = -2 * np.pi * HIGHEST * linkage.imag
    assert losses == pytest.approx(exact.eddy_resistance, rel=float(stated[1]) + 2e-3)
    assert stated.max() < 0.1


def test_parts_in_parallel_are_refused() -> None:
    design = read_design(DESIGN.with_name("bass_two_gaps.toml"))
    shared = design.replace(coil=dataclasses.replace(design.coil, connection="parallel"))
    with pytest.raises(InvalidInput, match=r"coil\.connection must be series"):
        winding_modes(solve(shared, uncertainty=False))
