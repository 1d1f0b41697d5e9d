"""Magnets, steels, conductors and formers, each value with its source."""

from motor.materials.conductor import Conductor, conductor_named, conductor_names
from motor.materials.former import Former, former_named, former_names
from motor.materials.magnet import (
    REFERENCE_TEMPERATURE,
    DemagnetisationCurve,
    Magnet,
    magnet_named,
    magnet_names,
)
from motor.materials.steel import (
    BHCurve,
    LinearSteel,
    Steel,
    TabulatedSteel,
    steel_named,
    steel_names,
)

__all__ = [
    "REFERENCE_TEMPERATURE",
    "BHCurve",
    "Conductor",
    "DemagnetisationCurve",
    "Former",
    "LinearSteel",
    "Magnet",
    "Steel",
    "TabulatedSteel",
    "conductor_named",
    "conductor_names",
    "former_named",
    "former_names",
    "magnet_named",
    "magnet_names",
    "steel_named",
    "steel_names",
]
