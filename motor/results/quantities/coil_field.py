"""Figures of the coil's own field, which a study adds at a frequency, a current and a tone."""

from __future__ import annotations

from typing import TYPE_CHECKING

from motor.base.quantity import Quantity
from motor.field.field import Estimate

if TYPE_CHECKING:
    from motor.driver.run import SteelBand
    from motor.results.coil_figures import InductanceFigures
    from motor.results.coil_map import CoilMap

__all__ = ["COIL_CURRENT", "INDUCTANCE", "TONE"]

INDUCTANCE: tuple[Quantity[InductanceFigures], ...] = (
    Quantity(
        name="inductance_at_rest",
        unit="mH",
        words="inductance at rest",
        read=lambda f: f.at_rest,
        uncertain=True,
        material=True,
        criterion="coil blocked, at the study's inductance_at",
        better="less",
        offered=4,
        hover=True,
        kind="inductance",
    ),
    Quantity(
        name="inductance_swing",
        unit="mH",
        words="swing of the inductance",
        read=lambda f: f.swing,
        uncertain=True,
        material=True,
        criterion="largest less least over the 82 % stroke to either side, at inductance_at",
        better="less",
        offered=4,
        hover=True,
        kind="inductance",
    ),
    Quantity(
        name="eddy_resistance_at_rest",
        unit="ohm",
        words="resistance by eddy currents",
        read=lambda f: f.eddy_resistance,
        uncertain=True,
        material=True,
        criterion="what they add to the coil's at rest, at inductance_at",
        offered=4,
        kind="resistance",
    ),
    Quantity(
        name="reluctance_force_lag",
        unit="deg",
        words="lag of the reluctance force",
        read=lambda f: f.force_lag,
        uncertain=True,
        material=True,
        criterion="behind the square of a sine at inductance_at, mean over the 82 % stroke",
        better="less",
        offered=4,
        kind="angle",
    ),
    Quantity(
        name="force_squared_per_watt",
        unit="N2_per_W",
        words="force squared per watt, eddy currents included",
        read=lambda f: f.force_per_watt,
        uncertain=True,
        material=True,
        criterion="Bl² at rest over the resistance of coil and eddy currents at inductance_at",
        better="more",
        offered=4,
        kind="motor_constant",
    ),
)


def _bl(found: CoilMap) -> Estimate:
    return Estimate(
        float(found.odd[0, -1] / found.current[-1]),
        float(found.odd_uncertainty[0, -1] / found.current[-1]),
    )


def _change(found: CoilMap) -> Estimate:
    doubt = found.odd_uncertainty[0, -1] / found.current[-1] / found.bl[0]
    return Estimate(float(found.saturation[0, -1]), float(doubt))


def _asymmetry(found: CoilMap) -> Estimate:
    doubt = found.even_uncertainty[0, -1] / abs(found.odd[0, -1])
    return Estimate(float(found.asymmetry[0, -1]), float(doubt))


def _pull(found: CoilMap) -> Estimate:
    mean, doubt = found.steady_force
    return Estimate(-float(mean[0]), float(doubt[0]))


COIL_CURRENT: tuple[Quantity[CoilMap], ...] = (
    Quantity(
        name="bl_under_current",
        unit="Tm",
        words="Bl at rest under the coil's current",
        read=_bl,
        uncertain=True,
        criterion="mean of both signs of the study's coil_current",
        better="more",
        offered=4,
        kind="force_factor",
    ),
    Quantity(
        name="bl_change_by_current",
        unit="percent",
        words="change of Bl by the coil's current",
        read=_change,
        uncertain=True,
        criterion="at rest, mean of both signs of coil_current, over Bl without it",
        better="more",
        offered=4,
    ),
    Quantity(
        name="bl_asymmetry_over_current",
        unit="percent",
        words="asymmetry of Bl over the sign of the current",
        read=_asymmetry,
        uncertain=True,
        criterion="at rest, (Bl(+i) - Bl(-i)) / (Bl(+i) + Bl(-i)) at coil_current",
        offered=4,
    ),
    Quantity(
        name="current_pull",
        unit="N",
        words="steady pull of the coil's current",
        read=_pull,
        uncertain=True,
        criterion="at rest, inwards, mean over a period of a sine of peak coil_current",
        better="less",
        offered=4,
        kind="force",
    ),
)


TONE: tuple[Quantity[SteelBand], ...] = (
    Quantity(
        name="tone_distortion",
        unit="percent",
        words="distortion of a tone",
        read=lambda band: Estimate(band.best, band.uncertainty),
        uncertain=True,
        criterion="total harmonic distortion of the sound in its box, at the study's tone_at and "
        "tone_voltage, with the coil's own field in steel; uncertain by what steel leaves open",
        better="less",
        offered=4,
        hover=True,
        kind="share",
    ),
)
