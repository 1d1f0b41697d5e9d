"""What steel does within a period of a tone, which a model of one permeability leaves out.

The law of the steel (:mod:`motor.field.minor_loops`) is applied to the blocked coil's field of a
sine, instant by instant.  What that leaves over of the linear field's forces is sent through the
linear field again, harmonic by harmonic, until nothing changes: a fixed point in the frequency
domain.  By reciprocity it induces in the coil

    u_k = -i k w 2 pi  (field of 1 A at k w) . (left over at k w),

of which the driver about its motion makes current and sound.  Where rounds diverge, in skins that
saturate deeply, less of each is taken; where they still do not settle the round that moved the
harmonics' voltage least stands if that is next to nothing beside the source, else there is none.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from motor.base.arrays import Complexes
from motor.driver.field_in_loop import FieldLoop
from motor.driver.harmonic_balance import Balance, to_phasors, to_real
from motor.driver.steady import SteadyState
from motor.field.minor_loops import share_at

__all__ = ["corrected"]

ORDERS, INSTANTS = 5, 16
"""Harmonics that are looked at, and instants of a period."""
ROUNDS, SETTLED = 40, 0.02
"""Rounds at most, and the share by which what the harmonics' voltage tends to may change in the
last."""
LEAST, SLOWEST = 0.2, 0.95
"""Least share of a round's change that is taken, where whole ones diverge, and the ratio of changes
beyond which the tendency is not read off them."""
NEAR = 1e-4
"""Least move of the harmonics' voltage over the source's, up to which unsettled rounds will do."""
MOST = 3.0
"""Voltage beside that of the linear field, over that, at which rounds count as diverging."""


def corrected(loop: FieldLoop, state: SteadyState) -> SteadyState | None:
    """Return a motion with what its steel does within the period.

    Parameters
    ----------
    loop : FieldLoop
        On the minor loops of its steel.
    state : SteadyState
        Of the driver without saturation by the coil's current, under a sine.

    Returns
    -------
    SteadyState or None
        None where the rounds neither settle nor come near.
    """
    induced = _induced(loop, state)
    if induced is None:
        return None
    harmonics = len(state.displacement) - 1
    source = np.zeros(harmonics + 1, complex)
    count = min(ORDERS, harmonics)
    source[2 : count + 1] = -induced[2 : count + 1]
    balance = Balance(state.system, state.drive.frequency, harmonics)
    y = np.concatenate([to_real(state.displacement), to_real(state.current)])
    drive, n = to_real(source), balance.size
    jacobian = balance.equations(y, drive)[1]
    change = np.linalg.solve(jacobian, np.concatenate([drive, np.zeros(n)]))
    return replace(
        state,
        displacement=state.displacement + to_phasors(change[:n]),
        current=state.current + to_phasors(change[n:]),
    )


def _induced(loop: FieldLoop, state: SteadyState) -> Complexes | None:
    """Return the voltage of each harmonic beside the linear field's, V peak; None if not found."""
    frequency, current = state.drive.frequency, state.current[1]
    load = loop.load(loop.loads(state.shift))
    local, _ = share_at(loop.harmonic.with_share(1.0), abs(current) * load, frequency)
    linear = loop.harmonic.with_share(local)
    orders = np.arange(1, ORDERS + 1)
    answers = [linear.answering(float(k * frequency)) for k in orders]
    unit = np.array([answer(load) for answer in answers])
    turns = np.exp(2j * math.pi * np.outer(np.arange(INSTANTS), orders) / INSTANTS)
    steel, stiff = loop.steel(loop.rest), linear.stiffness
    wave, before = np.zeros_like(unit), np.zeros(ORDERS, complex)
    wave[0] = unit[0] * current
    rates = 2j * math.pi * frequency * orders * 2 * math.pi
    own = abs(rates[0] * (load @ wave[0]))
    ease, last, told = 1.0, np.zeros(ORDERS, complex), np.zeros(ORDERS, complex)
    least, nearest = NEAR * math.sqrt(2) * state.voltage, None
    for number in range(ROUNDS):
        left = []
        for turn in turns:
            a = (turn @ wave).real
            left.append(loop.steel(loop.rest + a) - steel - (stiff @ a - loop.linear(a)))
        phasors = 2 / INSTANTS * np.fft.fft(np.array(left), axis=0)[1 : ORDERS + 1]
        induced = -rates * np.einsum("kn,kn->k", unit, phasors)
        if not np.linalg.norm(induced) < MOST * own:
            break
        change = induced - before
        size = np.linalg.norm(last[1:])
        ratio = float(np.vdot(last[1:], change[1:]).real / size**2) if size else 0.0
        if size and np.linalg.norm(change[1:]) > size:
            ease, ratio = max(ease / 2, LEAST), 0.0
        ratio = min(max(ratio, 0.0), SLOWEST)
        sooner, told = told, induced + ratio / (1 - ratio) * change
        moved = float(np.linalg.norm((told - sooner)[1:]))
        if moved <= SETTLED * np.linalg.norm(told[1:]):
            return np.concatenate([[0j], told])
        if number > 0 and moved <= least:
            least, nearest = moved, told
        before, last = induced, change
        for k, answer in enumerate(answers):
            whole = (unit[0] * current if k == 0 else 0.0) - answer(phasors[k])
            wave[k] += ease * (whole - wave[k])
    return None if nearest is None else np.concatenate([[0j], nearest])
