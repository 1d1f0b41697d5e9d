"""What a driver does beyond steady motion about rest, and the level at which it starts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from motor.driver.drive import Drive
    from motor.driver.steady import SteadyState

__all__ = ["Finding"]


@dataclass(frozen=True)
class Finding:
    """One observation.

    Parameters
    ----------
    kind : str
        "jump" (the motion leaves its branch and settles about another mean displacement),
        "no steady motion", "mechanical limit" (coil or former pass it) or "range" (the coil
        leaves the displacements over which Bl, K and L are known: it has left the gap or would
        touch the motor).
    frequency : float
        Of the first tone, Hz.
    voltage : float
        Source voltage of the first tone at which it starts, V r.m.s.
    text : str
        The observation as a sentence.
    """

    kind: str
    frequency: float
    voltage: float
    text: str

    @staticmethod
    def jump(drive: Drive, voltage: float, state: SteadyState | None) -> Finding:
        """Return the finding that a branch ended, with the motion found instead, if any."""
        tone = drive.frequency * drive.tones[0][0]
        where = f"at {tone:.4g} Hz from {voltage:.4g} V r.m.s."
        if state is None:
            text = f"no steady motion with the period of the drive was found {where}"
            return Finding("no steady motion", tone, voltage, text)
        text = f"the motion about rest is unstable {where}; the coil settles about "
        return Finding("jump", tone, voltage, f"{text}{state.shift * 1e3:+.3g} mm")

    @staticmethod
    def passed(name: str, drive: Drive, voltage: float, state: SteadyState) -> Finding:
        """Return the finding that a limit of the travel is passed."""
        tone = drive.frequency * drive.tones[0][0]
        what = {
            "mechanical limit": "the coil passes its mechanical limit",
            "range": "the coil leaves the displacements over which Bl, K and L are known",
        }[name]
        text = (
            f"{what} at {tone:.4g} Hz from {voltage:.4g} V r.m.s. "
            f"(inwards {state.inward * 1e3:.3g} mm, outwards {state.outward * 1e3:.3g} mm "
            f"at {state.voltage:.4g} V)"
        )
        return Finding(name, tone, voltage, text)
