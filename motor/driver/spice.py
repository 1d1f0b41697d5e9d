"""The driver in its box as a behavioural sub-circuit in plain SPICE syntax.

Mobility analogy: node voltage is velocity, current is force; displacement in mm is the voltage
of a node of its own, and so is the flux linkage in mWb where the inductance depends on x, and
the state of each mode of an inductance with eddy currents (:mod:`motor.driver.lossy`).
Box pressure is a node voltage in Pa, volume flow a current in m^3/s.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

import numpy as np
from scipy.interpolate import CubicSpline

from geometries import InvalidInput
from geometries.words import one_line
from motor.base.program import stamp
from motor.design.characteristic import Characteristic, Table
from motor.driver.lossy import LossyInductance
from motor.driver.parts import DriverSystem

__all__ = ["spice_subcircuit"]

HUGE = 1e12
"""Ohm across capacitors, for their operating point."""
CLOSE = 2e-4
"""Of the value at rest: how near the pieces come to a curve, if the most of them can."""
MOST = 64
"""Cubic pieces to each side of rest."""
SAMPLES = 2001


def _number(value: float) -> str:
    return f"{value:.12g}"


@dataclass(frozen=True)
class _Pieces:
    """A curve as cubic pieces over x in mm, in its SI unit; exact at rest.

    c0 + c1 d + c2 d^2 + c3 d^3 with d = x - low, and beyond each knot a cube more:
    one expression of sums, products, max and pow, which every simulator reads.
    """

    low: float
    first: tuple[float, ...]
    knots: tuple[tuple[float, float], ...]
    relative_error: float

    def expression(self) -> str:
        """Return the curve over the held displacement V(xh)."""
        if not any(self.first[1:]) and not self.knots:
            return _number(self.first[0])
        c, d = self.first, f"(V(xh)-({_number(self.low)}))"
        text = (
            f"({_number(c[0])}+{d}*({_number(c[1])}+{d}*({_number(c[2])}+{d}*({_number(c[3])}))))"
        )
        return "(" + "".join([text, *(self._cube(*knot, 1.0, 3) for knot in self.knots)]) + ")"

    def slope(self) -> str:
        """Return the curve's derivative by x in metres over V(xh)."""
        c, d = self.first, f"(V(xh)-({_number(self.low)}))"
        text = f"({_number(1e3 * c[1])}+{d}*({_number(2e3 * c[2])}+{d}*({_number(3e3 * c[3])})))"
        return "(" + "".join([text, *(self._cube(*knot, 3e3, 2) for knot in self.knots)]) + ")"

    @staticmethod
    def _cube(place: float, jump: float, times: float, power: int) -> str:
        return f"+({_number(times * jump)})*pow(max(0,V(xh)-({_number(place)})),{power})"


def _pieces(curve: Characteristic, low: float, high: float, scale: float | None = None) -> _Pieces:
    """Return as few pieces as come close enough to a curve between two displacements in metres.

    Close for the scale; None for the value at rest.
    """
    if curve.is_constant:
        return _Pieces(0.0, (float(curve.at_rest), 0.0, 0.0, 0.0), (), 0.0)
    x = np.linspace(low, high, SAMPLES)
    values, rest = curve(x), abs(float(curve.at_rest)) if scale is None else scale
    for count in (4, 8, 16, 32, MOST):
        knots = np.union1d(np.linspace(low, 0.0, count + 1), np.linspace(0.0, high, count + 1))
        spline = CubicSpline(knots, curve(knots))
        error = float(np.abs(spline(x) - values).max()) / rest
        if error < CLOSE:
            break
    first = tuple(float(v) for v in spline.c[::-1, 0] * 1e-3 ** np.arange(4))
    jumps = np.diff(spline.c[0]) * 1e-9
    places = zip((knots[1:-1] * 1e3).tolist(), jumps.tolist(), strict=True)
    return _Pieces(low * 1e3, first, tuple(places), error)


