"""The driver's figures as text, for the terminal."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from motor.base.constants import ZERO_CELSIUS
from motor.base.errors import InvalidInput
from motor.driver.alignments import sealed_alignments, vented_alignment
from motor.driver.distortion import CleanLimits, DistortionMap
from motor.driver.lossy import LE_FREQUENCY, LossyInductance, Loud
from motor.driver.measured import BlComparison
from motor.driver.parts import Driver, DriverSystem
from motor.driver.run import SteelBand
from motor.driver.small_signal import SmallSignal
from motor.driver.steady import SteadyState
from motor.driver.thermal_network import with_inductance
from motor.driver.transient import Motion
from motor.field.heat_mesh import WINDING
from motor.report.tables.remarks import known

if TYPE_CHECKING:
    from motor.results.heat import Warmth

__all__ = [
    "CAUTION",
    "alignment_text",
    "band_text",
    "clean_text",
    "heat_text",
    "inductance_text",
    "map_text",
    "measured_text",
    "motion_text",
    "parts_text",
]

CAUTION = (
    "Caution: loud sound damages hearing, coils get hot enough to burn, amplifiers carry high "
    "currents. Follow local rules and qualified practice when testing."
)
HEARD_PORT = 17.0
"""m/s, from which a port's air is heard; common practice, no source."""


def parts_text(parts: SmallSignal) -> str:
    """Return the small-signal parameters, one a line."""
    return "\n".join(f"{name:<22}{value:>10.4g} {unit}" for name, value, unit in parts.rows())


def inductance_text(driver: Driver, seconds: float = 0.0) -> str:
    """Return where the driver's inductance comes from, and how long that took."""
    if driver.inductance_source == "computed":
        what = f"L(x) at {LE_FREQUENCY:g} Hz, without losses,"
        if driver.lossy is not None:
            what = f"over displacement and frequency, in {len(driver.lossy.time_constant)} modes,"
            if driver.lossy.saturation is not None:
                what += " with the steel's saturation by the current,"
        return _saturation_text(driver) + (
            f"inductance: {what} from the motor's field, since the design gives none "
            f"({seconds:.1f} s; --inductance none leaves it out); Le above is that at "
            f"{LE_FREQUENCY:g} Hz; motor inductance shows others and the uncertainty"
        )
    return {
        "given": "inductance: as the design gives it",
        "none": "inductance: none given and none computed, so the coil counts as a resistance and "
        "levels and distortion above some 100 Hz are too favourable",
    }[driver.inductance_source]


def _loud_text(loud: Loud | None) -> str:
    """Return how permeable steel counts as for distortion, as a line."""
    if loud is None:
        return ""
    return (
        f"steel: at {loud.current:.3g} A peak and {loud.frequency:g} Hz its reluctivity has "
        f"{loud.share:.0%} of what minor loops add to that of its magnetising curve; distortion is "
        "computed with that, response and impedance for small currents, with all of it\n"
    )


def _saturation_text(driver: Driver) -> str:
    """Return what a large current does to Bl, as a line; nothing where that is not known."""
    lossy = driver.lossy
    law = None if lossy is None else lossy.saturation
    if lossy is None or law is None:
        return ""
    shares = zip(*law.change_of_bl(np.array([lossy.low, 0.0, lossy.high])), strict=True)
    inward, rest, outward = (
        f"{known(100 * share, 100 * doubt)} ± {100 * doubt:.1g} %" for share, doubt in shares
    )
    return _loud_text(lossy.loud) + (
        f"Bl(x, i): a current of {law.largest:.3g} A changes Bl by {rest} at rest, {inward} and "
        f"{outward} at the ends of the travel, as the mean of both signs; their difference is the "
        "reluctance force, which comes from the inductance\n"
    )


def alignment_text(parts: SmallSignal) -> str:
    """Return the box suggestions, one a line."""
    found = sealed_alignments(parts)
    note = ""
    try:
        found.append(vented_alignment(parts))
    except InvalidInput as error:
        note = f"no vented box: {error}"
    lines = [
        f"{a.box.kind:<7} {a.name:<18} {a.box.volume * 1e3:7.1f} l  "
        f"-3 dB at {a.cutoff:5.1f} Hz  {a.remark}"
        for a in found
    ]
    if not found:
        lines = ["no classic alignment suits this Qts"]
    return "\n".join([*lines, note]) if note else "\n".join(lines)


