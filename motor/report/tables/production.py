"""A tolerance study in words: spread, causes, yield and tests, sampled and by derivatives."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from typing import Any

from motor.report.labels import label_of
from motor.study.guarding import Passed
from motor.study.parameters import TOGETHER
from motor.study.produced import Produced
from motor.study.production import LOT

__all__ = ["cause_words", "production_lines", "production_record", "tests_lines", "yield_lines"]


def cause_words(cause: str, words: Mapping[str, str] | None = None) -> str:
    """Return a cause as people read it; ``words`` of parameters by dotted name."""
    if cause.startswith(LOT):
        return f"lot {cause.removeprefix(LOT).replace('_', ' ')}"
    return TOGETHER.join((words or {}).get(name, name) for name in cause.split(TOGETHER))


def production_lines(found: Produced) -> list[str]:
    """Return the answer, line by line."""
    lines = []
    for scatter in found.sampled:
        if scatter.deviation == 0:
            lines.append(f"{label_of(scatter.name)}: {scatter.mean:.4g}, does not vary")
            continue
        lines.append(
            f"{label_of(scatter.name)}: mean {scatter.mean:.4g}, 95 % of the motors between "
            f"{scatter.low:.4g} and {scatter.high:.4g}; variance mostly from "
            f"{_ranked(scatter.shares)}"
        )
    lines += [f"inside all limits: {100 * t.good:.1f} %" for t in found.tests[:1]]
    lines += tests_lines(found.tests)
    return lines + _beside(found)


def _ranked(shares: Mapping[str, float], beside: Mapping[str, float] | None = None) -> str:
    ranked = sorted(shares.items(), key=lambda item: -item[1])[:3]
    return ", ".join(
        f"{cause_words(name)} {100 * share:.0f} %"
        + (f" ({100 * beside[name]:.0f} %)" if beside else "")
        for name, share in ranked
    )


def tests_lines(tests: tuple[Passed, ...]) -> list[str]:
    """Return what each test does; nothing where limits are tested without an error."""
    return [
        f"test {_guard_words(t.guard)}: {100 * t.passing:.2f} % pass, "
        f"{_share(t.escapes)} pass though outside, {_share(t.rejected)} fail though inside"
        for t in tests
        if len(tests) > 1
    ]


def _guard_words(guard: float | None) -> str:
    if guard is None:
        return "with the guard bands given"
    more = "" if guard == 1 else "s"
    return f"with {guard:g} standard deviation{more}" if guard else "without a guard band"


def _share(share: float) -> str:
    return f"{100 * share:.2f} %" if share >= 1e-3 else f"{1e6 * share:.0f} in a million"


def _beside(found: Produced) -> list[str]:
    if found.beside is None:
        return [f"by derivatives: not possible, {found.refusal}"]
    lines = ["by derivatives, from one solve, shares as sampled in brackets:"]
    for one in found.sampled:
        linear = found.beside.scatters.get(one.name)
        if linear is None or not linear.deviation:
            continue
        apart = found.apart.get(one.name)
        lines.append(
            f"- {label_of(one.name)}: standard deviation {linear.deviation:.3g} (sampled "
            f"{one.deviation:.3g}), variance from {_ranked(linear.shares, one.shares)}"
            + (f"; the two disagree: {apart}" if apart else "")
        )
    return lines + [f"- {line}" for line in yield_lines(found)]


def yield_lines(found: Produced) -> list[str]:
    """Return yield, lots and tests by derivatives."""
    lines = []
    for test in found.tests_beside[:1]:
        apart = "; the two disagree" if found.yields_apart else ""
        lines.append(f"inside all limits: {100 * test.good:.1f} %{apart}")
    if found.lots is not None:
        lines.append(
            f"from lot to lot: {100 * found.lots.worst:.1f} % inside all limits in the worst of "
            f"twenty lots, {100 * found.lots.median:.1f} % in the middle one, "
            f"{100 * found.lots.best:.1f} % in the best"
        )
    return lines + tests_lines(found.tests_beside)


def production_record(found: Produced) -> dict[str, Any]:
    """Return the same for scripts."""
    record: dict[str, Any] = {"scatter": [dataclasses.asdict(one) for one in found.sampled]}
    if found.tests:
        record["share_inside_limits"] = found.tests[0].good
        record |= _tests_record(found.tests, "tests")
    if found.beside is not None:
        record["scatter_by_derivatives"] = [
            dataclasses.asdict(one) for one in found.beside.scatters.values()
        ]
        record["derivatives_disagree"] = list(found.apart)
        if found.tests_beside:
            record["share_inside_limits_by_derivatives"] = found.tests_beside[0].good
            record["yields_disagree"] = found.yields_apart
            record |= _tests_record(found.tests_beside, "tests_by_derivatives")
        if found.lots is not None:
            record["share_inside_limits_of_lots"] = dataclasses.asdict(found.lots)
    return record


def _tests_record(tests: tuple[Passed, ...], name: str) -> dict[str, Any]:
    return {name: [dataclasses.asdict(t) for t in tests]} if len(tests) > 1 else {}
