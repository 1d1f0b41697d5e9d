"""A steel whose H(B) is a formula, so that both libraries can take it in its best form.

    H = nu0 B (1 - (1 - m) (1 + (B/Js)^16)^(-1/16))

with the initial permeability 1/m and the saturation Js: invented, of the shape of a low-carbon
steel.  dH/dB rises from m nu0 to nu0, and squarings and square roots are all it takes.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from motor.base.constants import NU0
from motor.materials import BHCurve, Steel
from motor.materials.steel import B_END, STEP

__all__ = ["SmoothSteel", "reluctivity"]

SATURATION = 2.1
"""Js in tesla."""
START = 1 / 2000
"""m: one over the initial permeability."""


def reluctivity(square: Any, root: Callable[[Any], Any] = np.sqrt) -> Any:
    """Return H/B in m/H for B^2 in T^2: of numbers, arrays or another library's expressions."""
    share = square / SATURATION**2
    for _ in range(3):
        share = share * share
    bend = 1 + share
    for _ in range(4):
        bend = root(bend)
    return NU0 * (1 - (1 - START) / bend)


@dataclass(frozen=True)
class SmoothSteel(Steel):
    """The steel of the formula."""

    def curve(self) -> BHCurve:
        """Return the formula as the project holds any curve: on its fine table."""
        b = np.arange(0.0, B_END + STEP / 2, STEP)
        bend = 1 + (b / SATURATION) ** 16
        slope = NU0 * (1 - (1 - START) * bend ** (-17 / 16))
        return BHCurve(b * reluctivity(b**2), slope)
