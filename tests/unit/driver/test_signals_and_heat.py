"""Signals of any kind, coil heat, hand-over files, measured tables, comparison."""

from __future__ import annotations

import dataclasses
import io
import math
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from motor import (
    Amplifier,
    Box,
    Driver,
    DriverSystem,
    InvalidInput,
    MotorResult,
    Polynomial,
    Table,
    ThermalNetwork,
    compare,
    compare_bl,
    fit_polynomial,
    integrate,
    network_of,
    play,
    read_design,
    read_measured_bl,
    sampled_table,
    solve,
    spice_subcircuit,
    spline_table,
    steady_state,
)
from motor.driver.thermal_network import RESISTANCE_ALONE as NONE
from motor.driver.thermal_network import Blocked
from motor.results.heat import heat

DESIGNS = Path(__file__).parents[3] / "studies" / "designs"
X = np.linspace(-10e-3, 10e-3, 81)
BL = Table(tuple(X), tuple(6.8 * np.exp(-7200 * (X - 0.5e-3) ** 2)))
DRIVER = Driver(
    resistance=5.8,
    force_factor=BL,
    mass=14.5e-3,
    stiffness=Polynomial((900.0, 0.0, 9e6), -0.02, 0.02),
    mechanical_resistance=1.2,
    area=137e-4,
    inductance=0.5e-3,
)


