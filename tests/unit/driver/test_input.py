"""Input that cannot be used is refused with field, limit and value; design files read back."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.io import wavfile

from motor import (
    Amplifier,
    Box,
    Driver,
    DriverSystem,
    InvalidInput,
    MotorResult,
    MovingParts,
    Polynomial,
    Table,
    driver_of,
    play,
    read_wav,
    response,
    starter,
    system_of,
)
from motor.design.reading import design_from_toml, design_to_toml
from motor.driver.steady import follow, sine, two_tones

GOOD: dict[str, Any] = {
    "resistance": 4.0,
    "force_factor": 6.0,
    "mass": 0.015,
    "stiffness": 1000.0,
    "mechanical_resistance": 1.0,
    "area": 0.0137,
}
PARTS: dict[str, Any] = {
    "mass": 0.011,
    "stiffness": 1150.0,
    "area": 0.0137,
    "mechanical_resistance": 1.2,
}


@pytest.mark.parametrize(
    ("make", "expected"),
    [
        (lambda: Box(volume=0.0), "volume must be between 0.001 litre and 1000000 litre; rec"),
        (lambda: Box(volume=0.02, port_area=1e-3), "port_area must come with a tuning"),
        (lambda: Amplifier(clip=-1.0), "clip must be between 0.001 V and 10000 V; received -1 V"),
        (lambda: Driver(**GOOD | {"stiffness": -5.0}), "stiffness must be greater than 0; rec"),
        (
            lambda: Driver(**GOOD | {"stiffness": Polynomial((100.0, 1e5), -0.01, 0.01)}),
            "stiffness must be greater than 0; received -900",
        ),
        (lambda: Driver(**GOOD | {"mass": 0.0}), "mass must be greater than 0; received 0.0"),
        (lambda: Driver(**GOOD | {"force_factor": -6.0}), "force_factor must be greater than 0"),
        (lambda: Table((0.0, 1.0, 1.0, 2.0), (1, 1, 1, 1)), "table must have rising displacem"),
        (lambda: Table((1.0, 2.0, 3.0, 4.0), (1, 1, 1, 1)), "must hold the rest position 0 mm"),
        (lambda: Polynomial((1.0,), -1e-3, 1e-3)(2e-3), "displacement must lie within the know"),
        (
            lambda: response(DriverSystem(driver=Driver(**GOOD)), 0.0),
            "frequency must be greater than 0",
        ),
        (lambda: sine(-3.0), "frequency must be greater than 0 Hz; received -3.0"),
        (
            lambda: two_tones(DriverSystem(driver=Driver(**GOOD)), 40, 41, 1),
            "tones must be apart by",
        ),
        (
            lambda: next(follow(DriverSystem(driver=Driver(**GOOD)), sine(40.0), [2.0, 1.0])),
            "voltages must rise from above 0 V",
        ),
        (
            lambda: play(DriverSystem(driver=Driver(**GOOD)), np.zeros(10), 4000),
            "sampling rate must be between 8000 and 192000 Hz; received 4000 Hz",
        ),
        (lambda: MovingParts(stiffness=1.0), "mass must be given in one way"),
        (lambda: MovingParts(stiffness=1.0, mass=1.0, total_mass=1.0), "received 2 ways"),
        (lambda: MovingParts(stiffness=-1.0, mass=1.0), "0.02 N/mm and 1000 N/mm; received -0.001"),
        (
            lambda: starter("outside-magnet").replace(
                moving_parts=MovingParts(total_mass=1e-4, stiffness=100.0)
            ),
            "total_mass must be greater than that of its coil",
        ),
    ],
)
def test_refusal(make: Callable[[], object], expected: str) -> None:
    with pytest.raises(InvalidInput) as caught:
        make()
    assert expected in str(caught.value)


@pytest.mark.parametrize("missing", ["area", "mechanical_resistance"])
def test_driver_needs_area_and_losses(solved: Callable[[str], MotorResult], missing: str) -> None:
    result = solved("outside-magnet")
    parts = MovingParts(**{k: v for k, v in PARTS.items() if k != missing})
    object_result = MotorResult(
        result.design.replace(moving_parts=parts), result.field, result.profile, result.bl_curve
    )
    with pytest.raises(InvalidInput, match=f"{missing} must be given for the driver"):
        driver_of(object_result)
    with pytest.raises(InvalidInput, match=r"have a section \[moving_parts\]"):
        driver_of(result)


@pytest.mark.parametrize("name", ["stiffness", "inductance"])
def test_table_must_cover_the_stroke(solved: Callable[[str], MotorResult], name: str) -> None:
    result = solved("outside-magnet")
    short = Table((-5e-4, 0.0, 2e-4, 5e-4), (100.0 if name == "stiffness" else 1.0,) * 4)
    design = result.design.replace(moving_parts=MovingParts(**PARTS | {name: short}))
    with pytest.raises(InvalidInput, match=f"{name} table must cover the stroke"):
        driver_of(MotorResult(design, result.field, result.profile, result.bl_curve))


def test_driver_takes_what_the_motor_gives(solved: Callable[[str], MotorResult]) -> None:
    result = solved("outside-magnet")
    box, amplifier = Box(volume=0.02, tuning=50.0), Amplifier(clip=20.0)
    design = result.design.replace(moving_parts=MovingParts(**PARTS), box=box, amplifier=amplifier)
    full = MotorResult(design, result.field, result.profile, result.bl_curve)
    system = system_of(full)
    assert (system.box, system.amplifier) == (box, amplifier)
    driver = system.driver
    assert driver.bl.at_rest == pytest.approx(result.bl_curve.at_rest.value)
    assert driver.mass == pytest.approx(0.011 + design.coil.mass_with_enamel)
    assert driver.resistance == result.resistance
    assert (driver.inward, driver.outward) == (result.travel.inward, result.travel.outward)
    assert driver.known == (result.bl_curve.x[0], result.bl_curve.x[-1])


def test_design_file_with_curves_box_and_amplifier_reads_back() -> None:
    parts = MovingParts(
        cone_mass=7e-3,
        surround_mass=2e-3,
        other_mass=1.5e-3,
        stiffness=Table((-8e-3, -3e-3, 0.0, 8e-3), (2100.0, 1230.0, 1150.0, 1900.0)),
        inductance=Polynomial((5e-4, -0.0123, 1.7), -0.01, 0.012),
        area=0.0137,
        mechanical_resistance=1.2,
    )
    design = starter("outside-magnet").replace(
        moving_parts=parts,
        box=Box(volume=0.0123, tuning=43.0, port_area=2e-3),
        amplifier=Amplifier(output_resistance=0.1, clip=18.0),
    )
    for comments in (False, True):
        again = design_from_toml(design_to_toml(design, comments=comments))
        assert again == design
    assert design.moving_parts is not None
    mass = design.coil.mass_with_enamel + design.coil.former_mass
    assert parts.moving_mass(design.coil) == pytest.approx(10.5e-3 + mass)


BASE = design_to_toml(starter("outside-magnet"))
TEXTS = {
    "[moving_parts]\nmass='9 g'\nstiffness={x_mm=[-1,0,1,2]}": (
        "[moving_parts.stiffness] values_N_per_mm must be a list of numbers"
    ),
    "[moving_parts]\nmass='9 g'\nstiffness={coefficients_N_per_mm=[1], range_mm=[1]}": (
        "range_mm must have two ends"
    ),
    "[moving_parts]\nmass='9 g'\nstiffness={x=[1]}": "unknown key x",
    "[moving_parts]\nmass='9 g'\nstiffness='-1 N/mm'": "N/mm; received -1 N/mm",
    "[box]\nvolume='0 litre'": "[box] volume must be between 0.001 litre and 1000000 litre",
    "[box]\nvolume='10 Hz'": "[box] volume must be a volume with its unit",
    "[amplifier]\nclip=12": "[amplifier] clip must be a voltage with its unit",
}


@pytest.mark.parametrize("text", TEXTS)
def test_section_that_cannot_be_used(text: str) -> None:
    with pytest.raises(InvalidInput) as caught:
        design_from_toml(f"{BASE}\n{text}\n")
    assert TEXTS[text] in str(caught.value)


def test_wav_file(tmp_path: Path) -> None:
    rate = 16000
    wave = np.sin(2 * np.pi * 60 * np.arange(rate // 10) / rate)
    both = np.stack([wave, 0 * wave], axis=1)
    wavfile.write(tmp_path / "a.wav", rate, (both * 32767).astype(np.int16))
    samples, found = read_wav(tmp_path / "a.wav")
    assert found == rate
    assert samples == pytest.approx(wave / 2, abs=1e-4)
    wavfile.write(tmp_path / "slow.wav", 2000, wave.astype(np.float32))
    with pytest.raises(InvalidInput, match="sampling rate must be between"):
        read_wav(tmp_path / "slow.wav")
    (tmp_path / "text").write_bytes(b"root:secret\n" * 9)
    with pytest.raises(InvalidInput, match="it does not begin as a WAV file does"):
        read_wav(tmp_path / "text")
    (tmp_path / "no.wav").write_bytes(b"RIFFno")
    with pytest.raises(InvalidInput, match="WAV file must be readable"):
        read_wav(tmp_path / "no.wav")


@pytest.mark.parametrize(
    ("kind", "values"),
    [
        (np.uint8, (0, 128, 192)),
        (np.int16, (-(2**15), 0, 2**14)),
        (np.int32, (-(2**31), 0, 2**30)),
        (np.float32, (-1.0, 0.0, 0.5)),
    ],
)
def test_full_scale_of_every_kind_of_sample_is_one(
    kind: Any, values: tuple[float, ...], tmp_path: Path
) -> None:
    """8 bits are unsigned with silence at 128; the lowest integer is -1; floats are as they are."""
    wavfile.write(tmp_path / "a.wav", 8000, np.array(values, kind))
    samples, rate = read_wav(tmp_path / "a.wav")
    assert samples.tolist() == [-1.0, 0.0, 0.5]
    assert rate == 8000


def test_a_tone_below_one_hertz_is_a_tone() -> None:
    assert sine(0.5).frequency == 0.5
