"""Door slams and rough roads: what the joints bear, and how often."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from geometries import InvalidInput
from motor.base.json_numbers import finite
from motor.base.program import origin
from motor.results.forces import Joint
from motor.results.inertia import joint_load
from motor.results.loads import MotorLoads

__all__ = ["ROAD_PEAK", "SN_LINE", "Endurance", "Road", "SNLine", "Slam", "endurance"]

ROAD_PEAK = 3.0
"""Peaks of random shaking over its root mean square: what 99.7 % of the time stay below."""


@dataclass(frozen=True)
class SNLine:
    """Cycles to failure of a joint over the stress, N = cycles (stress / S)^slope.

    Parameters
    ----------
    stress : float
        Pa that are borne for so many cycles.
    cycles : float
    slope : float
    given : bool
        Whether it is the user's and not the invented one.
    """

    stress: float
    cycles: float = 1e6
    slope: float = 8.0
    given: bool = True

    def cycles_at(self, stress: float) -> float:
        """Return the cycles to failure at a stress in Pa; infinite at none."""
        if stress <= 0:
            return math.inf
        decades = self.slope * math.log10(self.stress / stress) + math.log10(self.cycles)
        return 10.0**decades if decades < 300 else math.inf


SN_LINE = SNLine(1e6, given=False)
"""Invented, well below what structural adhesives are said to bear."""


@dataclass(frozen=True)
class Slam:
    """A half-sine pulse of the door.

    Parameters
    ----------
    peak : float
        m/s^2.
    duration : float
        Seconds.
    count : float
        How often.
    """

    peak: float
    duration: float
    count: float

    def amplification(self, resonance: float | None) -> float:
        """Return the peak of a mass on an undamped spring over that of the pulse; 1 if rigid.

        The shock spectrum of a half sine (e.g. C. M. Harris and A. G. Piersol, Shock and
        Vibration Handbook, chapter 8, from memory): at most 1.77.
        """
        if resonance is None:
            return 1.0
        turns = 2 * resonance * self.duration  # natural over pulse frequency
        if abs(turns - 1) < 1e-6:
            return math.pi / 2
        ratio = 1 / turns
        after = abs(2 * ratio * math.cos(math.pi * turns / 2) / (1 - ratio**2))
        best = after
        for k in range(1, int((turns + 1) / 2) + 1):
            angle = 2 * math.pi * k / (turns + 1)  # of the pulse, where the mass turns
            value = (math.sin(angle) - ratio * math.sin(turns * angle)) / (1 - ratio**2)
            best = max(best, abs(value))
        return best


@dataclass(frozen=True)
class Road:
    """Random shaking of an even spectrum, on a resonance.

    Parameters
    ----------
    density : float
        (m/s^2)^2/Hz about the resonance.
    duration : float
        Seconds.
    resonance : float
        Hz, of the motor on its basket and door.
    quality : float
        Of that resonance.
    """

    density: float
    duration: float
    resonance: float
    quality: float

    @property
    def rms(self) -> float:
        """Acceleration in m/s^2: sqrt(pi/2 f Q S).

        J. W. Miles, Journal of the Aeronautical Sciences 21, 1954, 753-762 (from memory).
        """
        return math.sqrt(math.pi / 2 * self.resonance * self.quality * self.density)

    def damage(self, rms_stress: float, line: SNLine) -> float:
        """Return the share of a joint's life: peaks as Rayleigh's, one a period, after Miner."""
        if rms_stress <= 0:
            return 0.0
        cycles = self.resonance * self.duration
        decades = math.log10(cycles / line.cycles)
        decades += line.slope * math.log10(math.sqrt(2) * rms_stress / line.stress)
        decades += math.lgamma(1 + line.slope / 2) / math.log(10)
        return 10.0**decades if decades < 300 else math.inf


@dataclass(frozen=True)
class JointLife:
    """What slams and road ask of one joint.

    Parameters
    ----------
    joint : Joint
    slam_stress : float or None
        At a slam's peak, Pa.
    slams : float or None
        How many slams it bears, alone.
    road_stress : float or None
        Root mean square, Pa.
    damage : float
        Miner's sum of all that is stated; failure is due at 1.
    """

    joint: Joint
    slam_stress: float | None
    slams: float | None
    road_stress: float | None
    damage: float


@dataclass(frozen=True)
class Endurance:
    """Slams and road on the joints of a motor.

    Parameters
    ----------
    loads : MotorLoads
    line : SNLine
    slam : Slam or None
    road : Road or None
    resonance : float or None
        Hz.
    lives : mapping of joint to JointLife, or None where statics cannot tell
    """

    loads: MotorLoads
    line: SNLine
    slam: Slam | None
    road: Road | None
    resonance: float | None
    lives: Mapping[tuple[str, str], JointLife | None]

    @property
    def slam_peak(self) -> float | None:
        """Peak acceleration of the motor in a slam, m/s^2."""
        if self.slam is None:
            return None
        return self.slam.peak * self.slam.amplification(self.resonance)

    @property
    def notes(self) -> list[str]:
        """Joints whose life is over, and what is invented."""
        found = [
            f"the joint of {' and '.join(pair).replace('_', ' ')} does not last: Miner's sum is "
            f"{life.damage:.3g}"
            for pair, life in self.lives.items()
            if life is not None and life.damage > 1
        ]
        if not self.line.given:
            found.append(
                f"the S-N line is invented: {self.line.stress / 1e6:.3g} MPa for "
                f"{self.line.cycles:.0e} cycles, slope {self.line.slope:.3g}; state your own"
            )
        return found

    def summary(self) -> dict[str, Any]:
        """Return the record behind the command's JSON."""
        record: dict[str, Any] = {
            **origin(),
            "name": self.loads.name,
            "held_by": self.loads.forces.holder,
            "resonance_Hz": self.resonance,
            "fatigue_stress_MPa": self.line.stress / 1e6,
            "fatigue_cycles": self.line.cycles,
            "fatigue_slope": self.line.slope,
            "fatigue_given": self.line.given,
        }
        if self.slam is not None and self.slam_peak is not None:
            record |= {
                "slam_peak_m_per_s2": self.slam.peak,
                "slam_amplification": self.slam_peak / self.slam.peak,
                "slams": self.slam.count,
            }
        if self.road is not None:
            record |= {
                "road_rms_m_per_s2": self.road.rms,
                "road_peak_m_per_s2": ROAD_PEAK * self.road.rms,
            }
        record["joints"] = [
            {
                "between": list(pair),
                "slam_stress_MPa": _mega(None if life is None else life.slam_stress),
                "slams_borne": None if life is None or life.slams is None else finite(life.slams),
                "road_rms_stress_MPa": _mega(None if life is None else life.road_stress),
                "miner_sum": None if life is None else finite(life.damage),
            }
            for pair, life in self.lives.items()
        ]
        return {**record, "notes": self.notes}


