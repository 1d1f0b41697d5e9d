"""The page's part on putting the motor together: force over distance, with its caution."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from motor.report.figures.assembly import plot_assembly
from motor.report.page.assembling import Grid
from motor.report.page.pictures import picture
from motor.report.tables.forces import ASSEMBLY_CAUTION

if TYPE_CHECKING:
    from markupsafe import Markup

    from motor.results.assembly import Assembly

__all__ = ["AssemblySection", "assembly_section"]


@dataclass(frozen=True)
class AssemblySection:
    """Words, what to look out for, a picture, and what it comes to."""

    words: str
    notes: tuple[str, ...]
    picture: Markup
    figures: Grid


def assembly_section(found: Assembly) -> AssemblySection:
    """Return the force while parts are brought together, for the page."""
    moving, standing = (
        " and ".join(names).replace("_", " ") for names in (found.moving, found.standing)
    )
    (peak, place), energy = found.peak, found.energy
    rows = [
        ("largest pull", f"{peak.value:+.4g}", f"{peak.uncertainty:.2g}", "N"),
        ("at a distance of", f"{place * 1e3:.3g}", "", "mm"),
        ("energy on the way", f"{energy.value:.3g}", f"{energy.uncertainty:.2g}", "J"),
        ("let go, strikes at", f"{found.strike_speed:.2g}", "", "m/s"),
    ]
    if found.holding is not None:
        passed = found.passed
        rows.append(
            (
                f"{found.holding:.4g} N are passed within",
                "nowhere" if passed is None else f"{passed.value * 1e3:.3g}",
                "" if passed is None else f"{passed.uncertainty * 1e3:.2g}",
                "mm",
            )
        )
    return AssemblySection(
        words=f"The {moving} from {found.side} towards {standing}, every magnet magnetised, at "
        "20 degC; positive draws together. Points are solves, the band their numerical "
        "uncertainty.",
        notes=(ASSEMBLY_CAUTION, *found.notes),
        picture=picture(plot_assembly(found)),
        figures=Grid(("putting together", "value", "±", "unit"), rows, ("value", "±")),
    )
