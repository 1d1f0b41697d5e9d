"""The wire that brings a coil nearest to a wanted resistance."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass

from geometries import InvalidInput
from motor.design.coil import Coil
from motor.design.design import Design
from motor.design.wire import Wire, round_sizes

__all__ = ["WireChoice", "nearest_wires"]


FAR = 1.5
"""Factor beyond the sizes' own resistances from which none counts as near."""


@dataclass(frozen=True)
class WireChoice:
    """One size of wire in the coil.

    Parameters
    ----------
    size : str
        Name in its series.
    coil : Coil
        The coil with that wire.
    fits : bool
        Whether the coil still clears the motor.
    """

    size: str
    coil: Coil
    fits: bool

    def summary(self) -> dict[str, str | float | bool]:
        """Return the figures under names that carry their unit."""
        coil = self.coil
        return {
            "size": self.size,
            "overall_diameter_mm": coil.wire.build * 1e3,
            "turns": coil.turns,
            "coil_resistance_ohm": coil.resistance(),
            "build_up_mm": coil.build_up * 1e3,
            "coil_mass_g": coil.mass * 1e3,
            "fits": self.fits,
        }


def nearest_wires(
    design: Design,
    resistance: float,
    *,
    series: str = "metric",
    grade: int = 1,
    overall: str = "greatest",
    count: int = 5,
) -> list[WireChoice]:
    """Return the sizes whose resistance at 20 degC comes nearest, nearest first.

    Winding height, layers, former and conductor of the design's coil are kept.

    Parameters
    ----------
    design : Design
    resistance : float
        Ohm.
    series : str
        "metric" or "awg".
    grade : int
        Enamel grade.
    overall : str
        "greatest" or "least" overall diameter, see :func:`motor.design.wire.round_sizes`.
    count : int
        How many to return.
    """
    if not resistance > 0:
        raise InvalidInput("resistance", "be greater than 0 ohm", f"{resistance} ohm")
    material = design.coil.wire.material
    found = []
    for size, (bare, outside) in round_sizes(series, grade, overall).items():
        wire = Wire(material=material, bare_diameter=bare, overall_diameter=outside)
        try:
            coil = dataclasses.replace(design.coil, wire=wire)
        except InvalidInput:
            continue
        try:
            design.replace(coil=coil)
            fits = True
        except InvalidInput:
            fits = False
        found.append(WireChoice(size, coil, fits))
    if found:
        values = [choice.coil.resistance() for choice in found]
        low, high = min(values), max(values)
        if not low / FAR <= resistance <= high * FAR:
            raise InvalidInput(
                "resistance",
                f"be near what round wire gives this coil, {low:.3g} to {high:.3g} ohm (change "
                "coil.layers, coil.winding_height or the conductor)",
                f"{resistance:g} ohm: no wire comes near",
            )
    found.sort(key=lambda choice: abs(choice.coil.resistance() - resistance))
    return found[:count]