def _mega(pascal: float | None) -> float | None:
    return None if pascal is None else pascal / 1e6


def endurance(
    loads: MotorLoads,
    *,
    slam: Slam | None = None,
    road: Road | None = None,
    resonance: float | None = None,
    line: SNLine = SN_LINE,
) -> Endurance:
    """Return what slams and road do to the joints of a motor.

    A slam is one cycle of the stress at its peak, less what the magnets hold.  The road's stress
    is inertia over the joint's area, without the magnets' help.

    Raises
    ------
    InvalidInput
        If there is neither slam nor road, or a number is not above 0.
    """
    if slam is None and road is None:
        raise InvalidInput("endurance", "have a slam or a road", "neither")
    stated = {"resonance": resonance, "fatigue stress": line.stress, "fatigue slope": line.slope}
    if slam is not None:
        stated |= {"slam": slam.peak, "slam time": slam.duration, "slams": slam.count}
    if road is not None:
        stated |= {"road": road.density, "road time": road.duration, "quality": road.quality}
    for word, value in stated.items():
        if value is not None and not (math.isfinite(value) and value > 0):
            raise InvalidInput(word, "be greater than 0", value)
    lives: dict[tuple[str, str], JointLife | None] = {}
    for joint in loads.forces.joints:
        lives[joint.between] = _life(joint, loads, slam, road, resonance, line)
    return Endurance(loads, line, slam, road, resonance, lives)


def _life(
    joint: Joint,
    loads: MotorLoads,
    slam: Slam | None,
    road: Road | None,
    resonance: float | None,
    line: SNLine,
) -> JointLife | None:
    if joint.pull is None:
        return None
    damage, slam_stress, slams, road_stress = 0.0, None, None, None
    if slam is not None:
        peak = slam.peak * slam.amplification(resonance)
        load = joint_load(joint, loads.bodies, peak)
        assert load is not None
        slam_stress = load.stress
        slams = line.cycles_at(slam_stress)
        damage += slam.count / slams
    if road is not None:
        mass = sum(loads.bodies[name].mass for name in joint.outer)
        road_stress = mass * road.rms / joint.area
        damage += road.damage(road_stress, line)
    return JointLife(joint, slam_stress, slams, road_stress, damage)
