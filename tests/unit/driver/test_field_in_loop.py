"""The whole field in the loop of the driver: energy, order, and the model in modes beside it."""

from __future__ import annotations

import dataclasses
import json
import math
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

import motor.driver.field_check as check_module
import motor.driver.field_in_loop as loop_module
import motor.driver.within_period as within_module
from motor.cli import main
from motor.design.enclosure import Box
from motor.design.reading import read_design
from motor.driver.field_check import FieldCheck, start_of
from motor.driver.field_in_loop import FieldLoop, Loop, LoopState, field_loop, march
from motor.driver.run import system_of
from motor.driver.small_signal import mechanical_load
from motor.driver.steady import Drive, SteadyState, steady_state
from motor.driver.steady import sine as sine_of
from motor.driver.within_period import corrected
from motor.results.motor_result import MotorResult, solve

DESIGN = Path(__file__).parents[3] / "studies" / "designs" / "door_woofer_ferrite.toml"
TONE, VOLTS = 60.0, 6.0


@pytest.fixture(scope="module")
def woofer() -> MotorResult:
    return solve(read_design(DESIGN), uncertainty=False)


@pytest.fixture(scope="module")
def loop(woofer: MotorResult) -> FieldLoop:
    """Return it on a coarse mesh, in a small vented box."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(loop_module, "SKIN", 4.0)
        patch.setattr(loop_module, "AT_COIL", 1.0)
        patch.setattr(loop_module, "PLACES", 33)
        box = Box(volume=20e-3, tuning=45.0, port_area=20e-4)
        return field_loop(woofer, system_of(woofer).replace(box=box), 20.0, 1.0)


def sine(t: float) -> float:
    return VOLTS * math.sqrt(2) * math.sin(2 * math.pi * TONE * t)


def test_energy_adds_up_whatever_the_step(loop: FieldLoop) -> None:
    """Source = coil + eddy currents + friction and leaks + field, mass, suspension, box."""
    run = march(loop, LoopState(loop.rest), sine, 1 / (24 * TONE), 8)
    assert run.imbalance < 1e-6
    assert (run.eddy > 0).all()
    assert run.stored > 0.05 * run.supplied.sum()
    assert run.eddy.sum() > 1e-4 * run.supplied.sum()


def test_what_is_left_of_the_start_is_no_harmonic(woofer: MotorResult) -> None:
    """A slow resonance that dies out, beside a tone with a second harmonic."""
    t = np.arange(65) / 64 / TONE
    w = 2 * math.pi * TONE
    tone = 1e-3 * np.sin(w * t) + 1e-5 * np.cos(2 * w * t)
    speed = 1e-3 * w * np.cos(w * t) - 2e-5 * w * np.sin(2 * w * t)
    left = 1e-5 * np.exp(-0.05 * w * t)
    none = np.zeros(64)
    end = LoopState(none)
    x, v = tone + left, speed - 0.05 * w * left
    run = Loop(t, x, v, none, none, none, none, none, 0.0, end, 0)
    state = check_module._state(system_of(woofer), TONE, VOLTS, run)
    still = np.abs(state.displacement)
    np.testing.assert_allclose(still[1:3], [1e-3, 1e-5], rtol=1e-2)
    assert still[3:].max() < 1e-8


def test_third_harmonic_of_steel_goes_with_the_current_squared(
    loop: FieldLoop, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The law of Rayleigh (Philosophical Magazine 23, 1887): small loops open with their size."""
    found = []
    for current in (0.01, 0.02):
        amperes = np.zeros(13, complex)
        amperes[1] = current
        motion = SteadyState(loop.system, sine_of(TONE), 0.1, 0 * amperes, amperes, 0.0)
        after = corrected(loop, motion)
        assert after is not None
        found.append(np.abs(after.current - amperes))
    assert found[1][3] == pytest.approx(4 * found[0][3], rel=0.1)
    assert found[1][3] > 10 * found[1][2]
    large = dataclasses.replace(motion, current=3e4 * amperes)
    assert corrected(loop, large) is None
    monkeypatch.setattr(within_module, "SETTLED", 0.0)
    monkeypatch.setattr(within_module, "ROUNDS", 3)
    near = corrected(loop, motion)
    assert near is not None
    assert np.abs(near.current[3]) == pytest.approx(found[1][3], rel=0.1)
    monkeypatch.setattr(within_module, "ROUNDS", 1)
    assert corrected(loop, motion) is None


def test_steps_are_of_second_order(loop: FieldLoop) -> None:
    whole = 1 / (8 * TONE)
    ends = [
        march(loop, LoopState(loop.rest), sine, whole / n, n).displacement[-1] for n in (2, 4, 8)
    ]
    ratio = (ends[0] - ends[1]) / (ends[1] - ends[2])
    assert 3.0 < ratio < 5.0


def test_small_tone_is_the_linear_driver_s(loop: FieldLoop) -> None:
    """Z = Re + i w L(w) + Bl^2 i w / (load), L with its eddy currents by one complex solve."""
    volts, omega, system = VOLTS / 100, np.array([0.0, 2 * math.pi * TONE]), loop.system
    unit = loop.load(loop.loads(0.0))
    linked = 2 * math.pi * unit @ loop.harmonic.potentials(TONE, unit[:, None])[:, 0]
    bl = 2 * math.pi * float(loop.slopes(0.0) @ loop.rest[loop.active])
    assert bl == pytest.approx(system.driver.bl.at_rest, rel=0.01)
    load = (mechanical_load(system, omega) + system.driver.k.at_rest)[1]
    s = 1j * omega[1]
    current = -1j * math.sqrt(2) * volts / (system.resistance + s * linked + s * bl**2 / load)
    travel = bl * current / load
    phasors = (np.array([0.0, v]) for v in (travel, current))
    made = SteadyState(system, Drive(TONE), volts, *phasors, 0.0)
    run = march(loop, start_of(loop, made), lambda t: sine(t) / 100, 1 / (32 * TONE), 32)
    first = 2 / 32 * np.fft.fft(run.displacement[:-1])[1]
    assert abs(first - travel) < 0.01 * abs(travel)


def test_command_shows_each_tone(loop: FieldLoop, monkeypatch: pytest.MonkeyPatch) -> None:
    """The field itself takes a minute, so a steady state stands in for it."""
    state, _ = steady_state(loop.system, TONE, VOLTS)
    assert state is not None
    made = FieldCheck(*[state] * 6, 0.2, 1e-4, 3, loop.harmonic.unknowns, 1e-9)
    asked = []

    def check(_: MotorResult, tones: list[tuple[float, float]], *, steps: int) -> list[FieldCheck]:
        asked.append((tones, steps))
        return [made]

    monkeypatch.setattr(check_module, "check_driver", check)
    line = ["check-driver", str(DESIGN), "--voltage", "6 V", "--frequency", "60 Hz"]
    text = CliRunner().invoke(main, line)
    assert text.exit_code == 0
    assert "60 Hz, 6 V r.m.s.: minor loops add 20% of" in text.stdout
    assert "3 periods" in text.stdout
    assert "field in the loop" in text.stdout
    record = json.loads(CliRunner().invoke(main, [*line, "--json"]).stdout)
    (tone,) = record["tones"]
    assert tone["energy_imbalance"] == 1e-9
    assert tone["states"][0]["what"] == "field in the loop"
    assert tone["states"][0]["thd_percent"] == pytest.approx(100 * state.thd)
    assert asked == [([(60.0, 6.0)], 80)] * 2
