"""Heat of eddy currents: it balances, agrees with the blocked coil's impedance, and shows."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from geometries import InvalidInput
from motor.design.reading import read_design
from motor.driver.thermal_network import network_at
from motor.report.tables.heat import heat_record
from motor.results import heat_settled
from motor.results.eddy_heat import eddy_heat
from motor.results.heat import Warmth, heat
from motor.results.heat_time import noise
from motor.results.impedance import blocked_impedance
from motor.results.motor_result import MotorResult, solve
from motor.results.spectrum import Spectrum, programme_spectrum, spectrum_of
from tests.unit.results.test_heat import DESIGNS, with_rules


@pytest.fixture(scope="module")
def ringed() -> MotorResult:
    return solve(read_design(DESIGNS / "home_bass_long_stroke.toml"), uncertainty=False)


@pytest.fixture(scope="module")
def warm(ringed: MotorResult) -> Warmth:
    return heat(with_rules(ringed, eddy_currents="included"), 30.0)


def test_coil_and_parts_take_what_the_source_gives(warm: Warmth) -> None:
    """Losses part by part against the real part of U I*, and against what reaches the air."""
    settled, model = warm.settled, warm.model
    assert model.eddy is not None
    volts = model.voltage(30.0)
    taken = model.eddy.taken(volts, warm.resistance, model.output_resistance)
    given = settled.heat + sum(settled.losses.values())
    assert given == pytest.approx(taken, rel=1e-9)
    assert sum(warm.ways.values()) == pytest.approx(taken, rel=1e-8)
    assert settled.losses["copper_sleeve"] > settled.losses["yoke"] > 0
    assert min(settled.losses.values()) >= 0


def test_resistance_is_that_of_the_blocked_coil(ringed: MotorResult) -> None:
    """A coarser mesh and few modes against the direct solve of each frequency."""
    frequency = np.array([100.0, 1000.0, 8000.0])
    spectrum = Spectrum(frequency, np.full(3, 1 / 3))
    found = eddy_heat(ringed, ringed.field.fine, spectrum, 0.0)
    direct = blocked_impedance(ringed, [0.0], frequency.tolist())
    omega = 2 * np.pi * frequency
    assert found.impedance.real == pytest.approx(direct.eddy_resistance[:, 0], rel=0.015)
    assert found.impedance.imag / omega == pytest.approx(direct.inductance[:, 0], rel=0.015)
    shares = [found.density[ringed.field.fine.system.mesh.triangles_of(n)] for n in found.parts]
    assert [part.sum() for part in shares] == pytest.approx([1.0] * len(shares))
    assert all((part >= 0).all() for part in shares)


def test_eddy_currents_spare_the_coil_and_warm_the_parts(ringed: MotorResult, warm: Warmth) -> None:
    plain = heat(ringed, 30.0)
    assert warm.coil.value < plain.coil.value - 5
    assert warm.largest_power[0].value > plain.largest_power[0].value
    record = heat_record(warm)
    assert record["heat_in_parts_W"] == pytest.approx(sum(warm.settled.losses.values()))
    sleeve = next(r for r in record["eddy_currents"] if r["name"] == "copper_sleeve")
    assert sleeve["density_kW_per_m3"] > 100
    assert heat_record(plain)["eddy_currents"] == []
    sine = with_rules(ringed, eddy_currents="included", lowest_frequency=3e3, highest_frequency=3e3)
    high = heat(sine, 30.0)
    assert high.settled.heat < warm.settled.heat
    over_time = warm.history(noise(), 8 * 3600.0)
    assert over_time.coil[-1] == pytest.approx(warm.coil.value, abs=0.5)
    assert over_time.losses[-1] == pytest.approx(record["heat_in_parts_W"], rel=1e-3)


def test_warm_parts_conduct_less(ringed: MotorResult, warm: Warmth) -> None:
    """The modes with other conductivities against modes made for parts that warm."""
    eddy, x = warm.model.eddy, warm.displacement
    assert eddy is not None
    kelvin = {name: warm.mean(name).value for name in eddy.parts}
    assert min(kelvin.values()) > ringed.design.temperature + 5
    hot = ringed.design.replace(
        materials=dataclasses.replace(ringed.design.materials, temperatures=kelvin)
    )
    fine = ringed.field.fine
    made = eddy_heat(dataclasses.replace(ringed, design=hot), fine, programme_spectrum(), x)
    cold = eddy_heat(ringed, fine, programme_spectrum(), x)
    assert eddy.parts == made.parts == cold.parts
    assert eddy.impedance == pytest.approx(made.impedance, rel=3e-3)
    assert eddy.heats(10.0, 8.0, 0.0) == pytest.approx(made.heats(10.0, 8.0, 0.0), rel=0.012)
    plate = 1 + eddy.parts.index("top_plate")
    before, after = (e.heats(10.0, 8.0, 0.0)[plate] for e in (cold, eddy))
    assert 0.01 < after / before - 1 < 0.07
    # a second pass changes hundredths of a kelvin
    _, settled = heat_settled._warm(dataclasses.replace(warm.model, eddy=cold), warm.settled, 30.0)
    assert settled.coil == pytest.approx(warm.settled.coil, abs=0.02)


def test_two_bodies_take_what_the_section_takes(warm: Warmth) -> None:
    """One answer: coil, motor and both heats as in the section, eddy currents included."""
    network, bodies = network_at(warm.model, warm.settled), warm.bodies
    found = network.steady(warm.model.voltage(30.0))
    assert found.coil == pytest.approx(warm.coil.value, abs=0.02)
    assert found.motor == pytest.approx(bodies.motor, abs=0.02)
    assert found.power == pytest.approx(warm.settled.heat, rel=1e-4)
    assert found.motor_power == pytest.approx(sum(warm.settled.losses.values()), rel=1e-4)


def test_spectra() -> None:
    whole = programme_spectrum()
    assert whole.share.sum() == pytest.approx(1.0)
    middle = (whole.frequency > 90) & (whole.frequency < 2100)
    assert whole.share[middle].sum() == pytest.approx(0.73, abs=0.03)
    assert programme_spectrum(50.0, 50.0).frequency.tolist() == [50.0]
    narrow = programme_spectrum(100.0, 2000.0)
    assert narrow.frequency.min() >= 100.0
    assert narrow.frequency.max() <= 2000.0
    rate, time = 8000, np.arange(8000) / 8000
    tones = np.sin(2 * np.pi * 200 * time) + 2 * np.sin(2 * np.pi * 1000 * time)
    found = spectrum_of(tones, rate)
    assert found.share.max() == pytest.approx(0.8, abs=1e-6)
    assert found.frequency[found.share.argmax()] == pytest.approx(1000.0)
    with pytest.raises(InvalidInput, match="rise from 20 to 20000 Hz"):
        programme_spectrum(10.0, 100.0)
    with pytest.raises(InvalidInput, match="have some sound"):
        spectrum_of(np.zeros(800), rate)


def test_frequencies_of_the_heat_section_are_checked(ringed: MotorResult) -> None:
    with pytest.raises(InvalidInput, match="highest_frequency must lie between"):
        dataclasses.replace(ringed.design.heat, lowest_frequency=500.0, highest_frequency=100.0)
