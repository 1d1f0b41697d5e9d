"""The design as it was built: inferred values put into it, each with where it comes from."""

from __future__ import annotations

import dataclasses
import math
from typing import Any

from motor.base.errors import InvalidInput
from motor.design.coil import Coil, WoundCoil
from motor.design.design import Design, Materials
from motor.design.file_lines import Section, text_of
from motor.design.wire import Wire
from motor.design.writing import design_sections
from motor.materials import Magnet, TabulatedSteel, magnet_named, steel_named
from motor.study.forward import built
from motor.study.inferred import Fit, Inferred

__all__ = ["corrected_design", "corrected_toml"]

GRAIN = 50.0
"""An inferred value is written to its deviation over this, or finer."""
DIGITS = 6
"""Digits of what follows from a factor: remanence, flux densities of a curve."""
FACTOR_LINES = {
    "factors.remanence": ("[materials]", "magnet"),
    "factors.steel": ("[materials]", "steel"),
    "factors.permeability": ("[materials]", "steel"),
    "factors.stiffness": ("[moving_parts]", "stiffness"),
    "factors.turns": ("[coil.wire]", "overall_diameter"),
}
"""Where in a design file a factor shows."""
INFERRED = ", inferred"
"""At the end of the name of a material whose values were inferred."""


def corrected_design(fit: Fit) -> Design:
    """Return the design with every inferred value, rounded well below what is not known of it."""
    values = {one.name: _rounded(one.estimate, one.deviation) for one in fit.unknowns}
    design = built(fit.before.design, values)
    drawn = fit.before.design.materials
    materials = _renamed(design.materials, drawn)
    return design.replace(materials=materials, coil=_plain(design.coil))


def _rounded(value: float, deviation: float) -> float:
    digits = math.ceil(-math.log10(deviation / GRAIN))
    return round(value, digits)


def _renamed(materials: Materials, drawn: Materials) -> Materials:
    """Return materials whose changed ones bear names of their own, at their prices."""
    prices = dict(materials.prices)

    def renamed(now: Any, before: Any) -> Any:
        if isinstance(now, str) or now == before:
            return now
        table = magnet_named if isinstance(now, Magnet) else steel_named
        if isinstance(before, str) and now == table(before):
            return before
        name = now.name.removesuffix(INFERRED) + INFERRED
        prices[name] = drawn.price_of(now)
        if isinstance(now, Magnet):
            least = now.remanence_min
            return dataclasses.replace(
                now,
                name=name,
                family="own",
                energy_product_band=(0.0, 0.0),
                remanence=_short(now.remanence),
                remanence_min=None if least is None else _short(least),
            )
        assert isinstance(now, TabulatedSteel)
        saturation = now.saturation
        return dataclasses.replace(
            now,
            name=name,
            flux_density=tuple(map(_short, now.flux_density)),
            saturation=None if saturation is None else _short(saturation),
        )

    magnet, steel = (renamed(getattr(materials, k), getattr(drawn, k)) for k in ("magnet", "steel"))
    parts = {name: renamed(now, drawn.parts[name]) for name, now in materials.parts.items()}
    return dataclasses.replace(
        materials, magnet=magnet, steel=steel, parts=parts, prices=prices, own=drawn.own
    )


def _short(value: float) -> float:
    return float(f"{value:.{DIGITS}g}")


def _plain(coil: Coil) -> Coil:
    """Return an ordinary coil of the counted turns, whole layers of them; its pitch may change."""
    if not isinstance(coil, WoundCoil):
        return coil
    names = [f.name for f in dataclasses.fields(Coil)]
    plain = Coil(**{name: getattr(coil, name) for name in names})
    per_layer = max(1, round(coil.wound / coil.layers))
    if plain.turns_per_layer == per_layer:
        return plain
    pitch = math.floor(1e9 * coil.winding_height / per_layer) / 1e9
    wire = coil.wire
    try:
        if isinstance(wire, Wire):
            drawn: Any = dataclasses.replace(wire, overall_diameter=pitch)
        else:
            drawn = dataclasses.replace(wire, insulation=pitch - wire.thickness)
    except InvalidInput as error:
        raise error.within("coil.wire") from None
    return dataclasses.replace(plain, wire=drawn)


def corrected_toml(fit: Fit, source: str) -> str:
    """Return the corrected design as TOML; a comment at each changed value says whence it is.

    Parameters
    ----------
    fit : Fit
    source : str
        Name of the drawn design's file.
    """
    sections = [section.plain for section in design_sections(corrected_design(fit))]
    taken = ", ".join(r.measurement.name for r in fit.residuals)
    head = [
        f"# As inferred from {fit.name} ({taken}), drawn in {source}; ± one standard deviation:"
    ]
    for one in fit.unknowns:
        words = _words(one)
        head.append(f"# {one.name}: {words}")
        for name in one.name.split(" + "):
            _remark(sections, name, words)
    return "\n".join(_one_line(line) for line in head) + f"\n{text_of(sections)}\n"


def _one_line(text: str) -> str:
    return " ".join(text.split())


def _words(one: Inferred) -> str:
    unit = one.unit
    value, spread, prior = (unit.of_si(v) for v in (one.estimate, one.deviation, one.prior))
    known = {"yes": "", "partly": ", known in part", "no": ", hardly known from this"}[one.verdict]
    return (
        f"expected {prior:.6g}, inferred {value:.6g} ± {spread:.2g} {unit.plain}".rstrip() + known
    )


def _remark(sections: list[Section], name: str, words: str) -> None:
    """Put words behind the line of a design file that holds a parameter, if there is one."""
    head, _, key = name.rpartition(".")
    wanted, key = FACTOR_LINES.get(name, (f"[{head}]", key))
    for k, section in enumerate(sections):
        inside = section.head == wanted
        inside |= wanted == "[geometry]" and section.head.lstrip("[").startswith("geometry")
        place = next((n for n, line in enumerate(section.lines) if line.key == key), None)
        if inside and place is not None:
            lines = list(section.lines)
            known = f"{lines[place].doc}   # " if lines[place].doc else ""
            of = f"{name}: " if name in FACTOR_LINES else ""
            lines[place] = dataclasses.replace(lines[place], doc=f"{known}{of}{words}")
            sections[k] = Section(section.head, tuple(lines))
            return
