"""Columns of a study's table in words: name, unit, which way is better, what can be chosen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from motor.base.units import UNITS
from motor.report.figures.study import LABELS
from motor.report.page.study.collect import MARGIN, OBJECTIVE, Studied
from motor.study.parameters import FACTORS, Parameter

__all__ = ["Column", "columns_of", "named", "objective_words", "parameter_words"]

UNIT_ENDINGS = (
    ("_N2_per_W", "N²/W"),
    ("_N_per_mm", "N/mm"),
    ("_kA_per_m", "kA/m"),
    ("_kg_per_s", "kg/s"),
    ("_percent", "%"),
    ("_degC", "degC"),
    ("_cm2", "cm²"),
    ("_cm3", "cm³"),
    ("_mWb", "mWb"),
    ("_ohm", "ohm"),
    ("_uT", "µT"),
    ("_Tm", "T m"),
    ("_mm", "mm"),
    ("_Hz", "Hz"),
    ("_g", "g"),
    ("_m", "m"),
    ("_T", "T"),
)
WORDS = {
    "total_cost": ("cost (prices invented or given)", ""),
    "bl_at_rest_Tm": ("Bl at rest", "T m"),
    "bl_peak_Tm": ("largest Bl", "T m"),
    "bl_asymmetry_at_82_percent": ("asymmetry of Bl at the 82 % stroke", ""),
    "largest_asymmetry": ("largest asymmetry of Bl", ""),
    "bl_cold_Tm": ("Bl at rest, coldest", "T m"),
    "bl_hot_Tm": ("Bl at rest, hottest", "T m"),
    "irreversible_loss_percent": ("Bl lost for good", "%"),
    "demagnetisation_margin_kA_per_m": ("margin to the knee", "kA/m"),
    "demag_margin_cold_kA_per_m": ("margin to the knee, coldest", "kA/m"),
    "demag_margin_hot_kA_per_m": ("margin to the knee, hottest", "kA/m"),
    "remanence_lost_cold": ("remanence lost for good, coldest", ""),
    "remanence_lost_hot": ("remanence lost for good, hottest", ""),
    "leakage_factor_to_coil": ("leakage factor, per flux that the coil cuts", ""),
    "stray_field_at_100_mm_uT": ("stray field 100 mm away", "µT"),
    "bl_peak_position_mm": ("position of the largest Bl", "mm"),
    "stroke_82_inward_mm": ("stroke to 82 % of Bl, inward", "mm"),
    "stroke_82_outward_mm": ("stroke to 82 % of Bl, outward", "mm"),
    "stroke_70_inward_mm": ("stroke to 70 % of Bl, inward", "mm"),
    "stroke_70_outward_mm": ("stroke to 70 % of Bl, outward", "mm"),
    "mechanical_limit_inward_mm": ("mechanical limit, inward", "mm"),
    "mechanical_limit_outward_mm": ("mechanical limit, outward", "mm"),
    "clearance_inner_mm": ("radial clearance inside", "mm"),
    "clearance_outer_mm": ("radial clearance outside", "mm"),
    "best_rest_position_mm": ("rest position for the longest 82 % stroke", "mm"),
    "best_rest_position_stroke_82_mm": ("82 % stroke from there", "mm"),
    "usable_stroke_limited_by": ("usable stroke ruled by", ""),
    "bare_wire_mm": ("bare wire diameter", "mm"),
    MARGIN: ("margin to the target", "%"),
}
RESULTS = (
    "usable_stroke_mm",
    "bl_at_rest_Tm",
    "motor_constant_N2_per_W",
    MARGIN,
    OBJECTIVE,
    "stroke_82_mm",
    "stroke_70_mm",
    "overhang_mm",
    "mechanical_limit_mm",
    "bl_peak_Tm",
    "largest_asymmetry",
    "bl_asymmetry_at_82_percent",
    "mean_gap_flux_density_T",
    "peak_steel_flux_density_T",
    "irreversible_loss_percent",
    "demagnetisation_margin_kA_per_m",
    "demag_margin_cold_kA_per_m",
    "demag_margin_hot_kA_per_m",
    "bl_cold_Tm",
    "bl_hot_Tm",
    "remanence_lost_cold",
    "remanence_lost_hot",
    "coil_resistance_ohm",
    "moving_mass_g",
    "resonance_Hz",
    "motor_mass_g",
    "magnet_mass_g",
    "steel_mass_g",
    "coil_mass_g",
    "total_cost",
    "motor_cost",
    "coil_cost",
    "outer_diameter_mm",
    "height_mm",
    "volume_cm3",
    "utilisation",
    "leakage_factor",
    "leakage_factor_to_coil",
    "stray_field_at_100_mm_uT",
)
"""Results that can be chosen for a figure, in this order."""
HOVER = (
    "usable_stroke_mm",
    "bl_at_rest_Tm",
    "motor_constant_N2_per_W",
    MARGIN,
    "stroke_82_mm",
    "coil_resistance_ohm",
    "moving_mass_g",
    "resonance_Hz",
    "motor_mass_g",
    "total_cost",
    "demag_margin_cold_kA_per_m",
    "demag_margin_hot_kA_per_m",
)
LESS_IS_BETTER = {
    OBJECTIVE,
    "largest_asymmetry",
    "peak_steel_flux_density_T",
    "remanence_lost_cold",
    "remanence_lost_hot",
    "coil_resistance_ohm",
    "moving_mass_g",
    "resonance_Hz",
    "motor_mass_g",
    "magnet_mass_g",
    "steel_mass_g",
    "coil_mass_g",
    "total_cost",
    "motor_cost",
    "coil_cost",
    "outer_diameter_mm",
    "height_mm",
    "volume_cm3",
    "leakage_factor",
    "leakage_factor_to_coil",
    "stray_field_at_100_mm_uT",
}
HIDDEN = {
    "number",
    "error",
    "geometry",
    "converged",
    "newton_iterations",
    "newton_residual",
    "unknowns",
    "triangles",
}
OBJECTIVES = {
    "mass": ("mass of motor and coil", "kg"),
    "cost": ("cost of motor and coil", ""),
    "volume": ("volume of the envelope", "litre"),
}
STILL = 1e-9
"""A relative spread below this is rounding."""


@dataclass(frozen=True)
class Column:
    """A column of the table as the page shows it.

    Parameters
    ----------
    key : str
        Its name in the table.
    what, unit : str
    group : str
        "varied", "result", "other", or "spread" for a numerical uncertainty.
    text : bool
        Whether it holds words instead of numbers.
    varies : bool
    less : bool
        Whether less is usually better.
    spread : str
        Column of its numerical uncertainty, or "".
    """

    key: str
    what: str
    unit: str
    group: str
    text: bool
    varies: bool
    less: bool
    spread: str

    @property
    def label(self) -> str:
        """Name with unit, for axes and lists."""
        return f"{self.what} in {self.unit}" if self.unit else self.what


def named(key: str) -> tuple[str, str]:
    """Return name and unit of a result's column."""
    if key in WORDS:
        return WORDS[key]
    for ending, unit in UNIT_ENDINGS:
        if key.endswith(ending):
            plain = key.removesuffix(ending).rpartition(".")[2]
            return LABELS.get(key, _spoken(plain)).removesuffix(f" in {unit}"), unit
    return _spoken(key.rpartition(".")[2]), ""


