"""What is found beyond steady motion about rest: jumps, limits, ranges.  Never a NaN."""

from __future__ import annotations

import math

import numpy as np
import pytest

from motor.design.characteristic import Polynomial
from motor.design.enclosure import Amplifier
from motor.driver.distortion import clean_limits, clean_stroke, distortion_map
from motor.driver.drive import two_tone_drive
from motor.driver.finding import Finding
from motor.driver.parts import Driver, DriverSystem
from motor.driver.steady import follow, sine, steady_state
from motor.driver.transient import integrate

RANGE = 11e-3


def soft(**changes: float) -> Driver:
    """Return a driver of soft suspension: its rest position is unstable when driven hard."""
    return Driver(
        resistance=5.8,
        force_factor=Polynomial((6.8, 0.0, -6.8 * 7200), -RANGE, RANGE),
        mass=14.5e-3,
        stiffness=Polynomial((400.0, 0.0, 400 * changes.pop("bent", 0.0)), -0.02, 0.02),
        mechanical_resistance=1.2,
        area=137e-4,
        **changes,
    )


def settles(system: DriverSystem, frequency: float, voltage: float, bias: float = 0.02) -> float:
    """Return the mean travel (m) after a while, started a little off centre by a direct voltage.

    NaN if the coil has left the range.
    """
    t = np.linspace(0, 0.5, 2001)
    peak = math.sqrt(2) * voltage

    def source(s: float) -> float:
        off = bias if s < 0.1 else 0.0
        return min(1.0, s / 0.1) * peak * math.sin(2 * math.pi * frequency * s) + off

    motion = integrate(system, source, t, tolerance=1e-6)
    if motion.left_range is not None:
        return math.nan
    last = motion.time > 0.5 - 4.5 / frequency
    return float(motion.displacement[last].mean())


def test_a_lost_motion_is_a_finding_with_its_level() -> None:
    system = DriverSystem(driver=soft())
    found = list(follow(system, sine(75.0), [8.0, 12.0, 20.0, 24.0]))
    kinds = [[f.kind for f in findings] for _, findings in found]
    assert kinds == [[], [], ["no steady motion"], []]
    assert [state is None for state, _ in found] == [False, False, True, True]
    finding = found[2][1][0]
    assert 12.0 < finding.voltage < 20.0
    assert finding.frequency == 75.0
    assert "V r.m.s." in finding.text
    # the same in time: below the level the coil comes back, above it leaves
    assert abs(settles(system, 75.0, 0.9 * finding.voltage)) < 0.5e-3
    assert math.isnan(settles(system, 75.0, 1.1 * finding.voltage))


def test_a_jump_to_another_mean_displacement_is_a_finding() -> None:
    """A stiffening suspension catches the coil: the mean displacement that is found is real."""
    system = DriverSystem(driver=soft(bent=3e4))
    levels = [12.0, 16.0, 20.0, 24.0, 28.0]
    found = list(follow(system, sine(120.0), levels))
    jumps = [f for _, findings in found for f in findings if f.kind == "jump"]
    assert len(jumps) == 1
    state = found[-1][0]
    assert state is not None
    assert abs(state.shift) > 1e-3
    for one, _ in found:
        assert one is not None
        assert (abs(one.shift) > 1e-6) == (one.voltage > jumps[0].voltage)
    reached = settles(system, 120.0, levels[-1])
    assert abs(reached) == pytest.approx(abs(state.shift), rel=0.05)


def test_passing_the_mechanical_limit_starts_where_the_travel_reaches_it() -> None:
    driver = soft(inward=4e-3, outward=6e-3, inductance=0.5e-3)
    found = list(follow(DriverSystem(driver=driver), sine(30.0), [1.0, 2.0, 4.0, 5.0]))
    limits = [f for _, findings in found for f in findings if f.kind == "mechanical limit"]
    assert len(limits) == 1
    at, _ = steady_state(DriverSystem(driver=driver), 30.0, limits[0].voltage)
    assert at is not None
    assert at.inward == pytest.approx(4e-3, rel=3e-3)


def test_of_two_tones_the_first_one_names_the_frequency() -> None:
    drive = two_tone_drive(40.0, 90.0, 0.25)
    assert drive.frequency == 10.0
    assert Finding.jump(drive, 3.0, None).frequency == pytest.approx(40.0)
    at, _ = steady_state(DriverSystem(driver=soft()), 40.0, 1.0)
    assert at is not None
    passed = Finding.passed("mechanical limit", drive, 3.0, at)
    assert passed.frequency == pytest.approx(40.0)
    assert "at 40 Hz from 3 V r.m.s." in passed.text


def test_leaving_the_known_range_ends_the_level() -> None:
    state, findings = steady_state(DriverSystem(driver=soft()), 20.0, 40.0)
    assert state is None
    assert findings[-1].kind in ("range", "no steady motion")


def test_map_masks_what_does_not_exist_and_holds_no_nan() -> None:
    found = distortion_map(DriverSystem(driver=soft()), [20.0, 75.0], [2.0, 12.0, 40.0])
    values = found.table(lambda s: s.thd)
    assert values.shape == (2, 3)
    assert values.mask[:, 2].all()
    assert not values.mask[:, 0].any()
    assert np.isfinite(values.compressed()).all()
    assert {f.kind for f in found.findings} <= {"range", "no steady motion", "jump"}
    ax = found.plot()
    assert "distortion" in ax.get_ylabel()


def test_map_of_sixty_frequencies_and_five_levels_is_complete() -> None:
    system = DriverSystem(driver=soft(bent=2e3, inductance=0.5e-3))
    found = distortion_map(system, np.geomspace(20, 200, 60), [0.5, 1.0, 1.5, 2.0, 2.5])
    values = found.table(lambda s: s.thd)
    assert values.count() == 300
    assert (np.diff(values[:20], axis=1) > 0).all()
    assert max(s.residual for row in found.states for s in row if s is not None) < 1e-8


def test_clean_limit_names_what_limits() -> None:
    def reason(system: DriverSystem, frequency: float, distortion: float = 0.1) -> str:
        return clean_limits(system, [frequency], distortion=distortion).limits[0].limited_by

    linear = soft().linear().replace(inductance=0.0)
    bent_k = linear.replace(stiffness=Polynomial((400.0, 0.0, 400 * 2e4)))
    bent_le = linear.replace(inductance=Polynomial((2e-3, -0.15), -0.012, 0.012))
    assert reason(DriverSystem(driver=soft()), 40.0) == "Bl"
    assert reason(DriverSystem(driver=bent_k), 25.0) == "suspension"
    assert reason(DriverSystem(driver=bent_le), 100.0, 0.02) == "inductance"
    assert reason(DriverSystem(driver=linear.replace(inward=2e-3)), 25.0) == "mechanical limit"
    assert reason(DriverSystem(driver=linear), 25.0) == "range"
    clipping = Amplifier(clip=2.0)
    assert reason(DriverSystem(driver=linear, amplifier=clipping), 100.0) == "amplifier"


def test_clean_limit_is_where_the_distortion_is_reached() -> None:
    system = DriverSystem(driver=soft(inductance=0.5e-3))
    found = clean_limits(system, [45.0], distortion=0.03).limits[0]
    at, _ = steady_state(system, 45.0, found.voltage)
    assert at is not None
    assert at.thd == pytest.approx(0.03, rel=0.01)
    assert found.peak == pytest.approx(at.peak)
    assert clean_stroke(system, distortion=0.03, frequency=45.0).peak == pytest.approx(
        found.peak, rel=0.01
    )
