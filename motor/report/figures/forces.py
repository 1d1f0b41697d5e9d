"""Axial forces over the half section: an arrow a part, a figure a joint."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from geometries import polygon
from motor.report.style import axes_of, style

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from motor.results.forces import MotorForces

__all__ = ["plot_forces"]

LONGEST = 0.3
"""Length of the largest arrow over the motor's height."""
BOX = {"boxstyle": "round", "facecolor": "white", "edgecolor": "none", "alpha": 0.8}


def plot_forces(forces: MotorForces, *, ax: Axes | None = None) -> Axes:
    """Draw the force on each part as an arrow, and along each joint what draws it together."""
    look, ax = style(), axes_of(ax, (8.0, 5.5))
    outlines = {r.name: np.array([*r.outline, r.outline[0]]) * 1e3 for r in forces.regions}
    heights = np.concatenate([outline[:, 1] for outline in outlines.values()])
    largest = max((abs(part.force.value) for part in forces.parts), default=0.0) or 1.0
    rim = max(float(outline[:, 0].max()) for outline in outlines.values())
    scale = LONGEST * float(np.ptp(heights)) / largest
    for region in forces.regions:
        outline = outlines[region.name]
        ax.fill(*outline.T, facecolor=look.fills[region.role], edgecolor="black", lw=0.8)
    for part in forces.parts:
        if not part.force.value:
            continue
        region = next(r for r in forces.regions if r.name == part.region)
        inside = polygon(region).representative_point()
        r, z = inside.x * 1e3, inside.y * 1e3
        tip = (r, z + scale * part.force.value)
        how = {"arrowstyle": "-|>", "color": look.ink, "lw": 2}
        ax.annotate("", tip, (r, z), arrowprops=how)
        text = f"{part.force.value:+.3g} N".replace("-", "\N{MINUS SIGN}")
        ax.annotate(text, (r, z), (6, 0), textcoords="offset points", fontsize=9, bbox=BOX)
    for joint in forces.joints:
        if joint.pull is None:
            continue
        low, high = (
            polygon(next(r for r in forces.regions if r.name == name)) for name in joint.between
        )
        seam = low.intersection(high)
        colour = look.second if joint.tension else look.quiet
        for piece in getattr(seam, "geoms", [seam]):
            if piece.length > 0 and piece.geom_type == "LineString":
                ax.plot(*(np.array(piece.coords) * 1e3).T, color=colour, lw=3)
        _, _, right, top = seam.bounds
        word = "apart" if joint.tension else "together"
        ax.annotate(
            f"{abs(joint.pull.value):.3g} N {word}",
            (right * 1e3, top * 1e3),
            (1.04 * rim, top * 1e3),
            va="center",
            fontsize=9,
            bbox=BOX,
            arrowprops={"arrowstyle": "-", "color": look.quiet, "lw": 0.8},
        )
    ax.set_aspect("equal")
    ax.set_xlim(0, 1.45 * rim)
    ax.set(xlabel="r in mm", ylabel="z in mm, outwards")
    return ax