@pytest.mark.parametrize("box", [None, Box(volume=0.02, tuning=45.0)])
def test_sampled_signal_against_accurate_integration(box: Box | None) -> None:
    """Straight lines between samples at 48 kHz: below 1e-4 of the peak."""
    rate = 48000
    t = np.arange(rate // 16) / rate

    def source(s: float) -> float:
        return 9 * math.sin(2 * math.pi * 45 * s) + 3 * math.sin(2 * math.pi * 310 * s)

    system = DriverSystem(driver=DRIVER, box=box, amplifier=Amplifier(output_resistance=0.1))
    found = play(system, [source(s) for s in t], rate)
    exact = integrate(system, source, t, tolerance=1e-7)
    peak = np.abs(exact.displacement).max()
    assert found.left_range is None
    assert np.abs(found.displacement - exact.displacement).max() < 1e-4 * peak
    assert np.abs(found.pressure - exact.pressure).max() < 1e-3 * np.abs(exact.pressure).max()


def test_amplifier_clips_samples() -> None:
    u = 9 * np.sin(2 * np.pi * 45 * np.arange(800) / 8000)
    clipped = play(DriverSystem(driver=DRIVER, amplifier=Amplifier(clip=5.0)), u, 8000)
    assert (
        clipped.current == play(DriverSystem(driver=DRIVER), np.clip(u, -5, 5), 8000).current
    ).all()


def test_signal_ends_where_the_coil_leaves_the_range() -> None:
    u = np.full(8000, 60.0)
    found = play(DriverSystem(driver=DRIVER.replace(stiffness=100.0)), u, 8000)
    assert found.left_range is not None
    assert len(found.time) < 8000
    assert np.isfinite(found.displacement).all()


def test_tiny_inductance_is_left_out() -> None:
    t = np.arange(800) / 8000
    u = 5 * np.sin(2 * np.pi * 40 * t)
    tiny = play(DriverSystem(driver=DRIVER.replace(inductance=1e-9)), u, 8000)
    none = play(DriverSystem(driver=DRIVER.replace(inductance=0.0)), u, 8000)
    assert (tiny.displacement == none.displacement).all()


NETWORK = ThermalNetwork(
    coil_capacity=4.0,
    motor_capacity=400.0,
    coil_to_motor=5.0,
    motor_to_air=3.0,
    resistance=5.8,
    output_resistance=0.2,
)


def test_heat_without_resistance_change_is_the_closed_form() -> None:
    network = ThermalNetwork(
        coil_capacity=4.0,
        motor_capacity=400.0,
        coil_to_motor=5.0,
        motor_to_air=3.0,
        resistance=5.0,
        coefficient=0.0,
    )
    warm = network.steady(10.0)
    assert warm.power == pytest.approx(20.0)
    assert warm.coil - network.ambient == pytest.approx(20.0 * 8)
    assert warm.motor - network.ambient == pytest.approx(20.0 * 3)
    assert warm.compression == pytest.approx(0.0)
    assert "passes its wire's class of 155 degC" in warm.caution
    # two exponentials: eigenvalues of the network
    a = np.array([[-1 / 20, 1 / 20], [1 / 2000, -1 / 2000 - 1 / 1200]])
    times = np.array([0.0, 5.0, 60.0, 4000.0])
    found = network.warm_up(10.0, times)
    rates, vectors = np.linalg.eig(a)
    end = np.array([160.0, 60.0])
    share = np.linalg.solve(vectors, -end)
    expected = [end + vectors @ (share * np.exp(rates * t)) for t in times]
    got = np.stack([found.coil, found.motor], axis=1) - network.ambient
    assert got == pytest.approx(np.array(expected), abs=0.01)


def test_eddy_currents_take_their_share_and_warm_the_motor() -> None:
    """Coil, motor and source's own resistance take the real part of U I*; all of it leaves."""
    beside = Blocked(np.array([0.25, 0.75]), np.array([0.4 + 1j, 3.0 + 9j]), np.array([0.1, 0.2]))
    network = dataclasses.replace(NETWORK, coil_to_air=30.0, blocked=beside)
    volts = 12.0
    warm, plain = (n.steady(volts) for n in (network, dataclasses.replace(network, blocked=NONE)))
    r = network.resistance_at(warm.coil)
    whole = r + 0.2 + beside.impedance
    given = volts**2 * float(beside.share @ (1 / whole).real)
    own = 0.2 * volts**2 * float(beside.share @ (1 / abs(whole) ** 2))
    assert warm.power + warm.motor_power == pytest.approx(given - own, rel=1e-12)
    coil, motor = warm.coil - network.ambient, warm.motor - network.ambient
    assert coil / 30 + motor / 3 == pytest.approx(given - own, rel=1e-9)
    assert warm.coil < plain.coil
    assert 0 < warm.motor_power < warm.power < plain.power
    assert network.largest_voltage() > NETWORK.largest_voltage()
    assert network.steady(network.largest_voltage()).coil == pytest.approx(network.wire_class)
    end = network.warm_up(volts, [0.0, 2e5])
    assert (end.coil[-1], end.motor[-1]) == pytest.approx((warm.coil, warm.motor), abs=0.01)


def test_a_second_way_out_carries_its_share() -> None:
    """Constant resistance: 20 W over (5 + 3) parallel 8 K/W are 4 K/W, half of them each way."""
    network = dataclasses.replace(NETWORK, coefficient=0.0, output_resistance=0.0, coil_to_air=8.0)
    warm = network.steady(network.nominal_voltage(20.0))
    assert warm.coil - network.ambient == pytest.approx(80.0)
    assert warm.motor - network.ambient == pytest.approx(30.0)
    end = network.warm_up(network.nominal_voltage(20.0), [0.0, 2e5])
    assert end.coil[-1] == pytest.approx(warm.coil, abs=0.01)
    assert end.motor[-1] == pytest.approx(warm.motor, abs=0.01)


def test_what_would_burn_is_refused_and_what_ages_is_told() -> None:
    limits = {"magnet_limit": 273.15 + 60, "magnet_curie": 273.15 + 90}
    network = dataclasses.replace(NETWORK, **limits)
    assert network.steady(network.nominal_voltage(8.0)).caution == ""
    warm = network.steady(network.nominal_voltage(20.0))
    assert "the motor passes its magnets' working temperature of 60 degC" in warm.caution
    assert "wire's class" not in warm.caution
    with pytest.raises(InvalidInput, match="below 90 degC, the Curie temperature"):
        network.steady(network.nominal_voltage(60.0))
    burnt = NETWORK.nominal_voltage(5000.0)
    with pytest.raises(InvalidInput, match=r"power must keep the coil below 300 degC.* 5000 W"):
        NETWORK.steady(burnt)
    with pytest.raises(InvalidInput, match="power must keep the coil below 300 degC"):
        NETWORK.warm_up(burnt, [0.0, 600.0])


def test_a_driver_of_130_mm_gives_its_heat_off_as_such_drivers_do() -> None:
    """5 to 8 K/W from coil to ambient near the rating (common practice, no source)."""
    result = solve(read_design(DESIGNS / "door_woofer_ferrite.toml"))
    network, design = network_of(result, power=20.0), result.design
    assert 5 < network.coil_to_ambient < 8
    grade = design.materials.magnet_of("magnet")
    assert (network.magnet_limit, network.magnet_curie) == (grade.hottest, grade.curie)


def test_the_network_settles_where_the_section_does() -> None:
    """One answer: two bodies are exact at their power, and what is given as measured is kept."""
    result = solve(read_design(DESIGNS / "door_woofer_neodymium.toml"))
    found = heat(result, 12.0)
    network = network_of(result, power=12.0)
    warm = network.steady(network.nominal_voltage(12.0))
    assert warm.coil == pytest.approx(found.coil.value, abs=0.01)
    assert warm.motor == pytest.approx(found.bodies.motor, abs=0.01)
    assert warm.power == pytest.approx(found.settled.heat, rel=1e-5)
    given = {"coil_to_motor": 5.0, "motor_to_air": 4.0, "coil_to_air": 30.0, "coil_capacity": 3.0}
    rules = dataclasses.replace(result.design.heat, **given)
    measured = dataclasses.replace(result, design=result.design.replace(heat=rules))
    network = network_of(measured, power=12.0)
    for name, value in given.items():
        assert getattr(network, name) == pytest.approx(value, rel=1e-5)
    assert heat(measured, 12.0).coil.value == pytest.approx(
        network.steady(network.nominal_voltage(12.0)).coil, abs=0.05
    )


@pytest.mark.parametrize("value", [-1.0, 0.0, math.inf, math.nan])
@pytest.mark.parametrize("name", ["coil_capacity", "motor_to_air", "resistance"])
def test_a_network_without_capacity_or_resistance_is_refused(name: str, value: float) -> None:
    with pytest.raises(InvalidInput, match=f"{name} must be greater than 0"):
        dataclasses.replace(NETWORK, **{name: value})


def test_steady_heat_is_where_the_warm_up_ends() -> None:
    warm = NETWORK.steady(12.0)
    end = NETWORK.warm_up(12.0, [0.0, 2e5])
    assert end.coil[-1] == pytest.approx(warm.coil, abs=0.05)
    assert warm.power < warm.nominal_power
    assert warm.compression < 0
    hot = NETWORK.resistance_at(warm.coil)
    assert warm.compression == pytest.approx(20 * math.log10(6.0 / (hot + 0.2)))


def test_largest_voltage_brings_the_coil_to_its_class() -> None:
    volts = NETWORK.largest_voltage()
    assert NETWORK.steady(volts).coil == pytest.approx(NETWORK.wire_class, abs=0.01)
    assert NETWORK.steady(0.99 * volts).caution == ""
    assert NETWORK.nominal_voltage(10.0) == pytest.approx(math.sqrt(10 * 5.8) * 6.0 / 5.8)


def test_network_of_a_motor(solved: Callable[[str], MotorResult]) -> None:
    result = solved("outside-magnet")
    network = network_of(result)
    copper = 385 * (1 + 0.0003 * 70) * result.design.coil.mass  # at about 90 degC
    assert 1 < network.coil_capacity / copper < 1.5  # enamel, former
    assert network.resistance == pytest.approx(result.resistance)
    assert 1 < network.coil_to_motor < 20
    assert 1 < network.motor_to_air < 20
    with pytest.raises(InvalidInput, match="voltage must be 0 or more"):
        network.steady(-1.0)


def test_polynomial_refuses_outside_and_tells_its_error() -> None:
    fit = fit_polynomial(BL, degree=8, low=-6e-3, high=6e-3)
    x = np.linspace(-6e-3, 6e-3, 333)
    assert np.abs(fit(x) - BL(x)).max() <= 1.01 * fit.error
    assert fit.relative_error < 1e-3
    mirrored = sum(c * x ** (2 * k) for k, c in enumerate(fit.even))
    assert (fit(x) + fit(-x)) / 2 == pytest.approx(mirrored)
    with pytest.raises(InvalidInput, match="displacement must lie within the known range"):
        fit(6.1e-3)
    table = fit.table("bl")
    assert "holds from -6 to 6 mm" in table.remark
    assert table.text().count("\n") == 10
    with pytest.raises(InvalidInput, match="range must cover the stroke"):
        fit_polynomial(BL, low=-12e-3, high=6e-3)


def test_table_and_spline_read_back() -> None:
    table = sampled_table(BL, "bl", rest_position=1e-3, name="mine")
    assert table.remark.endswith("; rest_position_mm = 1")
    assert table.text().startswith("x_mm,bl_Tm\n")
    x, bl = np.loadtxt(io.StringIO(table.text()), delimiter=",", skiprows=1).T
    assert bl == pytest.approx(BL(x * 1e-3))
    rows = np.loadtxt(io.StringIO(spline_table(BL, "bl").text()), delimiter=",", skiprows=1)
    start, end, c = rows[:, 0], rows[:, 1], rows[:, 2:]
    middle = (end - start) / 2
    value = c[:, 0] + c[:, 1] * middle + c[:, 2] * middle**2 + c[:, 3] * middle**3
    assert value == pytest.approx(BL((start + end) / 2 * 1e-3))


def test_measured_table_is_laid_over_the_computed(tmp_path: Path) -> None:
    path = tmp_path / "measured.csv"
    x = np.linspace(-8, 8, 33)
    moved = 0.97 * BL(x * 1e-3 - 0.3e-3)
    rows = "\n".join(f"{a:g};{b:.6f};{k}" for k, (a, b) in enumerate(zip(x, moved, strict=True)))
    path.write_text(f"# invented\nx_mm;Bl_Tm;run\n{rows}\n", encoding="utf-8")
    found = compare_bl(read_measured_bl(path), BL)
    assert found.fit.offset == pytest.approx(-0.3e-3, abs=1e-6)
    assert found.fit.gain == pytest.approx(0.97, abs=1e-5)
    assert found.at_rest == pytest.approx(0.97 * BL(-0.3e-3) / BL(0.0) - 1, abs=1e-3)
    assert len(found.plot().get_lines()) >= 3


def test_gain_and_offset_of_a_measured_curve_lie_within_their_errors() -> None:
    """Bl 5 % less, the coil 0.5 mm further out, 0.5 % noise: 95 in 100 inside, and not by width."""
    random = np.random.default_rng(12)
    x = np.linspace(-8e-3, 8e-3, 33)
    inside = np.zeros(2)
    for _ in range(200):
        noise = 0.005 * BL.at_rest * random.standard_normal(len(x))
        fit = compare_bl(Table(tuple(x), tuple(0.95 * BL(x + 0.5e-3) + noise)), BL).fit
        inside += (
            abs(fit.gain - 0.95) <= fit.gain_error,
            abs(fit.offset - 0.5e-3) <= (fit.offset_error),
        )
        assert fit.gain_error < 0.01
        assert fit.offset_error < 0.1e-3
    assert (inside >= 0.92 * 200).all()
    assert (inside < 200).all()


def test_offset_along_a_straight_curve_is_not_claimed() -> None:
    """Gain and offset of a constant cannot be told apart but for the gain."""
    flat = Polynomial((5.0,), -0.01, 0.01)
    x = np.linspace(-8e-3, 8e-3, 17)
    noise = 0.01 * np.random.default_rng(1).standard_normal(17)
    fit = compare_bl(Table(tuple(x), tuple(4.5 + noise)), flat).fit
    assert fit.gain == pytest.approx(0.9, abs=0.003)
    assert fit.offset_error == math.inf


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("x_mm,bl_Tm\n1,2\n", "measured table must have at least 4 rows"),
        ("x,bl\n1,2\n", "measured table must have columns x_mm and bl_Tm"),
        ("x_mm,bl_Tm\n1,2\n2,two\n", "measured table, line 3 must hold two numbers"),
        ("x_mm,bl_Tm\n1,2\n1,3\n-1,1\n-2,1\n", "table must have rising displacements"),
        ("", "measured table must have rows"),
    ],
)
def test_measured_table_that_cannot_be_used(text: str, expected: str, tmp_path: Path) -> None:
    (tmp_path / "m.csv").write_text(text, encoding="utf-8")
    with pytest.raises(InvalidInput, match=expected):
        read_measured_bl(tmp_path / "m.csv")


