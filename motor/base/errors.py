"""Errors that the program raises on purpose.  Anything else is a defect."""

from __future__ import annotations

from geometries.errors import InvalidInput

__all__ = [
    "InvalidInput",
    "MachineError",
    "MeshError",
    "MotorError",
    "OutOfReach",
    "OutputError",
    "SolveError",
]


class MotorError(RuntimeError):
    """A run that could not be finished although its input was well formed."""


class MeshError(MotorError):
    """The section could not be meshed."""


class SolveError(MotorError):
    """The field equations could not be solved to the stated tolerance."""


class OutOfReach(MotorError):
    """The answer is known: nothing meets what was asked for."""


class MachineError(MotorError):
    """The machine failed, not the design: memory, disk, a library, a worker.  Try again."""


class OutputError(MotorError):
    """Results could not be written."""
