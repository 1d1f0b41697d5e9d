"""What the exchange formats are tried on: every geometry, the demo designs, random motors."""

from __future__ import annotations

from pathlib import Path

from motor.design.design import Design
from motor.design.reading import read_design
from motor.design.starters import starter
from tests.random_motors import random_designs

__all__ = ["DESIGNS", "KINDS", "ODD_NAMES"]

KINDS = ("inside-magnet", "outlines", "outside-magnet")
DEMOS = sorted((Path(__file__).parents[4] / "studies" / "designs").glob("*.toml"))

DESIGNS: dict[str, Design] = {
    **{kind: starter(kind) for kind in KINDS},
    **{path.stem: read_design(path) for path in DEMOS},
    **{f"random {k}": design for k, design in enumerate(random_designs(41, 8))},
}

ODD_NAMES = (
    "",
    "bass / \\ 250 'mm'",
    "Tieftöner, 低音, \N{MUSICAL SYMBOL G CLEF}",
    'codes %%c %%u ^J {\\H2;x} \\P \\X2\\00E4\\X0\\ "quoted"',
    "</title><script>&amp;",
    "long " * 80,
)
