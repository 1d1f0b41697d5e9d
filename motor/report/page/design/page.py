"""The page of one design."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING

from markupsafe import Markup

from geometries.drawing import section_svg
from motor.base.constants import ZERO_CELSIUS
from motor.base.program import stamp
from motor.base.whole_files import write_text
from motor.design.writing import design_to_toml
from motor.report.figures.moving_coil import moving_coil
from motor.report.page.assembling import Page, today
from motor.report.page.design import plots, result_grids
from motor.report.page.design.assembly import assembly_section
from motor.report.page.design.dimensions import dimension_data, dimension_section
from motor.report.page.design.field_plot import field_plot
from motor.report.page.design.forces import force_section
from motor.report.page.design.heat import heat_section
from motor.report.page.design.inductance import inductance_section
from motor.report.page.design.live_data import live_data
from motor.report.page.design.live_inductance import (
    inductance_data,
    inductance_plot,
    inductance_rows,
)
from motor.report.page.design.sweep import sweep_section

if TYPE_CHECKING:
    from motor.report.page.fit import FitSection
    from motor.results.assembly import Assembly
    from motor.results.impedance import BlockedImpedance
    from motor.results.motor_result import MotorResult
    from motor.results.winding_modes import WindingModes
    from motor.study.second_order import SecondOrder

__all__ = ["design_page", "page_text", "write_page"]

SECTIONS = (
    ("coil", "Coil in its field"),
    ("results", "Results"),
    ("fit", "Measured sample"),
    ("section", "Section and dimensions"),
    ("field", "Flux density"),
    ("gap", "Gap"),
    ("bl", "Bl(x)"),
    ("try", "Try another winding"),
    ("try-dimensions", "Try other dimensions"),
    ("inductance", "Inductance"),
    ("temperature", "Temperature"),
    ("heat", "Heat"),
    ("forces", "Forces"),
    ("assembly", "Assembly"),
    ("cost", "Masses and cost"),
    ("materials", "Materials"),
    ("convergence", "Convergence"),
    ("cautions", "Cautions"),
    ("design-file", "Design file"),
)
SCRIPTS = (
    *("coil.js", "figures.js", "curves.js", "field.js", "room.js"),
    *("inductance.js", "winding.js", "live.js", "dimensions.js", "dimension_sliders.js", "copy.js"),
)
INDUCTANCE_WORDS = (
    "From modes of the field that windings of half to one and a half times the height make, and of "
    "half to twice the layers. The band holds what the mesh leaves open and what the modes leave "
    "out, which grows with the distance from the design; what the steel leaves open stands beside "
    "the design's own inductance below."
)
SWEEP_LABELS = {
    "sweep_bl": "Bl at rest over temperature",
    "sweep_stroke": "82 % stroke over temperature",
    "sweep_resistance": "Coil resistance over temperature",
    "sweep_margin": "Margin to the knee over temperature",
}


def design_page(
    result: MotorResult,
    assembly: Assembly | None = None,
    fit: FitSection | None = None,
    impedance: BlockedImpedance | None = None,
    tried: SecondOrder | None = None,
    windings: WindingModes | None = None,
) -> Page:
    """Collect the figures, tables and live data of a design's page.

    With the force while its parts are brought together, the measurements that the design was
    corrected by, the coil's inductance, and dimensions to be tried, if they are given.  Other
    windings' inductance needs ``impedance`` and ``windings``.
    """
    design, gap = result.design, result.gap_profile
    sweep, moving = sweep_section(result), moving_coil(result)
    live = live_data(result)
    live["inductance"] = None
    live_rows, more = result_grids.live_rows(result), {}
    if impedance is not None and windings is not None:
        live["inductance"] = inductance_data(windings, impedance)
        live_rows += inductance_rows(impedance)
        more["live_inductance"] = inductance_plot(impedance)
    data = {"moving-data": moving.data, "live-data": live}
    section = None
    if tried is not None and tried.levers:
        section = dimension_section(tried, design)
        data["dimension-data"] = dimension_data(tried, design)
    figures = {
        "field": field_plot(result),
        "gap": plots.gap_plot(result),
        "bl": plots.bl_plot(result),
        "live": plots.live_plot(result),
        **more,
        **sweep.plots,
        **({} if section is None else {"tried": section.plot}),
    }
    drawing = section_svg(
        design.regions,
        gap=design.geometry.gap,
        coil=design.coil.outlines(drawn=True),
        marks=design.geometry.marked,
    )
    warm, forces = heat_section(result), force_section(result)
    return Page(
        template="design.html",
        title=design.name,
        title_block=(
            ("geometry", design.geometry.kind.replace("-", " ")),
            ("temperature", f"{design.temperature - ZERO_CELSIUS:.4g} degC"),
            ("date", today()),
            ("program", stamp()),
        ),
        sections=tuple(
            s
            for s in SECTIONS
            if (s[0] != "heat" or warm is not None)
            and (s[0] != "forces" or forces is not None)
            and (s[0] != "assembly" or assembly is not None)
            and (s[0] != "fit" or fit is not None)
            and (s[0] != "try-dimensions" or section is not None)
            and (s[0] != "inductance" or impedance is not None)
        ),
        plots=figures,
        scripts=SCRIPTS,
        data=data,
        context={
            "notes": design.notes,
            "key_figures": result_grids.key_figures(result),
            "section_svg": Markup(drawing),
            "moving": moving,
            "moving_section": Markup(moving.section),
            "moving_curve": Markup(moving.curve),
            "dimensions": result_grids.dimension_grid(design),
            "gap_words": f"Mean over the gap's depth {gap.mean.value:.3f} T at the winding, peak "
            f"{gap.peak.value:.3f} T. The band is the numerical uncertainty.",
            "bl_words": _bl_words(result),
            "live": live,
            "tried": section,
            "live_rows": live_rows,
            "inductance_words": INDUCTANCE_WORDS,
            "results": result_grids.result_groups(result),
            "sweep": sweep,
            "heat": warm,
            "forces": forces,
            "fit": fit,
            "inductance": None if impedance is None else inductance_section(impedance),
            "assembly": None if assembly is None else assembly_section(assembly),
            "sweep_labels": [(name, SWEEP_LABELS[name]) for name in sweep.plots],
            "costs": result_grids.cost_grid(result),
            "price_words": _price_words(result),
            "materials": result_grids.material_grid(design),
            "convergence": result_grids.convergence_grid(result),
            "convergence_words": _convergence_words(result),
            "design_text": design_to_toml(design),
        },
    )


def _bl_words(result: MotorResult) -> str:
    inward, outward = (
        f"{way * 1e3:.2f} mm" if math.isfinite(way) else "unlimited"
        for way in (result.travel.inward, result.travel.outward)
    )
    return (
        "Lines mark where Bl has fallen to 82 % and 70 % of its value at rest; the band is "
        f"the numerical uncertainty. Mechanical limit inward {inward}, outward {outward}, margin "
        "deducted. The coil's own field is left out."
    )


def _price_words(result: MotorResult) -> str:
    given = ", ".join(result.design.materials.prices)
    own = f" Prices of {given} are the design's own." if given else ""
    return (
        "Material only, at prices per kilogram without a currency. The tables' prices are invented "
        f"defaults; give your own in [materials.prices].{own}"
    )


def _convergence_words(result: MotorResult) -> str:
    if result.field.fine is result.field.coarse:
        return "Solved on one mesh only, so no uncertainty is stated."
    errors, rest = result.field.errors, result.bl_curve.at_rest
    return (
        "The fine mesh is the coarse one with its triangles cut in four, but for those that are "
        "small already. Residuals are relative to the sources, before each step of Newton's "
        "method and after the last. Bl at rest is known to "
        f"{rest.uncertainty / rest.value:.1e} relative: from its change between the meshes, the "
        f"local mesh error in it ({errors.scatter:.1e}), what steel near saturation leaves open "
        f"({errors.beyond:.1e}) and the open "
        f"boundary ({errors.boundary:.0e})."
    )


def page_text(result: MotorResult) -> str:
    """Return a solved design's page as HTML text."""
    return design_page(result).text()


def write_page(
    result: MotorResult,
    path: str | Path,
    *,
    assembly: Assembly | None = None,
    fit: FitSection | None = None,
    impedance: BlockedImpedance | None = None,
    tried: SecondOrder | None = None,
    windings: WindingModes | None = None,
) -> Path:
    """Write a solved design's page to a file; OutputError if it cannot be written."""
    write_text(path, design_page(result, assembly, fit, impedance, tried, windings).text())
    return Path(path)
