"""Figures that a study adds at the coldest and the hottest temperature of its measure."""

from __future__ import annotations

from typing import TYPE_CHECKING

from motor.base.quantity import Quantity

if TYPE_CHECKING:
    from motor.results.demagnetisation import ThermalCycle

__all__ = ["AT_TEMPERATURE"]


def _lost(cycle: ThermalCycle) -> float:
    return max((m.loss for m in cycle.magnets), default=0.0)


AT_TEMPERATURE: dict[str, tuple[Quantity[ThermalCycle], ...]] = {
    side: (
        Quantity(
            name=f"demag_margin_{side}",
            unit="kA_per_m",
            words=f"margin to the knee, {word}",
            read=lambda cycle: cycle.margin,
            better="more",
            offered=4,
            hover=True,
        ),
        Quantity(
            name=f"bl_{side}",
            unit="Tm",
            words=f"Bl at rest, {word}",
            read=lambda cycle: cycle.there.at_rest.value,
            better="more",
            offered=4,
        ),
        Quantity(
            name=f"remanence_lost_{side}",
            words=f"remanence lost for good, {word}",
            read=_lost,
            better="less",
            offered=4,
        ),
    )
    for side, word in (("cold", "coldest"), ("hot", "hottest"))
}
"""By side, "cold" or "hot"."""
