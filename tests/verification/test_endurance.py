"""Shock spectrum, random shaking and damage against an integrated oscillator and hand sums.

Sources: the shock spectrum of a half sine, at most 1.77 (C. M. Harris and A. G. Piersol, Shock
and Vibration Handbook, chapter 8, from memory); J. W. Miles, Journal of the Aeronautical Sciences
21, 1954, 753-762, by the integral of an oscillator's transfer function; M. A. Miner, Journal of
Applied Mechanics 12, 1945, A159-A164 (from memory), summed by hand.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import quad, solve_ivp

import motor
from motor.results.endurance import Road, Slam, SNLine, endurance
from motor.results.loads import motor_loads
from tests.verification.checks import check, other_route, outside

SPECTRUM = outside("shock spectrum of a half sine (Harris and Piersol, from memory)")
STEPPED = other_route("the oscillator's equation, integrated")
MILES = outside("an oscillator under white acceleration, integrated over frequency (Miles 1954)")
MINER = outside("Miner's sum by hand (Miner 1945)")


@pytest.mark.parametrize("turns", [0.1, 0.4, 0.8, 1.5, 3.7, 10.0])
def test_a_mass_on_a_spring_answers_a_half_sine(turns: float) -> None:
    duration = 6e-3
    omega = 2 * math.pi * turns / duration

    def pushed(t: float, y: np.ndarray) -> list[float]:
        push = math.sin(math.pi * t / duration) if t < duration else 0.0
        return [y[1], -push - omega**2 * y[0]]

    end = duration + 2 * math.pi / omega
    run = solve_ivp(pushed, (0, end), [0, 0], max_step=min(duration, 1 / omega) / 60, rtol=1e-8)
    wanted = float(np.abs(omega**2 * run.y[0]).max())
    found = Slam(1.0, duration, 1).amplification(turns / duration)
    check(f"half sine, {turns:g} periods long", STEPPED, wanted, found, 3e-3)


def test_the_worst_half_sine_is_known() -> None:
    worst = max(Slam(1.0, 1.0, 1).amplification(f) for f in np.linspace(0.3, 3, 400))
    check("largest amplification of a half sine", SPECTRUM, 1.77, worst, 3e-3)
    assert Slam(1.0, 6e-3, 1).amplification(None) == 1.0
    assert Slam(1.0, 1.0, 1).amplification(0.5) == pytest.approx(math.pi / 2)


def test_random_shaking_is_miles_formula() -> None:
    f, q, density = 250.0, 20.0, 2.0

    def transfer(x: float) -> float:
        r, z = x / f, 1 / (2 * q)
        return (1 + (2 * z * r) ** 2) / ((1 - r**2) ** 2 + (2 * z * r) ** 2)

    total = sum(quad(transfer, a, b, limit=200)[0] for a, b in ((0, f), (f, 2 * f), (2 * f, 1e5)))
    road = Road(density, 1.0, f, q)
    wanted, found = math.sqrt(density * total), road.rms
    check("acceleration under a white spectrum (m/s^2)", MILES, wanted, found, 3e-3)
    assert road.damage(0.0, SNLine(1e6)) == 0


def test_damage_adds_up_as_by_hand() -> None:
    loads = motor_loads(motor.solve(motor.starter("inside-magnet")))
    line = SNLine(0.05e6, 1e6, 4.0)
    road = Road(density=4.0, duration=3600.0, resonance=200.0, quality=10.0)
    slam = Slam(700.0, 6e-3, 1e5)
    found = endurance(loads, slam=slam, road=road, resonance=None, line=line)
    joint = loads.forces.joints[0]
    assert joint.pull is not None
    mass = sum(loads.bodies[name].mass for name in joint.outer)
    tension = mass * 700.0 - joint.pull.value + joint.pull.uncertainty
    slams = 1e6 * (0.05e6 * joint.area / max(tension, 1e-12)) ** 4
    # Rayleigh's peaks: the mean of s^4 is 8 rms^4
    rms = mass * math.sqrt(math.pi / 2 * 200 * 10 * 4.0) / joint.area
    hand = 1e5 / slams * (tension > 0) + 3600 * 200 / 1e6 * 8 * (rms / 0.05e6) ** 4
    life = found.lives[joint.between]
    assert life is not None
    check("Miner's sum of slams and road", MINER, hand, life.damage, 1e-9)
