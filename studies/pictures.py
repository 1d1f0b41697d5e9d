"""Draw the picture of README.md anew: ``python -m studies.pictures``."""

from __future__ import annotations

import io
from pathlib import Path
from typing import TYPE_CHECKING

import motor
from motor.report.figures.curves import plot_motor_bl
from motor.report.figures.field import plot_motor

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["draw", "main"]

HERE = Path(__file__).parent
DESIGN = HERE / "designs" / "door_woofer_ferrite.toml"
PICTURE = HERE / "door_woofer_ferrite.png"
DOTS_PER_INCH, COLOURS = 90, 224


def draw() -> Figure:
    """Return the field over the section beside Bl(x) of a demo design."""
    from matplotlib.figure import Figure

    result = motor.solve(motor.read_design(DESIGN))
    figure = Figure(figsize=(13.2, 5.4), layout="constrained")
    left, right = figure.subfigures(1, 2, squeeze=False, width_ratios=(0.9, 1.05))[0]
    plot_motor(result, ax=left.subplots()).set_title("flux density and flux lines")
    plot_motor_bl(result, right)
    return figure


def main() -> None:
    """Write the picture, in few colours so that it is small."""
    from PIL import Image

    full = io.BytesIO()
    draw().savefig(full, dpi=DOTS_PER_INCH)
    Image.open(full).convert("RGB").quantize(COLOURS).save(PICTURE, optimize=True)
    print(PICTURE)


if __name__ == "__main__":
    main()
