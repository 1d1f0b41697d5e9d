"""Magnets, steels and conductors, each value with its source."""

from motor.materials.conductor import Conductor, conductor_named
from motor.materials.magnet import REFERENCE_TEMPERATURE, Magnet, magnet_named
from motor.materials.steel import (
    MU0,
    NU0,
    BHCurve,
    LinearSteel,
    Steel,
    TabulatedSteel,
    steel_named,
)

__all__ = [
    "MU0",
    "NU0",
    "REFERENCE_TEMPERATURE",
    "BHCurve",
    "Conductor",
    "LinearSteel",
    "Magnet",
    "Steel",
    "TabulatedSteel",
    "conductor_named",
    "magnet_named",
    "steel_named",
]
