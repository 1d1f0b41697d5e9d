"""Inductance of the winding that the page's sliders make, in a browser, against the program's."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from motor.report.page import write_page
from motor.results.impedance import BlockedImpedance
from motor.results.motor_result import MotorResult, read_off_other_coil
from motor.results.winding_modes import WindingModes, sections_of
from tests.unit.report.page.browser import needs_browser, open_page
from tests.unit.report.page.test_live_parts import READY, SET

SAME = 1e-9
FOUND = """() => {
  const found = motorLive.result.inductance;
  return found && {...found, x: [...found.x], curves: found.curves.map((c) => ({...c}))};
}"""


def modes_of(result: MotorResult) -> WindingModes:
    """Return invented modes that fill the room of a motor's coil, with numbers of four bytes."""
    rng, coil = np.random.default_rng(4), result.design.coil
    low, high = result.bl_curve.x[[0, -1]] + np.array([-1.0, 1.0]) * 1.3 * coil.winding_height
    z = np.linspace(low, high, 60)
    waves = np.sin(rng.uniform(20, 200, (7, 4, 1)) * z + rng.uniform(0, 6, (7, 4, 1)))
    flux = (1e-6 * np.cumsum(1 + 0.3 * waves, axis=2)).astype("<f4").astype(float)
    return WindingModes(
        np.sort(rng.uniform(0, 2e-3, 7)),
        (coil.inner_radius, coil.inner_radius + 2 * coil.build_up),
        (float(z[0]), float(z[-1])),
        flux,
        np.array([1e-3, 2e-3]),
        np.array([6e-3, 9e-3]),
        (coil.winding_height, coil.build_up),
    )


def impedance_of(result: MotorResult, modes: WindingModes) -> BlockedImpedance:
    """Return what those modes make of the motor's own coil, known to two parts in a thousand."""
    x, frequency = np.array([-2e-3, 0.0, 2e-3]), np.array([30.0, 900.0, 3000.0])
    linkage = modes.linkage(sections_of(result.design.coil), x, frequency)
    inductance, resistance = linkage.real, -2 * np.pi * frequency[:, None] * linkage.imag
    known = 2e-3 * inductance, 2e-3 * resistance
    return BlockedImpedance(
        result.design,
        frequency,
        x,
        result.resistance,
        inductance,
        known[0],
        resistance,
        known[1],
        1000,
        *known,
    )


@needs_browser
def test_inductance_follows_the_winding(
    browser: Any, solved: Callable[[str], MotorResult], tmp_path: Path
) -> None:
    result = solved("outside-magnet")
    modes = modes_of(result)
    found = impedance_of(result, modes)
    path = write_page(result, tmp_path / "page.html", impedance=found, windings=modes)
    opened = open_page(browser, path, READY)
    page, coil = opened.page, result.design.coil
    text = page.locator("tr[data-row=inductance]").inner_text().split("\t")
    assert text[0] == "inductance at rest, 900 Hz"
    assert text[2] == text[3] == f"{1e3 * found.inductance[1, 1]:#.3g}"
    page.evaluate(SET, ["layers", str(coil.layers + 1)])
    page.evaluate(SET, ["rest_position", str(1e3 * coil.rest_position + 1)])
    other = dataclasses.replace(
        coil, layers=coil.layers + 1, rest_position=coil.rest_position + 1e-3
    )
    motor = read_off_other_coil(result.design.replace(coil=other), result.field)
    shown = page.evaluate(FOUND)
    x = np.array(shown["x"])
    linkage = modes.linkage(sections_of(other), x, found.frequency)
    for k, curve in enumerate(shown["curves"]):
        assert curve["inductance"] == pytest.approx(linkage[k].real.tolist(), rel=SAME)
    reach = motor.stroke_82.symmetric.value
    over = modes.linkage(
        sections_of(other), np.linspace(-reach, reach, 5), np.array([found.frequency[1]])
    )[0]
    off, lost = modes.misfit(other.winding_height, other.build_up)
    losses = -2 * np.pi * found.frequency[1] * over[2].imag
    for value, expected in (
        (shown["atRest"]["value"], over[2].real),
        (shown["atRest"]["uncertainty"], np.hypot(off, 2e-3) * over[2].real),
        (shown["losses"]["value"], losses),
        (shown["losses"]["uncertainty"], np.hypot(lost, 2e-3) * losses),
        (shown["swing"], np.ptp(over.real)),
    ):
        assert value == pytest.approx(expected, rel=1e-6)
    drawn = page.evaluate("""() => Bokeh.documents.map((d) => d.get_model_by_name(
        'live-inductance-2')).find((m) => m).data.l.length""")
    assert drawn == len(x)
    page.evaluate(SET, ["layers", str(2 * coil.layers + 2)])
    if page.evaluate("motorLive.result.words") is None:
        assert page.evaluate(FOUND) is None
        assert "not known" in page.locator("tr[data-row=inductance]").inner_text()
    opened.assert_alone()
    page.close()
