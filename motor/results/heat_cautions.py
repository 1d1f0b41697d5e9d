"""What a warm driver is warned of or refused: limits passed, peaks clipped, coils charred."""

from __future__ import annotations

from collections.abc import Sequence

from geometries import InvalidInput, Role
from motor.base.constants import ZERO_CELSIUS
from motor.design.design import HOTTEST, Design
from motor.field.heat_mesh import WINDING
from motor.results.heat_limits import CHARRED, HeatLimit, allowed, hottest_of
from motor.results.heat_model import HeatModel, Settled
from motor.results.heat_time import Programme

__all__ = ["bearable", "clipping", "passed"]


def passed(limits: Sequence[HeatLimit]) -> list[str]:
    """Return a caution for each limit that is passed."""
    return [
        f"{limit.name} at {limit.temperature - ZERO_CELSIUS:.0f} degC passes the "
        f"{limit.limit - ZERO_CELSIUS:.0f} degC that it bears ({limit.power:.3g} W bring "
        "it there)"
        for limit in limits
        if limit.temperature > limit.limit
    ]


def clipping(model: HeatModel, power: float, programme: Programme) -> list[str]:
    """Return a caution where a programme of a power in W peaks past what the amplifier gives."""
    amplifier, volts = model.design.amplifier, model.voltage(power)
    peak = programme.peak * volts
    if amplifier is None or amplifier.clip is None or peak <= amplifier.clip:
        return []
    return [
        f"{power:g} W of this programme peak at {peak:.3g} V, past the amplifier's "
        f"{amplifier.clip:g} V: it clips, which is not reckoned"
    ]


def bearable(warmth: HeatModel, settled: Settled, design: Design, power: float) -> None:
    """Refuse temperatures at which nothing that is computed here exists any more."""
    coil = hottest_of(warmth, settled.state, WINDING)
    wire = allowed(warmth, "wire", design.heat.wire_class, None, 10.0)
    if coil > CHARRED:
        raise InvalidInput(
            "power",
            f"keep the coil below {CHARRED - ZERO_CELSIUS:.0f} degC, where enamel and "
            "adhesive are gone "
            f"({wire:.3g} W bring it to its wire's class)",
            f"{power:.4g} W",
        )
    for region in design.regions:
        if region.role is Role.MAGNET:
            curie = min(design.materials.magnet_of(region.name).curie, HOTTEST)
            if hottest_of(warmth, settled.state, region.name) >= curie:
                raise InvalidInput(
                    "power",
                    f"keep {region.name} below {curie - ZERO_CELSIUS:.0f} degC, where its magnet's "
                    f"Curie temperature or the range of its values ends ({wire:.3g} W bring the "
                    "coil to its wire's class)",
                    f"{power:.4g} W",
                )
