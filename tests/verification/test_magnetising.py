"""The fixture's field: beyond saturation steel adds nothing, and the coil's own field is left.

Source: circular loops of current in free space, by magpylib (M. Ortner and L. G. Coliado
Bandeira, SoftwareX 11, 2020, 100466).
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import magpylib
import numpy as np

import motor
from motor.base.constants import MU0
from motor.results.magnetising import Fixture, magnetise
from tests.verification.checks import check, outside

LOOPS = outside("loops of current in free space by magpylib (Ortner and Coliado Bandeira 2020)")
DESIGN = Path(__file__).parents[2] / "studies" / "designs" / "door_woofer_neodymium.toml"
AROUND = Fixture(27e-3, 40e-3, -20e-3, 15e-3, 1.0)


def test_a_pulse_far_beyond_saturation_grows_as_the_bare_coil() -> None:
    result = motor.solve(motor.read_design(DESIGN))
    low, high = (
        magnetise(result, replace(AROUND, ampere_turns=i)).magnets[0].mean.value
        for i in (8e6, 16e6)
    )
    x, w = np.polynomial.legendre.leggauss(6)
    radii = 33.5e-3 + 6.5e-3 * x
    heights = -2.5e-3 + 17.5e-3 * x
    loops = [
        magpylib.current.Circle(current=a * b / 4, diameter=2 * r, position=(0, 0, z))
        for r, a in zip(radii, w, strict=True)
        for z, b in zip(heights, w, strict=True)
    ]
    outline = np.array(result.field.region("magnet").outline)
    rim, (floor, top) = outline[:, 0].max(), (outline[:, 1].min(), outline[:, 1].max())
    r, z = (
        g.ravel() for g in np.meshgrid(rim * (x + 1) / 2, (floor + top + (top - floor) * x) / 2)
    )
    share = np.outer(w, w * (x + 1)).ravel()
    field = sum(c.getB(np.stack([r, 0 * r, z], axis=1))[:, 2] for c in loops)
    wanted = float(field @ share / share.sum()) / MU0
    what = "neodymium demo, field in the magnet per ampere turn beyond saturation (1/m)"
    check(what, LOOPS, wanted, (high - low) / 8e6, 3e-2)
