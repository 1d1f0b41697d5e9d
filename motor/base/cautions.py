"""What is said wherever a command ends in something that people build or drive."""

from __future__ import annotations

__all__ = ["MOTOR"]

MOTOR = (
    "Caution: magnets attract suddenly, pinch, shatter and disturb pacemakers; coils burn. "
    "Follow local rules and qualified practice when handling and testing."
)
"""Of a magnet system and its coil."""