def _lossy(lossy: LossyInductance, low: float, high: float) -> tuple[list[str], str]:
    """Return the lines of an inductance with eddy currents, and its force as an expression.

    Each mode is a node whose voltage is its state: 1 ohm across its time constant in farad.
    """
    scale = float(np.sqrt((lossy.coupling**2).sum(axis=1).max()))
    x = tuple(lossy.position.tolist())
    parts = [
        _pieces(Table(x, tuple(column.tolist())), low, high, scale) for column in lossy.coupling.T
    ]
    instant = _pieces(lossy.instantaneous, low, high)
    numbers = range(1, len(parts) + 1)
    lines = [
        f"* inductance with eddy currents at small currents, in {len(parts)} modes: largest error "
        f"over rest {max([instant, *parts], key=lambda p: p.relative_error).relative_error:.3%}",
        "* V(f) is the flux linkage in mWb, V(a1) and so on the modes' states in square roots of J",
    ]
    for k, part, tau in zip(numbers, parts, lossy.time_constant.tolist(), strict=True):
        lines += [
            f"Bc{k} c{k} 0 V={part.expression()}",
            f"Bg{k} g{k} 0 V={part.slope()}",
            f"Ba{k} 0 a{k} I=V(c{k})*I(Vi)",
            f"Ca{k} a{k} 0 {_number(tau)}",
            f"Ra{k} a{k} 0 1",
        ]
    linked, pulled = ("+".join(f"V({w}{k})*V(a{k})" for k in numbers) or "0" for w in "cg")
    lines += [
        f"Bs s 0 V={linked}",
        f"Bg g 0 V={pulled}",
        f"Bl b c I=(1e-3*V(f)-V(s))/{instant.expression()}",
        "Bf 0 f I=V(b,c)",
        "Cf f 0 1e-3",
        f"Rf f 0 {HUGE:g}",
    ]
    return lines, f"+I(Vi)*(V(g)+0.5*I(Vi)*{instant.slope()})"


def spice_subcircuit(
    system: DriverSystem,
    *,
    name: str = "driver",
    low: float | None = None,
    high: float | None = None,
) -> str:
    """Return a sub-circuit with the ports plus, minus, x (mm) and v (m/s).

    Parameters
    ----------
    system : DriverSystem
        The amplifier's output resistance is included; its clip is not.
    name : str
        Letters, digits and underscores.
    low, high : float or None
        Range of x in metres over which the curves are given; needed where Bl, K and L are
        known everywhere or nowhere near; None for the known range.  Outside, the values at its
        ends are held, and the result means nothing.
    """
    if not re.fullmatch(r"[A-Za-z][A-Za-z0-9_]*", name):
        raise InvalidInput("name", "be a letter, then letters, digits or _", repr(name))
    driver, box = system.driver, system.box
    known = driver.known
    low = max(known[0], -0.03) if low is None else low
    high = min(known[1], 0.03) if high is None else high
    if not (math.isfinite(low) and math.isfinite(high) and low < 0 < high):
        raise InvalidInput("range", "have two finite ends about 0", f"{low} to {high} m")
    driver.bl.demand("range", low, high)
    bl, k = _pieces(driver.bl, low, high), _pieces(driver.k, low, high)
    lines = [
        f"* {one_line(driver.name)}: {'infinite baffle' if box is None else box.kind}",
        f"* {stamp()}",
        "* caution: loud sound damages hearing; coils and amplifiers carry currents that burn",
        f"* holds for x from {low * 1e3:.6g} to {high * 1e3:.6g} mm",
        f"* largest error over rest: Bl {bl.relative_error:.3%}, K {k.relative_error:.3%}",
        f".subckt {name} plus minus x v",
        f"Re plus a {_number(system.resistance)}",
        "Vi a b 0",
    ]
    inductance = driver.le
    reluctance = ""
    if driver.lossy is not None:
        modes, reluctance = _lossy(driver.lossy, low, high)
        lines += modes
    elif not inductance.is_constant:
        le = _pieces(inductance, low, high)
        lines += [
            f"* L(x): error {le.relative_error:.3%} of rest; V(f) is the flux linkage in mWb",
            f"Bl b c I=1e-3*V(f)/{le.expression()}",
            "Bf 0 f I=V(b,c)",
            "Cf f 0 1e-3",
            f"Rf f 0 {HUGE:g}",
        ]
        reluctance = f"+0.5*I(Vi)*I(Vi)*{le.slope()}"
    elif inductance.at_rest:
        lines.append(f"Le b c {_number(inductance.at_rest)}")
    else:
        lines.append("Vl b c 0")
    lines += [
        f"Bbl bl 0 V={bl.expression()}",
        "Be c minus V=V(bl)*V(v)",
        f"Cm v 0 {_number(driver.mass)}",
        f"Rm v 0 {_number(1 / driver.mechanical_resistance)}",
        f"Bm 0 v I=V(bl)*I(Vi){reluctance}-1e-3*V(x)*{k.expression()}"
        + (f"+{_number(driver.area)}*V(p)" if box is not None else ""),
        "Cx x 0 1e-3",
        f"Rx x 0 {HUGE:g}",
        "Bx 0 x I=V(v)",
        f"Bh xh 0 V=max({low * 1e3:.10g},min({high * 1e3:.10g},V(x)))",
    ]
    if box is not None:
        leak = box.leak_conductance
        lines += [
            f"Cp p 0 {_number(box.compliance)}",
            f"Rp p 0 {_number(1 / leak if leak else HUGE)}",
            f"Bp p 0 I={_number(driver.area)}*V(v)",
        ]
        if box.port_mass is not None:
            lines.append(f"Lp p 0 {_number(box.port_mass)}")
    lines.append(f".ends {name}")
    return "\n".join(lines) + "\n"
