"""Numbers that nothing can be made of are refused as the file is read: field, limit and value."""

from __future__ import annotations

import pytest

from geometries import InvalidInput
from motor import Polynomial, Table, starter
from motor.design.reading import design_from_toml, design_to_toml

BASE = design_to_toml(starter("outside-magnet"))
OWN = """
[[materials.own_steels]]
name = "mine"
density = "7850 kg/m**3"
flux_density_T = {b}
field_A_per_m = {h}
{more}
"""
B, H = "[0.5, 1.0, 1.5, 1.8, 2.0]", "[100, 200, 1500, 8000, 30000]"
MOVING = '[moving_parts]\nmass = "11 g"\narea = "137 cm**2"\n'
LONG = "1" + "0" * 400


def own_steel(b: str = B, h: str = H, more: str = "") -> str:
    lines = [
        'steel = "mine"' if line.startswith("steel = ") else line for line in BASE.splitlines()
    ]
    return "\n".join(lines) + OWN.format(b=b, h=h, more=more)


def moving(stiffness: str, more: str = "") -> str:
    return f"{BASE}\n{MOVING}stiffness = {stiffness}\n{more}\n"


def price(value: str) -> str:
    return f"{BASE}\n[materials.prices]\nY33 = {value}\n"


CASES = {
    "price endless": (price("inf"), "materials.prices.Y33 must be a finite number; received inf"),
    "price no number": (price("nan"), "materials.prices.Y33 must be a finite number"),
    "price below 0": (price("-1"), "prices.Y33 must be greater than 0 and at most 1e+09 per kg"),
    "price of 401 digits": (price(LONG), "materials.prices.Y33 must be a number of at most 64"),
    "layers of 5000 digits": (
        BASE.replace("layers = 2", "layers = 0x" + "f" * 5000),
        "coil.layers must be a number of at most 64 bits",
    ),
    "steel row endless": (own_steel(h=H.replace("30000", "inf")), "must be a finite number"),
    "steel row of 100 T": (
        own_steel(b=B.replace("2.0", "100")),
        "steel mine, row 5 must have B of at most 6 T; received 100 T",
    ),
    "steel row of 1e300 A/m": (
        own_steel(h=H.replace("30000", "1e300")),
        "steel mine, row 5 must have H of at most 5e+06 A/m; received 1e+300 A/m",
    ),
    "steel too soft": (
        own_steel(h=H.replace("100,", "1e-9,")),
        "steel mine, row 1 must rise by a relative permeability of at most 1e+06",
    ),
    "saturation of 1e300 T": (
        own_steel(more='saturation = "1e300 T"'),
        "[materials.own_steels] saturation must be at most 1e+15 T",
    ),
    "saturation of 50 T": (own_steel(more='saturation = "50 T"'), "T and 3 T; received 50 T"),
    "saturation passed": (own_steel(more='saturation = "1 T"'), "and 3 T; received 1 T"),
    "steel price": (own_steel(more="price = -1"), "price must be between 0 and 1e+09; received -1"),
    "steel conductivity": (
        own_steel(more='conductivity = "-1 S/m"'),
        "conductivity must be between 0 S/m and 100000000 S/m; received -1 S/m",
    ),
    "steel coercivity": (
        own_steel(more='coercivity = "0 A/m"'),
        "coercivity must be between 0.0001 kA/m and 100 kA/m; received 0 kA/m",
    ),
    "stiffness tiny": (
        moving('"0.01 N/mm"'),
        "stiffness must be between 0.02 N/mm and 1000 N/mm; received 0.01 N/mm",
    ),
    "losses great": (
        moving('"1 N/mm"', 'mechanical_resistance = "120 kg/s"'),
        "mechanical_resistance must be between 0.0001 kg/s and 100 kg/s; received 120 kg/s",
    ),
    "x far": (
        moving("{ x_mm = [-1e308, -4, 0, 4, 8], values_N_per_mm = [2, 1.4, 1.1, 1.3, 1.9] }"),
        "table must have displacements of at most 1000 mm; received -1e+308 mm",
    ),
    "values great": (
        moving("{ x_mm = [-8, -4, 0, 4, 8], values_N_per_mm = [1e300, 1.4, 1.1, 1.3, 1.9] }"),
        "table must hold values of at most 1e+15 in SI units",
    ),
    "polynomial far": (
        moving("{ coefficients_N_per_mm = [1.15, 0.0, 0.01], range_mm = [-1e300, 8] }"),
        "range must end within 1000 mm",
    ),
    "comma": (
        BASE.replace('gap_width = "', 'gap_width = "1,65 mm" # "'),
        "with a decimal point and no comma; received '1,65 mm'",
    ),
}


@pytest.mark.parametrize("case", CASES)
@pytest.mark.filterwarnings("error")
def test_number_is_refused_with_field_limit_and_value(case: str) -> None:
    text, expected = CASES[case]
    with pytest.raises(InvalidInput) as caught:
        design_from_toml(text)
    message = str(caught.value)
    assert expected in message
    assert len(message) < 400


def test_own_steel_that_can_be_is_read() -> None:
    assert design_from_toml(own_steel(more='saturation = "2.1 T"')).materials.steel is not None


def test_polynomial_may_hold_everywhere() -> None:
    assert Polynomial((1000.0, 0.0, 1e6)).is_constant is False
    with pytest.raises(InvalidInput, match="greater than 0"):
        Polynomial((1.0, 0.0, -1e9), -0.01, 0.01).demand_positive("stiffness")
    with pytest.raises(InvalidInput, match="displacements of at most 1000 mm"):
        Table((-5.0, 0.0, 1.0, 2.0), (1.0, 1.0, 1.0, 1.0))


def test_prices_below_one_are_prices() -> None:
    assert design_from_toml(price("0.4")).materials.prices["Y33"] == 0.4
