"""The driver's figures as a record for scripts, units in the names."""

from __future__ import annotations

import contextlib
from typing import TYPE_CHECKING, Any

from motor.base.constants import ZERO_CELSIUS
from motor.base.errors import InvalidInput
from motor.base.json_numbers import finite
from motor.driver.alignments import sealed_alignments, vented_alignment
from motor.driver.distortion import DistortionMap
from motor.driver.measured import BlComparison
from motor.driver.parts import Driver, DriverSystem
from motor.driver.run import DriverRun
from motor.driver.small_signal import SmallSignal, small_signal
from motor.driver.thermal_network import with_inductance
from motor.driver.transient import Motion
from motor.field.heat_mesh import WINDING

if TYPE_CHECKING:
    from motor.results.heat import Warmth


__all__ = ["driver_record"]


def driver_record(
    system: DriverSystem,
    run: DriverRun,
    inductance_seconds: float = 0.0,
    *,
    warm: Warmth | None = None,
    measured: BlComparison | None = None,
    programme: Motion | None = None,
) -> dict[str, Any]:
    """Return parameters, boxes, distortion by level, clean levels and findings.

    ``None`` stands for what does not exist, such as a steady motion outside the known range.
    """
    parts, box = small_signal(system.driver), system.box
    record: dict[str, Any] = {
        "name": system.driver.name,
        "box": None if box is None else {"kind": box.kind, "volume_l": box.volume * 1e3},
        "small_signal": _parts(parts),
        "inductance_source": system.driver.inductance_source,
        **_inductance(system.driver, inductance_seconds),
        "alignments": _alignments(parts),
        "levels": _levels(run.map),
        "steel_band": [
            {
                "frequency_Hz": b.frequency,
                "voltage_V": b.voltage,
                "thd": b.thd,
                "thd_on_minor_loops": b.loops,
                "thd_along_curve": b.curve,
                "thd_within_period": b.within,
                "thd_at_most": b.most,
            }
            for b in run.band
        ],
        "clean_level": [
            {
                "frequency_Hz": x.frequency,
                "level_dB": finite(x.level),
                "voltage_V": x.voltage,
                "peak_mm": x.peak * 1e3,
                "limited_by": x.limited_by,
            }
            for x in run.clean.limits
        ],
        "findings": [
            {"kind": f.kind, "frequency_Hz": f.frequency, "voltage_V": f.voltage, "text": f.text}
            for f in run.map.findings
        ],
    }
    if warm is not None:
        record["heat"] = {
            "coil_degC": warm.coil.value - ZERO_CELSIUS,
            "coil_hottest_degC": warm.hottest(WINDING).value - ZERO_CELSIUS,
            "magnet_degC": warm.magnet.value - ZERO_CELSIUS,
            "motor_degC": warm.bodies.motor - ZERO_CELSIUS,
            "power_W": warm.settled.heat,
            "nominal_power_W": warm.power,
            "compression_dB": warm.compression,
            "bl_at_rest_Tm": warm.bl_at_rest.value,
            "largest_power_W": finite(warm.largest_power[0].value),
            "largest_power_limited_by": warm.largest_power[1],
            "caution": "; ".join(warm.cautions),
        }
        if spared := with_inductance(warm, system.driver.lossy):
            record["heat"]["with_inductance"] = {
                "coil_degC": spared.coil - ZERO_CELSIUS,
                "motor_degC": spared.motor - ZERO_CELSIUS,
                "power_W": spared.power,
                "eddy_power_W": spared.motor_power,
            }
    if measured is not None:
        record["measured"] = {
            "at_rest_relative": measured.at_rest,
            "largest_relative": measured.largest,
            "gain": measured.fit.gain,
            "gain_error": measured.fit.gain_error,
            "offset_mm": measured.fit.offset * 1e3,
            "offset_error_mm": finite(measured.fit.offset_error * 1e3),
            "scatter_Tm": measured.fit.scatter,
        }
    if programme is not None:
        record["programme"] = {
            "inward_mm": programme.inward * 1e3,
            "outward_mm": programme.outward * 1e3,
            "left_range_s": programme.left_range,
        }
    return record


def _inductance(driver: Driver, seconds: float) -> dict[str, Any]:
    """Return what a computed inductance is made of, and what it cost."""
    if driver.inductance_source != "computed":
        return {}
    modes = 0 if driver.lossy is None else len(driver.lossy.time_constant)
    found: dict[str, Any] = {"inductance_modes": modes, "inductance_seconds": round(seconds, 2)}
    if driver.lossy is not None and (loud := driver.lossy.loud) is not None:
        found["steel_at_large_currents"] = {
            "current_A": loud.current,
            "frequency_Hz": loud.frequency,
            "minor_loop_share": loud.share,
        }
    if driver.lossy is not None and (law := driver.lossy.saturation) is not None:
        change, doubt = law.change_of_bl(law.position)
        found["saturation"] = {
            "current_A": law.largest,
            "displacement_mm": (law.position * 1e3).tolist(),
            "bl_change_percent": (change * 100).tolist(),
            "bl_change_uncertainty_percent": (doubt * 100).tolist(),
            "misfit": law.misfit,
        }
    return found


def _parts(parts: SmallSignal) -> dict[str, float]:
    return {
        "fs_Hz": parts.fs,
        "re_ohm": parts.re,
        "le_mH": parts.le * 1e3,
        "bl_Tm": parts.bl,
        "mms_g": parts.mms * 1e3,
        "cms_mm_per_N": parts.cms * 1e3,
        "rms_kg_per_s": parts.rms,
        "sd_cm2": parts.sd * 1e4,
        "qms": parts.qms,
        "qes": parts.qes,
        "qts": parts.qts,
        "vas_l": parts.vas * 1e3,
        "efficiency": parts.efficiency,
        "level_1W_dB": parts.level_1w,
        "level_2.83V_dB": parts.level_283,
        "motor_constant_N2_per_W": parts.motor_constant,
        "acceleration_m_per_s2_A": parts.acceleration,
    }


def _alignments(parts: SmallSignal) -> list[dict[str, Any]]:
    found = sealed_alignments(parts)
    with contextlib.suppress(InvalidInput):
        found.append(vented_alignment(parts))
    return [
        {
            "kind": a.box.kind,
            "name": a.name,
            "volume_l": a.box.volume * 1e3,
            "cutoff_Hz": a.cutoff,
            "remark": a.remark,
        }
        for a in found
    ]


def _levels(found: DistortionMap) -> list[dict[str, Any]]:
    levels = []
    for j, voltage in enumerate(found.voltage):
        states, fast = found.at_level(j), found.fastest_port(j)
        worst = max(states, key=lambda s: s.thd, default=None)
        far = max(states, key=lambda s: s.peak, default=None)
        levels.append(
            {
                "voltage_V": float(voltage),
                "largest_thd": None if worst is None else worst.thd,
                "largest_thd_at_Hz": None if worst is None else float(worst.frequency[1]),
                "largest_travel_mm": None if far is None else far.peak * 1e3,
                "largest_travel_at_Hz": None if far is None else float(far.frequency[1]),
                "mean_displacement_there_mm": None if far is None else far.shift * 1e3,
                "largest_port_speed_m_per_s": None if fast is None else fast.port_speed,
                "largest_port_speed_at_Hz": None if fast is None else float(fast.frequency[1]),
            }
        )
    return levels
