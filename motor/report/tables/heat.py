"""Where a driver's temperatures settle: tables for a terminal, and the record for scripts."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from rich.box import SIMPLE_HEAD
from rich.table import Table

from geometries import volume
from motor.base.constants import ZERO_CELSIUS
from motor.base.json_numbers import finite
from motor.base.media import terminal_text
from motor.field.heat_mesh import WINDING

if TYPE_CHECKING:
    from rich.table import Table

    from motor.results.heat import Warmth
    from motor.results.heat_time import HeatHistory

__all__ = ["CAUTION", "heat_record", "heat_table", "magnet_words"]

CAUTION = (
    "Caution: hot coils and motors burn, overheated magnets lose strength for good, and bonds give "
    "way. These are computed figures: tests decide. Follow local rules and qualified practice."
)
WAYS = {
    "side": "motor's side",
    "front": "faces to the front",
    "back": "faces to the back",
    "bore": "vent",
    "basket": "basket",
    "open": "winding, to the moving air",
    "cone": "former and cone",
}


def _grid(title: str) -> Table:
    return Table(title=terminal_text(title), box=SIMPLE_HEAD, title_justify="left")


def heat_table(warmth: Warmth, history: HeatHistory | None = None) -> list[Any]:
    """Return temperatures, limits and ways of the heat for a terminal."""
    found = heat_record(warmth)
    why = warmth.largest_power[1]
    figures = _grid(
        f"{warmth.design.name}: {warmth.power:.4g} W lasting programme in air at "
        f"{warmth.model.ambient - ZERO_CELSIUS:.4g} degC ({warmth.settled.heat:.3g} W in the "
        f"warm coil{_losses_words(warmth)})"
    )
    for head in ("", "value", "± numerical", "± material, air", ""):
        figures.add_column(head, justify="left" if not head else "right")
    rows = [
        ("coil, mean", "coil_temperature", "degC", "K", ".0f"),
        ("coil, hottest turn", "coil_hottest", "degC", "K", ".0f"),
        (f"largest power ({why})", "largest_power", "W", "W", ".3g"),
        ("Bl at rest, warm", "bl_at_rest_warm", "Tm", "Tm", ".4g"),
    ]
    for words, key, unit, spread, form in rows:
        value = found[f"{key}_{unit}"]
        error, band = found[f"{key}_uncertainty_{spread}"], found[f"{key}_band_{spread}"]
        figures.add_row(
            words,
            "none" if value is None else format(value, form),
            "" if error is None else f"{error:.2g}",
            "" if band is None else f"{band:.2g}",
            unit.replace("Tm", "T m"),
        )
        if key == "coil_hottest":
            for row in found["magnets"]:
                error = row["uncertainty_K"]
                figures.add_row(
                    magnet_words(warmth, row["name"]),
                    f"{row['temperature_degC']:.0f}",
                    "" if error is None else f"{error:.2g}",
                    f"{row['band_K']:.2g}",
                    "degC",
                )
    figures.add_row("coil resistance, warm", f"{warmth.resistance:.4g}", "", "", "ohm")
    figures.add_row("level, coil and magnets warm", f"{warmth.compression:.2f}", "", "", "dB")
    limits = _grid("What bears how much, lasting")
    for head in ("", "limit degC", "here degC", "power W"):
        limits.add_column(head, justify="left" if not head else "right")
    for limit in warmth.limits:
        limits.add_row(
            limit.name.replace("_", " "),
            f"{limit.limit - ZERO_CELSIUS:.0f}",
            f"{limit.temperature - ZERO_CELSIUS:.0f}",
            f"{limit.power:.3g}" if math.isfinite(limit.power) else "coil chars first",
            style="bold red" if limit.temperature > limit.limit else "",
        )
    ways = ", ".join(
        f"{WAYS[k]} {v:.2g}" for k, v in sorted(warmth.ways.items(), key=lambda x: -x[1]) if v
    )
    lost = warmth.settled.losses.items()
    eddy = ", ".join(f"{n.replace('_', ' ')} {w:.2g}" for n, w in lost if w > 1e-3)
    texts = [f"Eddy currents, W: {eddy}"] if eddy else []
    texts += [f"Ways of the heat to the air, W: {ways}", _network_text(warmth)]
    if not lost:
        texts.append("Eddy currents are left out, on the safe side for the coil; --eddy adds them.")
    if history is not None:
        texts.append(_over_time_text(history))
    return [figures, limits, "\n".join(texts)]


def heat_record(warmth: Warmth, history: HeatHistory | None = None) -> dict[str, Any]:
    """Return the figures under names that carry their unit."""
    over_time = {} if history is None else {"over_time": _over_time(history)}
    largest, why = warmth.largest_power
    coil, magnet, hot = warmth.coil, warmth.magnet, warmth.hottest(WINDING)
    bl = warmth.bl_at_rest
    return {
        "name": warmth.design.name,
        "power_W": warmth.power,
        "heat_in_coil_W": warmth.settled.heat,
        "heat_in_parts_W": warmth.losses.value,
        "heat_in_parts_uncertainty_W": finite(warmth.losses.uncertainty),
        "heat_in_parts_band_W": warmth.band("losses"),
        "eddy_currents": _losses(warmth),
        "ambient_degC": round(warmth.model.ambient - ZERO_CELSIUS, 6),
        "displacement_rms_mm": warmth.displacement * 1e3,
        "coil_temperature_degC": coil.value - ZERO_CELSIUS,
        "coil_temperature_uncertainty_K": finite(coil.uncertainty),
        "coil_temperature_band_K": warmth.band("coil"),
        "coil_hottest_degC": hot.value - ZERO_CELSIUS,
        "coil_hottest_uncertainty_K": finite(hot.uncertainty),
        "coil_hottest_band_K": warmth.band("coil_hottest"),
        "magnet_temperature_degC": magnet.value - ZERO_CELSIUS,
        "magnet_temperature_uncertainty_K": finite(magnet.uncertainty),
        "magnet_temperature_band_K": warmth.band(warmth.warmest),
        "magnets": _magnets(warmth),
        "parts_degC": {n: warmth.mean(n).value - ZERO_CELSIUS for n in warmth.model.reduced.mean},
        "largest_power_W": finite(largest.value),
        "largest_power_uncertainty_W": finite(largest.uncertainty),
        "largest_power_band_W": finite(warmth.largest_power_band),
        "largest_power_limited_by": why,
        "limits": [
            {
                "name": limit.name,
                "limit_degC": round(limit.limit - ZERO_CELSIUS, 6),
                "temperature_degC": limit.temperature - ZERO_CELSIUS,
                "power_W": finite(limit.power),
                "source": limit.source,
            }
            for limit in warmth.limits
        ],
        "bl_at_rest_warm_Tm": bl.value,
        "bl_at_rest_warm_uncertainty_Tm": finite(bl.uncertainty),
        "bl_at_rest_warm_band_Tm": warmth.bl_band,
        "bl_at_rest_Tm": warmth.result.bl_curve.at_rest.value,
        "bl_lost_for_good_percent": 100 * warmth.warm.irreversible_loss.value,
        "coil_resistance_warm_ohm": warmth.resistance,
        "level_change_dB": warmth.compression,
        "heat_ways_W": warmth.ways,
        "network": _network(warmth),
        **over_time,
        "cautions": warmth.cautions,
    }


def _losses_words(warmth: Warmth) -> str:
    """Return the heat of eddy currents beside the coil's; nothing where they are left out."""
    if not warmth.settled.losses:
        return ""
    return f", {warmth.losses.value:.3g} W in steel, magnets and rings"


