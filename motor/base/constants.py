"""Constants of nature and of scales that several files need."""

from __future__ import annotations

import math
from typing import Final

__all__ = ["MU0", "NU0", "ZERO_CELSIUS"]

MU0: Final = 4e-7 * math.pi
"""Permeability of free space in H/m, the value that the reference tables use."""
NU0: Final = 1.0 / MU0
"""Reluctivity of free space, m/H."""
ZERO_CELSIUS: Final = 273.15
"""0 degC in kelvin, exact by definition of the Celsius scale (SI brochure)."""