def test_subcircuit_tells_its_range_and_refuses_bad_names() -> None:
    text = spice_subcircuit(DriverSystem(driver=DRIVER, box=Box(volume=0.02)), name="mine")
    assert text.splitlines()[-1] == ".ends mine"
    assert "* holds for x from -10 to 10 mm" in text
    with pytest.raises(InvalidInput, match="name must be a letter"):
        spice_subcircuit(DriverSystem(driver=DRIVER), name="1 a")


def test_clipping_shows_in_compression_and_distortion() -> None:
    open_ = DriverSystem(driver=DRIVER.linear())
    clipped = open_.replace(amplifier=Amplifier(clip=6.0))
    free, _ = steady_state(open_, 100.0, 6.0)
    hard, _ = steady_state(clipped, 100.0, 6.0)
    assert free is not None
    assert hard is not None
    assert free.thd < 1e-9
    assert free.compression == pytest.approx(0.0, abs=1e-6)
    # first harmonic of a sine clipped at c of its peak: (2/pi)(asin c + c sqrt(1 - c^2))
    c = 6.0 / (6.0 * math.sqrt(2))
    expected = 20 * math.log10(2 / math.pi * (math.asin(c) + c * math.sqrt(1 - c**2)))
    assert hard.compression == pytest.approx(expected, abs=5e-3)
    assert hard.thd > 0.05


