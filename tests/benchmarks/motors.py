"""The motors that are timed, and how fine their meshes are."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from functools import partial

import motor
from motor.design.design import Design
from motor.field.meshing import Sizing
from tests.benchmarks.smooth_steel import SmoothSteel
from tests.verification.cases import saturated

__all__ = ["MOTORS", "SIZINGS", "smooth"]

SIZINGS = {
    "coarse": Sizing(0.7, 0.5, 1.2, 0.3, 1),
    "default": Sizing(),
    "fine": Sizing(0.2, 0.05, 0.6, 0.07, 3),
}
MOTORS: dict[str, Callable[[], Design]] = {
    "outside magnet": partial(motor.starter, "outside-magnet"),
    "inside magnet": partial(motor.starter, "inside-magnet"),
    "saturated": saturated,
}


def smooth(design: Design) -> Design:
    """Return a design with the steel of the formula in every steel part."""
    steel = SmoothSteel("smooth", 7850.0, "formula")
    return design.replace(materials=dataclasses.replace(design.materials, steel=steel, parts={}))
