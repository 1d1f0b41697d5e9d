"""Random motors drawn as outlines: the demo designs with every dimension changed."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np

from geometries import InvalidInput, Outlines
from motor.design.design import Design
from motor.design.reading import read_design
from motor.design.starters import fitting_coil

__all__ = ["drawn_designs"]

DESIGNS = Path(__file__).parents[1] / "studies" / "designs"
DEMOS = ("midrange_conical_pole", "tweeter_radial_ring", "shelf_bass_shielded")
SPREAD = 1.25
"""Largest factor on a dimension, up or down."""


def drawn_designs(seed: int, count: int) -> Iterator[Design]:
    """Yield valid designs, the demos in turn; the same seed gives the same designs."""
    rng = np.random.default_rng(seed)
    bases = [read_design(DESIGNS / f"{name}.toml") for name in DEMOS]
    made = 0
    while made < count:
        base = bases[made % len(bases)]
        assert isinstance(base.geometry, Outlines)
        factors = SPREAD ** rng.uniform(-1, 1, len(base.geometry.dimensions))
        changes = {
            d.name: float(d.value * f)
            for d, f in zip(base.geometry.dimensions, factors, strict=True)
        }
        try:
            geometry = base.geometry.changed(changes)
            design = base.replace(geometry=geometry, coil=fitting_coil(geometry))
        except InvalidInput:
            continue
        made += 1
        yield design
