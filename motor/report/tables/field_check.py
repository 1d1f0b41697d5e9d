"""The driver's model beside its field: text and record."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from motor.base.program import origin

if TYPE_CHECKING:
    from motor.driver.field_check import FieldCheck
    from motor.driver.steady import SteadyState

__all__ = ["field_check_record", "field_check_text"]

COLUMNS = (
    ("level dB", 9, "{:.2f}"),
    ("THD %", 8, "{:.3f}"),
    ("2nd %", 8, "{:.3f}"),
    ("3rd %", 8, "{:.3f}"),
    ("travel mm", 10, "{:.3f}"),
    ("mean mm", 9, "{:+.3f}"),
    ("current A", 10, "{:.3f}"),
)


def _figures(state: SteadyState) -> tuple[float, ...]:
    return (
        state.level,
        100 * state.thd,
        100 * state.harmonic(2),
        100 * state.harmonic(3),
        1e3 * state.peak,
        1e3 * state.shift,
        float(abs(state.current[1])),
    )


def field_check_text(name: str, found: Sequence[FieldCheck]) -> str:
    """Return each tone as lines, the field first."""
    head = " " * 22 + "".join(f"{title:>{width}}" for title, width, _ in COLUMNS)
    lines = [f"{name}: the whole field in time, and models in modes"]
    for one in found:
        tone = f"{one.field.drive.frequency:g} Hz, {one.field.voltage:g} V r.m.s."
        lines.append(
            f"\n{tone}: minor loops add {one.share:.0%} of what they add at small currents; "
            f"{one.periods} periods, {one.unknowns} unknowns; distortion changed by "
            f"{100 * one.change:.1g} % of the sound in the last; energy adds up to "
            f"{one.imbalance:.0e}\n{head}"
        )
        for words, state in one.states.items():
            cells = zip(COLUMNS, _figures(state), strict=True)
            lines.append(
                f"{words:<22}"
                + "".join(f"{form.format(v):>{width}}" for (_, width, form), v in cells)
            )
    return "\n".join([*lines, ""])


def field_check_record(name: str, found: Sequence[FieldCheck]) -> dict[str, Any]:
    """Return the record under names that carry their unit."""
    keys = (
        "level_dB",
        "thd_percent",
        "second_percent",
        "third_percent",
        "travel_mm",
        "mean_displacement_mm",
        "current_A",
    )
    return {
        **origin(),
        "name": name,
        "tones": [
            {
                "frequency_Hz": one.field.drive.frequency,
                "voltage_V": one.field.voltage,
                "minor_loop_share": one.share,
                "periods": one.periods,
                "unknowns": one.unknowns,
                "distortion_change_percent": 100 * one.change,
                "energy_imbalance": one.imbalance,
                "states": [
                    {"what": words, **dict(zip(keys, _figures(state), strict=True))}
                    for words, state in one.states.items()
                ],
            }
            for one in found
        ],
    }