def map_text(system: DriverSystem, found: DistortionMap) -> str:
    """Return worst distortion and travel at each level, and the findings."""
    lines = []
    for j, voltage in enumerate(found.voltage):
        states = found.at_level(j)
        if not states:
            lines.append(f"{voltage:6.3g} V: no steady motion within the known range")
            continue
        worst, far = max(states, key=lambda s: s.thd), max(states, key=lambda s: s.peak)
        shift = round(far.shift * 1e3, 2) + 0.0
        lines.append(
            f"{voltage:6.3g} V: distortion up to {worst.thd:6.2%} at "
            f"{worst.frequency[1]:.3g} Hz, travel up to {far.peak * 1e3:.3g} mm at "
            f"{far.frequency[1]:.3g} Hz, mean displacement there {shift:+.2f} mm"
            f"{_port_text(found.fastest_port(j))}"
        )
    seen: dict[str, tuple[float, str]] = {}
    for finding in found.findings:
        if finding.kind not in seen or finding.voltage < seen[finding.kind][0]:
            seen[finding.kind] = (finding.voltage, finding.text)
    lines += [f"finding ({kind}), lowest level: {text}" for kind, (_, text) in seen.items()]
    return "\n".join(lines)


def _port_text(state: SteadyState | None) -> str:
    """Return the largest speed of the port's air, empty where no port is known."""
    if state is None or state.port_speed is None:
        return ""
    heard = ", which is heard" if state.port_speed > HEARD_PORT else ""
    at = f"{state.frequency[1]:.3g} Hz"
    return f", air in the port up to {state.port_speed:.3g} m/s at {at}{heard}"


def _within(band: SteelBand) -> str:
    if band.within is None:
        return "what it does within a period is not known, since its rounds do not settle"
    return f"{band.within:6.2%} with what it does within a period"


def band_text(band: Sequence[SteelBand]) -> str:
    """Return what the steel leaves open of the distortion, a line a tone."""
    return "\n".join(
        f"{b.voltage:6.3g} V, {b.frequency:3.0f} Hz: distortion {b.thd:6.2%}; "
        f"{b.loops:6.2%} with steel on small minor loops, {b.curve:6.2%} on its magnetising curve; "
        f"{_within(b)}; at most {b.most:6.2%}"
        for b in band
    ) + (
        "\nthe sines above and the clean levels below leave out what steel does within a period; "
        "these tones tell what that is worth, and other tones have no bound"
        if band
        else ""
    )


def clean_text(limits: CleanLimits) -> str:
    """Return the loudest clean level at each frequency."""
    return "\n".join(
        f"{x.frequency:7.1f} Hz {x.level:7.1f} dB  {x.voltage:6.2f} V  {x.peak * 1e3:6.2f} mm  "
        f"limited by {x.limited_by}"
        for x in limits.limits
    )


def heat_text(warm: Warmth, inductance: LossyInductance | None = None) -> str:
    """Return where coil and magnets settle, and what that does to level and Bl at rest."""
    cold, bl = warm.result.bl_curve.at_rest.value, warm.bl_at_rest.value
    largest, why = warm.largest_power
    lines = [
        f"{warm.power:.3g} W into the cold coil ({warm.settled.heat:.3g} W warm): coil "
        f"{warm.coil.value - ZERO_CELSIUS:.0f} degC, its hottest turn "
        f"{warm.hottest(WINDING).value - ZERO_CELSIUS:.0f} degC, magnet "
        f"{warm.magnet.value - ZERO_CELSIUS:.0f} degC",
        f"Bl at rest {bl:.3f} T m with the magnets that warm, {cold:.3f} T m as designed; level "
        f"{warm.compression:+.2f} dB from resistance and Bl",
        f"largest lasting power {largest.value:.3g} W, limited by {why}; motor heat tells more",
    ]
    if spared := with_inductance(warm, inductance):
        rules = warm.design.heat
        lines.append(
            f"of noise from {rules.lowest_frequency:g} to {rules.highest_frequency:g} Hz the "
            f"inductance keeps some off: coil {spared.coil - ZERO_CELSIUS:.0f} degC, motor "
            f"{spared.motor - ZERO_CELSIUS:.0f} degC, {spared.power:.3g} W in the coil and "
            f"{spared.motor_power:.2g} W in steel and rings (two bodies)"
        )
    return "\n".join(lines)


def measured_text(found: BlComparison) -> str:
    """Return how far a measured Bl(x) lies from the computed one."""
    fit = found.fit
    return (
        f"fits the computed one with gain {fit.gain:.4f} ± {fit.gain_error:.4f}, coil resting "
        f"{fit.offset * 1e3:+.3f} ± {fit.offset_error * 1e3:.3f} mm further out than drawn, "
        f"scatter {fit.scatter:.2g} T m; {found.at_rest:+.1%} at rest, largest difference "
        f"{found.largest:.1%}"
    )


def motion_text(motion: Motion) -> str:
    """Return how far a signal moves the coil."""
    end = "" if motion.left_range is None else f"; left the range at {motion.left_range:.4g} s"
    return f"inwards {motion.inward * 1e3:.3g} mm, outwards {motion.outward * 1e3:.3g} mm{end}"