def test_comparison_names_the_cleaner_one() -> None:
    x = np.linspace(-12e-3, 12e-3, 81)
    wide = Table(tuple(x), tuple(6.4 * np.exp(-3000 * x**2)))
    systems = [
        DriverSystem(driver=DRIVER.replace(name="narrow")),
        DriverSystem(driver=DRIVER.replace(name="wide", force_factor=wide)),
    ]
    found = compare(systems, frequency=np.geomspace(30, 120, 5), voltage=4.0, bass=45.0)
    narrow, broad = (c.row() for c in found.candidates)
    for key in ("mean_thd", "modulation_third"):
        assert broad[key] < narrow[key]
    assert broad["stroke_at_10_percent_mm"] > narrow["stroke_at_10_percent_mm"]
    assert narrow["moving_mass_g"] == pytest.approx(14.5)
    assert narrow["resistance_ohm"] == 5.8
    assert narrow["bl_Tm"] == pytest.approx(6.8, rel=2e-3)
    for one in found.candidates:
        thd = [row[0].thd for row in one.map.states if row[0] is not None]
        assert len(thd) == 5
        assert (one.row()["worst_thd"], one.row()["mean_thd"]) == (max(thd), np.mean(thd))
        assert one.tones is not None
        (low, _), (high, _) = one.tones.drive.tones
        assert high / low == pytest.approx(8.5, rel=0.02)  # IEC 62458 family
    figure = found.plot()
    assert [bool(ax.get_xlabel() or ax.get_ylabel()) for ax in figure.axes] == [True] * 6
