"""A solved motor followed along its dimensions by its derivatives, and how far that holds.

Bl(x), flux in the gap and what follows from the drawing are taken to second order in each
dimension; strokes are read off the Bl(x) that comes out, masses off the section.  What is left
out stands in a band: of two dimensions changed together the root of both second derivatives
(as for a sum of squares, Cauchy's inequality), and a share of each one's own for what is of third
order.  The report page does the same arithmetic in ``dimensions.js``.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from motor.base.arrays import Floats
from motor.results.bl import first_fall

__all__ = ["FAR", "Lever", "PartShape", "Predicted", "SecondOrder", "kinked"]

LINEAR = (
    "bl_at_rest_Tm",
    "mean_gap_flux_density_T",
    "gap_flux_mWb",
    "bl_asymmetry_at_82_percent",
    "coil_resistance_ohm",
    "coil_cost",
    "overhang_mm",
    "clearance_inner_mm",
    "clearance_outer_mm",
    "outer_diameter_mm",
    "height_mm",
)
"""Figures that follow their own derivatives."""
STROKES = tuple(f"stroke_{share}_{side}_mm" for share in (82, 70) for side in ("inward", "outward"))
"""Figures read off the changed Bl(x), whose band follows their own derivatives."""
TOGETHER_BENT, THIRD, STRAINED, LEAN = 1.0, 0.5, 1.0, 0.1
"""Factors of what two dimensions bend together; of each one's own second order, and of the cube of
the strain of the parts, for what is of third, over the figure or, of an asymmetry, LEAN at least;
set on 96 changes of 24 random motors."""
KINK, JUMP = 0.05, 0.03
"""Slopes to either side differ by a kink where they do so by more than these shares of their sizes,
and of the figure over the gap's width."""
FAR = 0.02
ALLOWED = {"bl_at_rest_Tm": FAR, "gap_flux_mWb": 2 * FAR, STROKES[0]: 2 * FAR, STROKES[1]: 2 * FAR}
"""Share of a figure by which its band may grow before the motor should be solved again."""


@dataclass(frozen=True)
class Lever:
    """One dimension, or equal ones that change as one.

    Parameters
    ----------
    name : str
        Dotted; several with " + " between.
    words : str
        What it is.
    value, least, most : float
        Millimetres; motors exist at both ends.
    strain : float
        Largest root mean square strain of a part per mm.
    """

    name: str
    words: str
    value: float
    least: float
    most: float
    strain: float


@dataclass(frozen=True)
class PartShape:
    """A part's outline and how its corners go.

    Parameters
    ----------
    name : str
    role : str
        "magnet", "steel", "conductor" or "coil".
    outline : (k, 2) array
        r and z of the corners, mm.
    ways : (p, k, 2) array
        Millimetres per millimetre of each lever.
    density, price : float
        kg/m^3, and per kg; 0 of the coil, whose cost is a figure of its own.
    """

    name: str
    role: str
    outline: Floats
    ways: Floats
    density: float
    price: float


@dataclass(frozen=True)
class Predicted:
    """A motor some changes away, by derivatives.

    Parameters
    ----------
    figures : mapping of key to float
        In the key's unit; infinite strokes where Bl does not fall that far.
    bands : mapping of key to float
        What numerical uncertainty and distance leave open; nan where unknown, 0 of the drawing's.
    bl, band : (n,) array
        Bl(x) at the design's displacements in T m, and its band.
    outlines : mapping of part to (k, 2) array
        mm.
    far : bool
        Whether the motor should be solved again.
    """

    figures: Mapping[str, float]
    bands: Mapping[str, float]
    bl: Floats
    band: Floats
    outlines: Mapping[str, Floats]
    far: bool


