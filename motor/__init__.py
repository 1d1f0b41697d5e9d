"""Magnet systems of loudspeakers: from drawing dimensions to Bl(x) and usable linear stroke.

::

    import motor

    design = motor.read_design("studies/designs/door_woofer_ferrite.toml")
    result = motor.solve(design)
    print(result.report())
    result.bl_curve.plot()
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from motor.lazy import importer

if TYPE_CHECKING:
    from motor.coil import Coil
    from motor.curves.bl import BlCurve
    from motor.curves.impedance import BlockedImpedance, blocked_impedance
    from motor.curves.loaded import LoadedCoil, loaded_coil
    from motor.curves.profile import FluxProfile
    from motor.design import Design, Materials, MovingParts, StrokeRules
    from motor.design_file import (
        design_from_toml,
        design_to_toml,
        read_design,
        write_design,
    )
    from motor.driver.alignments import Alignment, sealed_alignments, vented_alignment
    from motor.driver.characteristic import Polynomial, Table
    from motor.driver.compare import Comparison, compare
    from motor.driver.distortion import (
        CleanLimits,
        DistortionMap,
        clean_limits,
        clean_stroke,
        distortion_map,
    )
    from motor.driver.enclosure import Amplifier, Box
    from motor.driver.hand_over import fit_polynomial, spline_csv, table_csv
    from motor.driver.heat import ThermalNetwork, network_of
    from motor.driver.measured import compare_bl, read_measured_bl
    from motor.driver.parts import Driver, System, driver_of
    from motor.driver.programme import play, read_wav
    from motor.driver.run import system_of
    from motor.driver.small_signal import SmallSignal, response, small_signal
    from motor.driver.spice import spice_subcircuit
    from motor.driver.steady import SteadyState, steady_state, two_tones
    from motor.driver.transient import Motion, integrate
    from motor.errors import InvalidInput, MeshError, MotorError, OutputError, SolveError
    from motor.exchange.dxf import write_dxf
    from motor.exchange.export import export
    from motor.exchange.msh import write_msh
    from motor.exchange.step import write_step
    from motor.exchange.vtu import write_vtu
    from motor.field.field import Estimate, Field
    from motor.field.meshing import Sizing
    from motor.report.files import save
    from motor.result import MotorResult, solve
    from motor.starters import starter
    from motor.wire import FlatWire, Wire, wire_of_size

_HOME = {
    "motor.coil": ("Coil",),
    "motor.curves.bl": ("BlCurve",),
    "motor.curves.impedance": ("BlockedImpedance", "blocked_impedance"),
    "motor.curves.loaded": ("LoadedCoil", "loaded_coil"),
    "motor.curves.profile": ("FluxProfile",),
    "motor.design": ("Design", "Materials", "MovingParts", "StrokeRules"),
    "motor.design_file": ("design_from_toml", "design_to_toml", "read_design", "write_design"),
    "motor.driver.alignments": (
        "Alignment",
        "sealed_alignments",
        "vented_alignment",
    ),
    "motor.driver.characteristic": (
        "Polynomial",
        "Table",
    ),
    "motor.driver.compare": (
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
    "motor.driver.enclosure": (
        "Amplifier",
        "Box",
    ),
    "motor.driver.hand_over": (
        "fit_polynomial",
        "spline_csv",
        "table_csv",
    ),
    "motor.driver.heat": (
        "ThermalNetwork",
        "network_of",
    ),
    "motor.driver.measured": (
        "compare_bl",
        "read_measured_bl",
    ),
    "motor.driver.parts": (
        "Driver",
        "System",
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
    "motor.errors": ("InvalidInput", "MeshError", "MotorError", "OutputError", "SolveError"),
    "motor.exchange.dxf": ("write_dxf",),
    "motor.exchange.export": ("export",),
    "motor.exchange.msh": ("write_msh",),
    "motor.exchange.step": ("write_step",),
    "motor.exchange.vtu": ("write_vtu",),
    "motor.field.field": ("Estimate", "Field"),
    "motor.field.meshing": ("Sizing",),
    "motor.report.files": ("save",),
    "motor.result": ("MotorResult", "solve"),
    "motor.starters": ("starter",),
    "motor.wire": ("FlatWire", "Wire", "wire_of_size"),
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
    "Design",
    "DistortionMap",
    "Driver",
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
    "System",
    "Table",
    "ThermalNetwork",
    "Wire",
    "blocked_impedance",
    "clean_limits",
    "clean_stroke",
    "compare",
    "compare_bl",
    "design_from_toml",
    "design_to_toml",
    "distortion_map",
    "driver_of",
    "export",
    "fit_polynomial",
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

__getattr__ = importer(__name__, _HOME)
