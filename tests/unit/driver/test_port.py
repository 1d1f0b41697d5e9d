"""The air in the port of a vented box."""

from __future__ import annotations

import math

import pytest

from motor import Box, Driver, DriverSystem, distortion_map, steady_state
from motor.report.files.driver import map_table
from motor.report.tables.driver import HEARD_PORT, map_text

DRIVER = Driver(
    resistance=5.8,
    force_factor=6.8,
    mass=14.5e-3,
    stiffness=900.0,
    mechanical_resistance=1.2,
    area=137e-4,
)


def test_port_speed_follows_from_the_flow() -> None:
    """At the tuning of a tight box the port moves the air, the cone hardly any."""
    box = Box(volume=0.02, tuning=45.0, port_area=1.5e-3, leak_corner=0.0)
    state, _ = steady_state(DriverSystem(driver=DRIVER, box=box), 45.0, 4.0)
    assert state is not None
    flow = 2 * math.pi * abs(state.pressure[1]) / (1.2 * 2 * math.pi * 45.0)
    assert state.port_speed == pytest.approx(flow / 1.5e-3, rel=1e-2)


def test_port_speed_is_told_where_the_port_is_known() -> None:
    box = Box(volume=0.02, tuning=45.0, port_area=1.5e-3)
    vented = DriverSystem(driver=DRIVER, box=box)
    found = distortion_map(vented, [30.0, 45.0], [1.0, 8.0])
    fastest = [found.fastest_port(j) for j in range(2)]
    speeds = [0.0 if s is None or s.port_speed is None else s.port_speed for s in fastest]
    assert speeds[1] == pytest.approx(8 * speeds[0], rel=1e-6)
    assert speeds[0] < HEARD_PORT < speeds[1]
    quiet, loud = map_text(vented, found).splitlines()[:2]
    assert quiet.endswith(f"air in the port up to {speeds[0]:.3g} m/s at 45 Hz")
    assert loud.endswith("which is heard")
    table = map_table(found)
    assert table.columns[-1] == "port_speed_m_per_s"
    assert max(list(row)[-1] for row in table.rows) == speeds[1]
    closed = vented.replace(box=Box(volume=0.02))
    plain = distortion_map(closed, [45.0], [1.0])
    assert "port" not in map_text(closed, plain)
    assert "port_speed_m_per_s" not in map_table(plain).columns
