"""The material tables as text: what there is, and where each value comes from."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from rich.box import SIMPLE_HEAD
from rich.table import Table

from motor.base.constants import MU0, ZERO_CELSIUS
from motor.base.errors import InvalidInput
from motor.base.media import terminal_text
from motor.design.wire import round_sizes
from motor.materials import (
    conductor_named,
    conductor_names,
    former_named,
    former_names,
    magnet_named,
    magnet_names,
    steel_named,
    steel_names,
)
from motor.report.tables.catalogue_record import KINDS, STATES, material_names, unknown

if TYPE_CHECKING:
    from matplotlib.figure import Figure
    from rich.table import Table

__all__ = ["catalogue", "material_figure", "material_text"]


def _table(title: str, *columns: str) -> Table:
    table = Table(title=terminal_text(title), box=SIMPLE_HEAD, title_justify="left")
    for k, column in enumerate(columns):
        table.add_column(column, justify="left" if k == 0 else "right")
    return table


def catalogue(family: str = "") -> list[Table]:
    """Return one table per kind of material, without the sources.

    ``family`` narrows it to one of ``KINDS``, or to the magnets of one family.
    """
    magnets = _table(
        "magnets, typical values at 20 degC",
        *("grade", "family", "Br T", "HcJ kA/m", "(BH)max kJ/m3", "Br %/K", "HcJ %/K", "to degC"),
    )
    for name in magnet_names():
        m = magnet_named(name)
        if family not in ("", "magnets", m.family):
            continue
        low, high = (b / 1e3 for b in m.energy_product_band)
        assert m.intrinsic_coercivity is not None
        magnets.add_row(
            name,
            m.family,
            f"{m.remanence:.3f}",
            f"{m.intrinsic_coercivity / 1e3:.0f}",
            f"{low:.0f} to {high:.0f}",
            f"{100 * m.temperature_coefficient:.2f}",
            f"{100 * m.coercivity_coefficient:+.2f}",
            f"{m.hottest - ZERO_CELSIUS:.0f}",
        )
    steels = _table("steels", "name", "B at 1 kA/m, T", "B at 10 kA/m, T", "saturation T", "kg/m3")
    for name in steel_names():
        s = steel_named(name)
        levels = [_flux_density(name, h) for h in (1e3, 1e4)]
        steels.add_row(
            name,
            f"{levels[0]:.2f}",
            f"{levels[1]:.2f}",
            f"{s.saturation or 0:.2f}",
            f"{s.density:.0f}",
        )
    conductors = _table("conductors", "name", "resistivity ohm m", "per K", "kg/m3")
    for name in conductor_names():
        c = conductor_named(name)
        conductors.add_row(
            name, f"{c.resistivity:.4g}", f"{c.temperature_coefficient:.5f}", f"{c.density:.0f}"
        )
    formers = _table("formers", "name", "kg/m3", "conductivity S/m", "to degC")
    for name in former_names():
        f = former_named(name)
        formers.add_row(
            name, f"{f.density:.0f}", f"{f.conductivity:.2g}", f"{f.hottest - ZERO_CELSIUS:.0f}"
        )
    metric, gauge = list(round_sizes("metric", 1)), list(round_sizes("awg", 1))
    wires = _table("round wire, enamel grade 1 or 2", "series", "from", "to", "sizes")
    wires.add_row("metric", metric[0], metric[-1], str(len(metric)))
    wires.add_row("gauge", gauge[0], gauge[-1], str(len(gauge)))
    tables = dict(zip(KINDS, (magnets, steels, conductors, formers, wires), strict=True))
    if family:
        return [tables.get(family, magnets)]
    return list(tables.values())


def _flux_density(steel: str, field: float) -> float:
    b = np.linspace(0.0, 3.0, 3001)
    h, _ = steel_named(steel).curve().field_and_slope(b)
    return float(np.interp(field, h, b))


def material_text(name: str) -> str:
    """Return everything known of one material, with its source.

    Raises
    ------
    InvalidInput
        With near names, if no table has it.
    """
    if name in magnet_names():
        m = magnet_named(name)
        lines = [f"{m.name}: {m.family} magnet"]
        for kelvin in STATES:
            curve = m.curve_at(kelvin)
            assert curve is not None
            lines.append(
                f"  at {kelvin - ZERO_CELSIUS:4.0f} degC: Br {curve.remanence:.3f} T, "
                f"HcB {curve.coercivity / 1e3:.0f} kA/m, "
                f"HcJ {curve.intrinsic_coercivity / 1e3:.0f} kA/m, "
                f"knee at {curve.knee / 1e3:.0f} kA/m, "
                f"(BH)max {curve.energy_product / 1e3:.1f} kJ/m3"
            )
        low, high = (b / 1e3 for b in m.energy_product_band)
        lines += [
            f"  published (BH)max {low:g} to {high:g} kJ/m3; least Br {m.remanence_min} T, "
            f"least HcJ {(m.intrinsic_coercivity_min or 0) / 1e3:.0f} kA/m",
            f"  recoil permeability {m.recoil_permeability}, squareness {m.squareness}, "
            f"density {m.density:.0f} kg/m3, range {m.coldest - ZERO_CELSIUS:.0f} to "
            f"{m.hottest - ZERO_CELSIUS:.0f} degC, Curie {m.curie - ZERO_CELSIUS:.0f} degC",
            f"  conductivity {m.conductivity:.2g} S/m, price {m.price:g} per kg (invented default)",
            f"  source: {m.source}",
        ]
        return "\n".join(lines)
    if name in steel_names():
        s = steel_named(name)
        top = s.flux_density[-1]
        return (
            f"{s.name}: steel\n  table of {len(s.flux_density)} rows to {top:g} T, "
            f"{s.field[-1]:.0f} A/m (polarisation {top - MU0 * s.field[-1]:.3f} T); continued "
            f"towards {s.saturation} T\n  density {s.density:.0f} kg/m3, conductivity "
            f"{s.conductivity:.2g} S/m to {s.conductivity_spread:.0%}\n"
            f"  initial permeability {s.initial_permeability:g} to a factor of "
            f"{s.initial_spread:g}, coercivity {s.curve().coercivity:.0f} A/m"
            f"{'' if s.coercivity else ' (guessed)'}, price {s.price:g} per kg (invented default)\n"
            f"  source: {s.source}"
        )
    if name in conductor_names():
        c = conductor_named(name)
        return (
            f"{c.name}: conductor\n  resistivity {c.resistivity:.5g} ohm m at 20 degC, "
            f"{c.temperature_coefficient:.5f} per K, density {c.density:.0f} kg/m3, "
            f"price {c.price:g} per kg (invented default)\n  source: {c.source}"
        )
    if name in former_names():
        f = former_named(name)
        return (
            f"{f.name}: former\n  density {f.density:.0f} kg/m3, conductivity "
            f"{f.conductivity:.2g} S/m, to {f.hottest - ZERO_CELSIUS:.0f} degC, price "
            f"{f.price:g} per "
            f"kg (invented default)\n  source: {f.source}"
        )
    raise unknown(name)


def material_figure(name: str) -> Figure:
    """Return the curve of a magnet or steel as a figure; InvalidInput for other materials."""
    from motor.report.figures.materials import plot_magnet, plot_steel
    from motor.report.style import blank

    ax: Any = blank((7.0, 4.6))
    if name in steel_names():
        return plot_steel(steel_named(name), ax=ax).figure  # type: ignore[return-value]
    if name in magnet_names():
        return plot_magnet(magnet_named(name), STATES, ax=ax).figure  # type: ignore[return-value]
    if name in material_names():
        raise InvalidInput("material", "be a magnet or a steel to be drawn", repr(name))
    raise unknown(name)
