"""Array types used in annotations."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = ["Bools", "Complexes", "Floats", "Ints"]

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]
Bools = NDArray[np.bool_]
Complexes = NDArray[np.complex128]