@dataclass(frozen=True)
class SecondOrder:
    """A solved motor, and its first and second derivatives by its dimensions (p of them).

    Parameters
    ----------
    levers : tuple of Lever
    refused : mapping of name to str
        Dimensions without a derivative, and why.
    figures : mapping of key to (3 p + 2,) array
        Value, its uncertainty, slopes, their uncertainties and second derivatives, per mm.
    x : (n,) array
        Metres.
    bl : (3 p + 2, n) array
        The same of Bl(x).
    travel : (2, p + 1) array
        Mechanical limits inward and outward in mm, and their slopes; not below 0.
    parts : tuple of PartShape
    limits : tuple of str
        That the usable stroke is the least of.
    rest_mm : float
        The coil's rest position.
    given : mapping of limit to float
        Limits that stay, mm.
    """

    levers: tuple[Lever, ...]
    refused: Mapping[str, str]
    figures: Mapping[str, Floats]
    x: Floats
    bl: Floats
    travel: Floats
    parts: tuple[PartShape, ...]
    limits: tuple[str, ...]
    rest_mm: float
    given: Mapping[str, float]

    def at(self, changes: Mapping[str, float]) -> Predicted:
        """Return the motor after changes in mm by lever; KeyError if there is no such lever."""
        count = len(self.levers)
        names = [lever.name for lever in self.levers]
        change = np.zeros(count)
        for name, value in changes.items():
            if name not in names:
                raise KeyError(name)
            change[names.index(name)] = value
        strain = float(np.abs(change) @ np.array([lever.strain for lever in self.levers]))
        third = STRAINED * strain**3
        found = {
            key: _moved(rows[:, None], change, third, LEAN if "asymmetry" in key else 0.0)
            for key, rows in self.figures.items()
        }
        figures = {key: float(value[0]) for key, (value, _, _) in found.items()}
        bands = {key: float(math.hypot(d[0], b[0])) for key, (_, d, b) in found.items()}
        bl, doubt, bent = _moved(self.bl, change, third)
        for share in (82, 70):
            for sign, side in ((-1.0, "inward"), (1.0, "outward")):
                fall = 1e3 * first_fall(self.x, bl, 0.0, sign, share / 100)
                figures[f"stroke_{share}_{side}_mm"] = fall
            sides = [f"stroke_{share}_{side}_mm" for side in ("inward", "outward")]
            _least(figures, bands, f"stroke_{share}_mm", sides)
        figures["motor_constant_N2_per_W"] = (
            figures["bl_at_rest_Tm"] ** 2 / figures["coil_resistance_ohm"]
        )
        bands["motor_constant_N2_per_W"] = (
            2 * bands["bl_at_rest_Tm"] * figures["bl_at_rest_Tm"] / figures["coil_resistance_ohm"]
        )
        ways = [max(float(t[0] + t[1:] @ change), 0.0) for t in self.travel]
        figures["mechanical_limit_mm"] = min(ways)
        limits = {
            "bl_82": "stroke_82_mm",
            "bl_70": "stroke_70_mm",
            "mechanical": "mechanical_limit_mm",
            "overhang": "overhang_stroke_mm",
            **{name: f"{name}_stroke_mm" for name in self.given},
        }
        figures["overhang_stroke_mm"] = max(abs(figures["overhang_mm"]) - abs(self.rest_mm), 0.0)
        figures |= {f"{name}_stroke_mm": value for name, value in self.given.items()}
        _least(figures, bands, "usable_stroke_mm", [limits[name] for name in self.limits])
        masses: dict[str, float] = {}
        outlines, cost = {}, figures["coil_cost"]
        for part in self.parts:
            outline = part.outline + np.einsum("p,pkc->kc", change, part.ways)
            outlines[part.name] = outline
            mass = part.density * revolved(outline) * 1e-6  # g, of kg/m^3 and mm^3
            masses[part.role] = masses.get(part.role, 0.0) + mass
            cost += part.price * mass * 1e-3
        figures["motor_mass_g"] = sum(masses.values())
        figures["magnet_mass_g"] = masses.get("magnet", 0.0)
        figures["total_cost"] = cost
        far = any(
            bands[key] - self.figures[key][1] > allowed * abs(self.figures[key][0])
            for key, allowed in ALLOWED.items()
            if key in found
        )
        return Predicted(figures, bands, bl, np.hypot(doubt, bent), outlines, far)


def _least(
    figures: dict[str, float], bands: dict[str, float], key: str, among: Sequence[str]
) -> None:
    """Set a figure and its band to the first of the least of others."""
    least = min(among, key=lambda name: figures[name])
    figures[key], bands[key] = figures[least], bands.get(least, 0.0)


def _moved(
    rows: Floats, change: Floats, third: float, least: float = 0.0
) -> tuple[Floats, Floats, Floats]:
    """Return values (n,), what was open and is by uncertain slopes, and what bends leave open.

    ``third`` of the largest value, or of ``least``, on top.
    """
    count = len(change)
    value, doubt = rows[0], rows[1]
    slopes, doubts, bends = (rows[2 + k * count : 2 + (k + 1) * count] for k in range(3))
    own = change[:, None] ** 2 * bends / 2
    alone = np.abs(own).sum(axis=0)
    both = np.sqrt(np.abs(own)).sum(axis=0) ** 2 - alone
    moved = value + change @ slopes + own.sum(axis=0)
    magnetic = bool(bends.any())
    bent = TOGETHER_BENT * both + THIRD * alone + magnetic * third * max(np.abs(value).max(), least)
    return moved, doubt + np.abs(change) @ doubts, bent


def kinked(
    jump: float | Floats, slope: float | Floats, value: float, gap_width: float
) -> np.ndarray:
    """Say whether slopes to either side differ by a kink.

    By the size of their difference beside the slope between them, and the figure over the gap's
    width in the unit of the parameter.
    """
    sharp = np.asarray(jump) > KINK * 2 * np.abs(slope)
    return np.asarray(sharp & (np.asarray(jump) > JUMP * abs(value) / gap_width))


def revolved(outline: Floats) -> float:
    """Return the volume of an outline turned about the axis (Pappus), in its unit cubed."""
    r, z = outline[:, 0], outline[:, 1]
    after, up = np.roll(r, -1), np.roll(z, -1)
    cross = r * up - after * z
    return abs(float(np.sum((r + after) * cross))) * math.pi / 3