def _spoken(name: str) -> str:
    words = name.replace("_", " ")
    return f"B{words[1:]}" if words.startswith("bl ") else words


def _varied(parameter: Parameter) -> tuple[str, str]:
    """Return name and unit of a varied parameter."""
    what, unit = named(parameter.column)
    if parameter.name in FACTORS:
        return f"factor on {what}", ""
    if not unit and parameter.kind in UNITS:
        unit = UNITS[parameter.kind][0]
    return what, unit


def parameter_words(study: Studied) -> dict[str, str]:
    """Return the varied parameters in words by dotted name."""
    return {p.name: _varied(p)[0] for p in study.parameters}


def objective_words(study: Studied) -> tuple[str, str]:
    """Return name and unit of what a target search minimises."""
    assert study.asked.problem is not None
    weights = {k: w for k, w in study.asked.problem.target.minimise.items() if w}
    if len(weights) == 1 and next(iter(weights.values())) == 1:
        return OBJECTIVES[next(iter(weights))]
    return "weighted sum of " + " and ".join(f"{w:g} {k}" for k, w in weights.items()), ""


def _spread_of(key: str, known: Sequence[str]) -> str:
    for ending, _ in UNIT_ENDINGS:
        if key.endswith(ending):
            name = f"{key.removesuffix(ending)}_uncertainty{ending}"
            return name if name in known else ""
    return ""


def columns_of(study: Studied) -> list[Column]:
    """Return the columns that the page holds: varied ones, results to choose, all others."""
    table = study.table
    varied = {p.column: _varied(p) for p in study.parameters}
    results = [key for key in RESULTS if key in table.columns and key not in varied]
    others = [
        key
        for key in table.columns
        if key not in varied and key not in results and key not in HIDDEN
    ]
    found = []
    for group, keys in (("varied", list(varied)), ("result", results), ("other", others)):
        for key in keys:
            values = [v for v in table.column(key) if v is not None]
            text = any(isinstance(v, str) for v in values)
            varies = len(set(values)) > 1
            if varies and not text:
                numbers = np.array(values, float)
                varies = bool(np.ptp(numbers) > STILL * np.abs(numbers).max())
            what, unit = varied[key] if group == "varied" else named(key)
            if key == OBJECTIVE:
                what, unit = objective_words(study)
            spread = _spread_of(key, table.columns)
            kind = "spread" if "_uncertainty" in key else group
            less = key in LESS_IS_BETTER
            found.append(Column(key, what, unit, kind, text, varies, less, spread))
    return found