def _losses(warmth: Warmth) -> list[dict[str, Any]]:
    """Return the heat of eddy currents part by part, and its density; empty where left out."""
    volumes = {region.name: volume(region) for region in warmth.design.regions}
    return [
        {"name": name, "heat_W": watts, "density_kW_per_m3": watts / volumes[name] / 1e3}
        for name, watts in warmth.settled.losses.items()
    ]


def magnet_words(warmth: Warmth, name: str) -> str:
    """Return what a magnet's row is called."""
    return "magnet, mean" if len(warmth.magnets) == 1 else f"{name.replace('_', ' ')}, mean"


def _magnets(warmth: Warmth) -> list[dict[str, Any]]:
    """Return each magnet's temperature, and what it does to its values, the warmest first."""
    health = {m.region: m for m in warmth.warm.magnet_health}
    found = []
    for name in sorted(warmth.magnets, key=lambda name: -warmth.mean(name).value):
        kelvin, state = warmth.mean(name), health.get(name)
        grade = warmth.design.materials.magnet_of(name)
        found.append(
            {
                "name": name,
                "temperature_degC": kelvin.value - ZERO_CELSIUS,
                "uncertainty_K": finite(kelvin.uncertainty),
                "band_K": warmth.band(name),
                "remanence_T": grade.remanence_at(kelvin.value),
                "margin_to_knee_kA_per_m": None if state is None else state.margin / 1e3,
                "remanence_lost_percent": None if state is None else 100 * state.loss,
            }
        )
    return found


