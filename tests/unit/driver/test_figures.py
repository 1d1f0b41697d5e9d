"""Figures of a driver by their definitions, and tables that it can be made of."""

from __future__ import annotations

import dataclasses
import math
from pathlib import Path

import numpy as np
import pytest

from motor import (
    Box,
    Driver,
    DriverSystem,
    InvalidInput,
    Polynomial,
    Table,
    driver_of,
    integrate,
    read_design,
    response,
    solve,
    steady_state,
)
from motor.driver.measured import _variances
from motor.driver.small_signal import small_signal
from motor.driver.system_comparison import equal_loudness

DESIGNS = Path(__file__).parents[3] / "studies" / "designs"
DRIVER = Driver(
    resistance=5.8,
    force_factor=Polynomial((6.8, 20.0, -4e4), -0.02, 0.02),
    mass=14.5e-3,
    stiffness=Polynomial((900.0, 0.0, 9e6), -0.02, 0.02),
    mechanical_resistance=1.2,
    area=137e-4,
    inductance=0.5e-3,
)


def test_customary_units_of_the_small_signal_parameters() -> None:
    found = small_signal(DRIVER)
    rows = {name: (value, unit) for name, value, unit in found.rows()}
    for name, value, unit in (
        ("Le", 0.5, "mH"),
        ("Mms", 14.5, "g"),
        ("Cms", 1 / 0.9, "mm/N"),
        ("Sd", 137.0, "cm²"),
        ("Vas", found.vas / 1e-3, "l"),
        ("reference efficiency", found.efficiency / 0.01, "%"),
    ):
        assert rows[name] == (pytest.approx(value), unit)


def test_tables_over_displacement_must_cover_the_stroke_both_ways() -> None:
    """Bl, K and L are read at both ends of it."""
    design = read_design(DESIGNS / "door_woofer_ferrite.toml")
    assert design.moving_parts is not None
    outwards = Table((-1e-3, 0.0, 5e-3, 20e-3), (2e-3, 1e-3, 8e-4, 6e-4))
    result = solve(
        design.replace(moving_parts=dataclasses.replace(design.moving_parts, inductance=outwards))
    )
    with pytest.raises(InvalidInput, match="inductance table must"):
        driver_of(result)
    both = Table((-20e-3, 0.0, 5e-3, 20e-3), outwards.values)
    moving = dataclasses.replace(design.moving_parts, inductance=both)
    found = driver_of(dataclasses.replace(result, design=design.replace(moving_parts=moving)))
    assert found.le.at_rest == pytest.approx(1e-3)
    assert found.inductance_source == "given"


def test_distortion_is_what_the_harmonics_are_of_the_whole() -> None:
    """IEC 60268-5: root of the sum of squares from the second on, over that from the first on."""
    state, _ = steady_state(DriverSystem(driver=DRIVER), 40.0, 6.0)
    assert state is not None
    power = np.abs(state.pressure[1:]) ** 2
    assert state.thd == pytest.approx(math.sqrt(power[1:].sum() / power.sum()))
    assert state.harmonic(2) == pytest.approx(math.sqrt(power[1] / power.sum()))


def test_equally_loud_is_the_same_pressure_at_the_frequency() -> None:
    weak = DriverSystem(driver=DRIVER.replace(force_factor=3.0), box=Box(volume=0.02))
    systems = [DriverSystem(driver=DRIVER), weak]
    levels = equal_loudness(systems, 100.0, 4.0)
    assert levels[0] == 4.0
    loud = [abs(response(s, 100.0, v).pressure[0]) for s, v in zip(systems, levels, strict=True)]
    assert loud[1] == pytest.approx(loud[0], rel=1e-9)


def test_variances_of_gain_and_offset_are_those_of_least_squares() -> None:
    jacobian = np.array([[1.0, 0.2], [0.8, -0.5], [0.3, 0.9], [1.2, 0.1]])
    expected = np.diag(np.linalg.inv(jacobian.T @ jacobian))
    np.testing.assert_allclose(_variances(jacobian), expected)


def test_motion_is_asked_for_from_zero_on() -> None:
    with pytest.raises(InvalidInput, match="times must rise from 0 s or later"):
        integrate(DriverSystem(driver=DRIVER), lambda _: 0.0, np.array([-0.01, 0.0, 0.01]))
