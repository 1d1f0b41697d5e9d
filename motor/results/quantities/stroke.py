"""Figures of stroke: how far the coil may move, by which limit."""

from __future__ import annotations

import functools
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from motor.base.quantity import Line, Quantity

if TYPE_CHECKING:
    from motor.results.motor_result import MotorResult

__all__ = ["STROKE"]

SECTION = "Stroke, one-way"


def _limit(name: str, result: MotorResult) -> float | None:
    limit = result.stroke_limits.get(name)
    return None if limit is None else limit.value


def _stroke(share: int, side: str, result: MotorResult) -> Any:
    return getattr(result.stroke_82 if share == 82 else result.stroke_70, side)


def _strokes() -> Iterator[Quantity[MotorResult]]:
    """Yield the strokes to 82 % and to 70 % of Bl, symmetric and to either side."""
    for share in (82, 70):
        yield Quantity(
            name=f"stroke_{share}",
            unit="mm",
            words=f"stroke to {share} % of Bl",
            read=functools.partial(_stroke, share, "symmetric"),
            uncertain=True,
            material=share == 82,
            criterion=f"the smaller of both sides, where Bl has fallen to {share} % of its rest "
            "value",
            better="more",
            offered=4,
            hover=share == 82,
            line=Line(SECTION, f"Bl falls to {share} %", 3),
            live=f"stroke_{share}",
            slope="field",
            slope_factor=1.3,
            kind="length",
        )
        for side in ("inward", "outward"):
            yield Quantity(
                name=f"stroke_{share}_{side}",
                unit="mm",
                words=f"stroke to {share} % of Bl, {side}",
                read=functools.partial(_stroke, share, side),
                uncertain=True,
                better="more",
                slope="field",
                slope_factor=1.3,
                kind="length",
            )


STROKE: tuple[Quantity[MotorResult], ...] = (
    *_strokes(),
    Quantity(
        name="overhang",
        unit="mm",
        words="overhang",
        read=lambda r: r.design.overhang,
        criterion="(winding height - gap depth) / 2",
        better="more",
        offered=4,
        line=Line(SECTION, "geometric overhang", 3),
        live="overhang",
        slope="parts",
    ),
    Quantity(
        name="overhang_stroke",
        unit="mm",
        words="overhang less the rest offset",
        read=functools.partial(_limit, "overhang"),
    ),
    Quantity(
        name="compliance_stroke",
        unit="mm",
        words="stroke to 75 % of compliance",
        read=functools.partial(_limit, "compliance"),
        better="more",
        line=Line(SECTION, "compliance at 75 %", 3),
    ),
    Quantity(
        name="inductance_stroke",
        unit="mm",
        words="stroke to 10 % change of inductance",
        read=functools.partial(_limit, "inductance"),
        better="more",
        line=Line(SECTION, "inductance changed by 10 %", 3),
    ),
    Quantity(
        name="mechanical_limit",
        unit="mm",
        words="mechanical limit",
        read=lambda r: r.travel.limit,
        better="more",
        offered=4,
        line=Line(SECTION, "", 3),
        live="mechanical",
        slope="parts",
        rings_decide=True,
        kind="length",
    ),
    Quantity(
        name="mechanical_limit_inward",
        unit="mm",
        words="mechanical limit, inward",
        read=lambda r: r.travel.inward,
        better="more",
    ),
    Quantity(
        name="mechanical_limit_outward",
        unit="mm",
        words="mechanical limit, outward",
        read=lambda r: r.travel.outward,
        better="more",
    ),
    Quantity(
        name="usable_stroke",
        unit="mm",
        words="usable linear stroke",
        read=lambda r: r.usable_stroke,
        uncertain=True,
        criterion="the least of the limits that the design's [stroke] names",
        better="more",
        offered=1,
        head=2,
        best="longest usable stroke",
        hover=True,
        line=Line(SECTION, "", 3),
        live="usable",
        slope="field",
        slope_factor=1.3,
        rings_decide=True,
        kind="length",
        target="stroke",
    ),
    Quantity(
        name="usable_stroke_limited_by",
        words="usable stroke limited by",
        read=lambda r: r.usable_stroke.limited_by,
    ),
    Quantity(
        name="best_rest_position",
        unit="mm",
        words="rest position for the longest 82 % stroke",
        read=lambda r: r.best_rest_position[0],
        uncertain=True,
        line=Line(SECTION, "best rest position", form="{:+.2f}"),
    ),
    Quantity(
        name="best_rest_position_stroke_82",
        unit="mm",
        words="82 % stroke from the best rest position",
        read=lambda r: r.best_rest_position[1],
        uncertain=True,
    ),
)