def _network(warmth: Warmth) -> dict[str, Any]:
    bodies, constants = warmth.bodies, warmth.constants
    return {
        "coil_to_motor_K_per_W": bodies.coil_to_motor,
        "motor_to_air_K_per_W": bodies.motor_to_air,
        "coil_to_air_K_per_W": finite(bodies.coil_to_air),
        "coil_capacity_J_per_K": bodies.coil_capacity,
        "motor_capacity_J_per_K": bodies.motor_capacity,
        "time_constants_s": constants.tau.tolist(),
        "coil_resistances_K_per_W": constants.coil.tolist(),
        "magnet_resistances_K_per_W": constants.magnet.tolist(),
        "misfit_percent": 100 * constants.misfit,
    }


def _over_time(history: HeatHistory) -> dict[str, Any]:
    return {
        "programme": history.programme,
        "time_s": float(history.time[-1]),
        "coil_degC": float(history.coil[-1]) - ZERO_CELSIUS,
        "coil_highest_degC": float(history.coil.max()) - ZERO_CELSIUS,
        "hottest_turn_highest_degC": float(history.coil_hottest.max()) - ZERO_CELSIUS,
        "magnet_degC": float(history.magnet[-1]) - ZERO_CELSIUS,
        "magnet_highest_degC": float(history.magnet.max()) - ZERO_CELSIUS,
        "level_least_dB": float(history.level.min()),
    }


def _network_text(warmth: Warmth) -> str:
    bodies, constants = warmth.bodies, warmth.constants
    taus = " and ".join(
        f"{t:.3g} s" if t < 120 else f"{t / 60:.3g} min" for t in constants.tau if t > 0
    )
    past = "" if math.isinf(bodies.coil_to_air) else f", past it {bodies.coil_to_air:.3g} K/W"
    return (
        f"Two bodies: coil {bodies.coil_capacity:.3g} J/K, to the motor {bodies.coil_to_motor:.3g} "
        f"K/W{past}; motor {bodies.motor_capacity:.3g} J/K, to the air {bodies.motor_to_air:.3g} "
        f"K/W.  Time constants of the coil {taus} (misfit {constants.misfit:.1%})."
    )


def _over_time_text(history: HeatHistory) -> str:
    end, highest = history.coil[-1] - ZERO_CELSIUS, history.coil_hottest.max() - ZERO_CELSIUS
    hours = history.time[-1] / 3600
    return (
        f"{history.programme}, {hours:.3g} h from cold: hottest turn up to {highest:.0f} degC, at "
        f"the end coil {end:.0f} degC, magnet {history.magnet[-1] - ZERO_CELSIUS:.0f} degC\n"
    )
