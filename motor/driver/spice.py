"""The driver in its box as a behavioural sub-circuit in plain SPICE syntax.

Mobility analogy: node voltage is velocity, current is force; displacement in mm is the voltage
of a node of its own, and so is the flux linkage in mWb where the inductance depends on x.
Box pressure is a node voltage in Pa, volume flow a current in m^3/s.
"""

from __future__ import annotations

import math
import re

from geometries import InvalidInput
from motor.base.program import stamp
from motor.design.characteristic import Characteristic
from motor.driver.hand_over import FittedPolynomial, fit_polynomial
from motor.driver.parts import System

__all__ = ["spice_subcircuit"]

DEGREE = 10
HUGE = 1e12
"""Ohm across capacitors, for their operating point."""


def _number(value: float) -> str:
    return f"{value:.10g}"


def _polynomial(curve: Characteristic, low: float, high: float) -> FittedPolynomial:
    if curve.is_constant:
        return fit_polynomial(curve, degree=0, low=low, high=high)
    return fit_polynomial(curve, degree=DEGREE, low=low, high=high)


def _expression(fit: FittedPolynomial, *, slope: bool = False) -> str:
    """Return the polynomial in Horner's form over the held displacement V(xh) in mm."""
    terms = [c * 1e-3**k for k, c in enumerate(fit.polynomial.coefficients)]
    if slope:
        terms = [1e3 * k * c for k, c in enumerate(terms)][1:] or [0.0]
    text = _number(terms[-1])
    for term in terms[-2::-1]:
        text = f"({_number(term)}+V(xh)*{text})"
    return text


def spice_subcircuit(
    system: System, *, name: str = "driver", low: float | None = None, high: float | None = None
) -> str:
    """Return a sub-circuit with the ports plus, minus, x (mm) and v (m/s).

    Parameters
    ----------
    system : System
        The amplifier's output resistance is included; its clip is not.
    name : str
        Letters, digits and underscores.
    low, high : float or None
        Range of x in metres over which the polynomials are fitted; needed where Bl, K and L are
        known everywhere or nowhere near; None for the known range.  Outside, the values at its
        ends are held, and the result means nothing.
    """
    if not re.fullmatch(r"[A-Za-z][A-Za-z0-9_]*", name):
        raise InvalidInput("name", "be a letter, then letters, digits or _", repr(name))
    driver, box = system.driver, system.box
    known = driver.known
    low = max(known[0], -0.03) if low is None else low
    high = min(known[1], 0.03) if high is None else high
    bl, k = _polynomial(driver.bl, low, high), _polynomial(driver.k, low, high)
    lines = [
        f"* {' '.join(driver.name.split())}: {'infinite baffle' if box is None else box.kind}",
        f"* {stamp()}",
        "* caution: loud sound damages hearing; coils and amplifiers carry currents that burn",
        f"* holds for x from {low * 1e3:.6g} to {high * 1e3:.6g} mm",
        f"* largest fit error: Bl {bl.relative_error:.2%}, K {k.relative_error:.2%} of rest",
        f".subckt {name} plus minus x v",
        f"Re plus a {_number(system.resistance)}",
        "Vi a b 0",
    ]
    inductance = driver.le
    emf = f"{_expression(bl)}*V(v)"
    reluctance = ""
    if not inductance.is_constant:
        le = _polynomial(inductance, low, high)
        lines += [
            f"* L(x): fit error {le.relative_error:.2%} of rest; V(f) is the flux linkage in mWb",
            f"Bl b c I=1e-3*V(f)/{_expression(le)}",
            "Bf 0 f I=V(b,c)",
            "Cf f 0 1e-3",
            f"Rf f 0 {HUGE:g}",
        ]
        reluctance = f"+0.5*I(Vi)*I(Vi)*{_expression(le, slope=True)}"
    elif inductance.at_rest:
        lines.append(f"Le b c {_number(inductance.at_rest)}")
    else:
        lines.append("Vl b c 0")
    lines += [
        f"Be c minus V={emf}",
        f"Cm v 0 {_number(driver.mass)}",
        f"Rm v 0 {_number(1 / driver.mechanical_resistance)}",
        f"Bm 0 v I={_expression(bl)}*I(Vi){reluctance}-1e-3*V(x)*{_expression(k)}"
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
    if not all(math.isfinite(fit.error) for fit in (bl, k)):
        raise InvalidInput("range", "give finite polynomials", f"{low} to {high} m")
    return "\n".join(lines) + "\n"
