"""Magnet systems of loudspeakers: from drawing dimensions to Bl(x) and usable linear stroke.

::

    import motor

    design = motor.read_design("studies/designs/door_woofer_ferrite.toml")
    result = motor.solve(design)
    print(result.report())
    result.bl_curve.plot()
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from motor.base.lazy import importer

if TYPE_CHECKING:
    from motor.base.errors import InvalidInput, MeshError, MotorError, OutputError, SolveError
    from motor.design.characteristic import Polynomial, Table
    from motor.design.coil import Coil
    from motor.design.design import Design, Materials, MovingParts
    from motor.design.enclosure import Amplifier, Box
    from motor.design.reading import (
        design_from_toml,
        design_to_toml,
        read_design,
        write_design,
    )
    from motor.design.starters import starter
    from motor.design.stroke_rules import StrokeRules
    from motor.design.wire import FlatWire, Wire, wire_of_size
    from motor.driver.alignments import Alignment, sealed_alignments, vented_alignment
    from motor.driver.distortion import (
        CleanLimits,
        DistortionMap,
        clean_limits,
        clean_stroke,
        distortion_map,
    )
    from motor.driver.hand_over import fit_polynomial, spline_csv, table_csv
    from motor.driver.measured import compare_bl, read_measured_bl
    from motor.driver.parts import Driver, DriverSystem, driver_of
    from motor.driver.programme import play, read_wav
    from motor.driver.run import system_of
    from motor.driver.small_signal import SmallSignal, response, small_signal
    from motor.driver.spice import spice_subcircuit
    from motor.driver.steady import SteadyState, steady_state, two_tones
    from motor.driver.system_comparison import Comparison, compare
    from motor.driver.thermal_network import ThermalNetwork, network_of
    from motor.driver.transient import Motion, integrate
    from motor.field.field import Estimate, Field
    from motor.field.meshing import Sizing
    from motor.report.files.dxf import write_dxf
    from motor.report.files.export import export
    from motor.report.files.folder import save
    from motor.report.files.msh import write_msh
    from motor.report.files.step import write_step
    from motor.report.files.vtu import write_vtu
    from motor.results.bl import BlCurve
    from motor.results.heat import Warmth, heat
    from motor.results.impedance import BlockedImpedance, blocked_impedance
    from motor.results.loaded import LoadedCoil, loaded_coil
    from motor.results.motor_result import MotorResult, solve
    from motor.results.profile import FluxProfile
    from motor.study.derivatives import Derivative, Derivatives, derivatives

_HOME = {
    "motor.design.coil": ("Coil",),
    "motor.results.bl": ("BlCurve",),
    "motor.results.impedance": ("BlockedImpedance", "blocked_impedance"),
    "motor.results.loaded": ("LoadedCoil", "loaded_coil"),
    "motor.results.profile": ("FluxProfile",),
    "motor.design.design": ("Design", "Materials", "MovingParts"),
    "motor.design.stroke_rules": ("StrokeRules",),
    "motor.design.reading": ("design_from_toml", "design_to_toml", "read_design", "write_design"),
    "motor.driver.alignments": (
        "Alignment",
        "sealed_alignments",
        "vented_alignment",
    ),
    "motor.design.characteristic": (
        "Polynomial",
        "Table",
    ),
    "motor.driver.system_comparison": (
        "Comparison",
        "compare",
    ),
    "motor.driver.distortion": (
        "CleanLimits",
        "DistortionMap",
        "clean_limits",
        "clean_stroke",
        "distortion_map",
    ),
    "motor.design.enclosure": (
        "Amplifier",
        "Box",
    ),
    "motor.driver.hand_over": (
        "fit_polynomial",
        "spline_csv",
        "table_csv",
    ),
    "motor.driver.thermal_network": (
        "ThermalNetwork",
        "network_of",
    ),
    "motor.results.heat": (
        "Warmth",
        "heat",
    ),
    "motor.driver.measured": (
        "compare_bl",
        "read_measured_bl",
    ),
    "motor.driver.parts": (
        "Driver",
        "DriverSystem",
        "driver_of",
    ),
    "motor.driver.programme": (
        "play",
        "read_wav",
    ),
    "motor.driver.run": ("system_of",),
    "motor.driver.small_signal": (
        "SmallSignal",
        "response",
        "small_signal",
    ),
    "motor.driver.spice": ("spice_subcircuit",),
    "motor.driver.steady": (
        "SteadyState",
        "steady_state",
        "two_tones",
    ),
    "motor.driver.transient": (
        "Motion",
        "integrate",
    ),
    "motor.base.errors": ("InvalidInput", "MeshError", "MotorError", "OutputError", "SolveError"),
    "motor.report.files.dxf": ("write_dxf",),
    "motor.report.files.export": ("export",),
    "motor.report.files.msh": ("write_msh",),
    "motor.report.files.step": ("write_step",),
    "motor.report.files.vtu": ("write_vtu",),
    "motor.field.field": ("Estimate", "Field"),
    "motor.field.meshing": ("Sizing",),
    "motor.report.files.folder": ("save",),
    "motor.results.motor_result": ("MotorResult", "solve"),
    "motor.design.starters": ("starter",),
    "motor.design.wire": ("FlatWire", "Wire", "wire_of_size"),
    "motor.study.derivatives": ("Derivative", "Derivatives", "derivatives"),
}

__all__ = [
    "Alignment",
    "Amplifier",
    "BlCurve",
    "BlockedImpedance",
    "Box",
    "CleanLimits",
    "Coil",
    "Comparison",
    "Derivative",
    "Derivatives",
    "Design",
    "DistortionMap",
    "Driver",
    "DriverSystem",
    "Estimate",
    "Field",
    "FlatWire",
    "FluxProfile",
    "InvalidInput",
    "LoadedCoil",
    "Materials",
    "MeshError",
    "Motion",
    "MotorError",
    "MotorResult",
    "MovingParts",
    "OutputError",
    "Polynomial",
    "Sizing",
    "SmallSignal",
    "SolveError",
    "SteadyState",
    "StrokeRules",
    "Table",
    "ThermalNetwork",
    "Warmth",
    "Wire",
    "blocked_impedance",
    "clean_limits",
    "clean_stroke",
    "compare",
    "compare_bl",
    "derivatives",
    "design_from_toml",
    "design_to_toml",
    "distortion_map",
    "driver_of",
    "export",
    "fit_polynomial",
    "heat",
    "integrate",
    "loaded_coil",
    "network_of",
    "play",
    "read_design",
    "read_measured_bl",
    "read_wav",
    "response",
    "save",
    "sealed_alignments",
    "small_signal",
    "solve",
    "spice_subcircuit",
    "spline_csv",
    "starter",
    "steady_state",
    "system_of",
    "table_csv",
    "two_tones",
    "vented_alignment",
    "wire_of_size",
    "write_design",
    "write_dxf",
    "write_msh",
    "write_step",
    "write_vtu",
]

_named = importer(__name__, _HOME)


def __getattr__(name: str) -> Any:
    if name == "__version__":
        from motor.base.program import version  # here for start-up time

        return version()
    return _named(name)


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__, "__version__"})
