"""The page's part on the blocked coil's inductance over place and frequency."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from motor.report.figures.impedance import plot_impedance
from motor.report.page.assembling import Grid
from motor.report.page.pictures import picture

if TYPE_CHECKING:
    from markupsafe import Markup

    from motor.results.impedance import BlockedImpedance

__all__ = ["InductanceSection", "inductance_section"]


@dataclass(frozen=True)
class InductanceSection:
    """Words, a picture, and the figures at each frequency."""

    words: str
    picture: Markup
    figures: Grid


def inductance_section(found: BlockedImpedance) -> InductanceSection:
    """Return the inductance of a blocked coil, for the page."""
    rest, rows = found.rest, []
    for k, f in enumerate(found.frequency):
        value = found.inductance[k] * 1e3
        doubts = found.inductance_uncertainty, found.inductance_material_uncertainty
        mesh, material = (1e3 * doubt[k, rest] for doubt in doubts)
        known = f"{mesh:.2g}" if np.isfinite(mesh) else ""
        loss = f"{found.eddy_resistance[k, rest]:.3g}"
        swing = f"{np.ptp(value):.3g}"
        rows.append((f"{f:g}", f"{value[rest]:.3g}", known, f"{material:.2g}", swing, loss))
    heads = ("Hz", "L mH", "±", "± material", "swing mH", "eddy resistance ohm")
    return InductanceSection(
        words="The coil held in place, small currents, steel on minor loops, with eddy currents in "
        "steel, magnets and rings. L and its eddy resistance at rest; the swing is the largest "
        "less the least L over the coil's whole travel. The band is the numerical uncertainty. In "
        "the same room both go with the turns squared.",
        picture=picture(plot_impedance(found)),
        figures=Grid(heads, rows, heads),
    )
