"""The distributions of a tolerance study and what causes them."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from typing import Any

import numpy as np

from motor.base.errors import InvalidInput
from motor.report.page.study.collect import Studied
from motor.report.page.study.columns import offered, parameter_words
from motor.report.tables.production import cause_words
from motor.study.produced import Produced, produced
from motor.study.tolerance import Scatter, read_scatter, share_inside

__all__ = ["produced_of", "scatters_of", "spread_data"]

PERCENTILES = (1, 2.5, 5, 25, 50, 75, 95, 97.5, 99)


def scatters_of(study: Studied) -> dict[str, Scatter]:
    """Return every result that varies with its spread; none if too few motors were solved."""
    if study.asked.production is None:
        return {}
    limits: Mapping[str, Any] = study.asked.limits
    order = dict.fromkeys(
        [*limits, "bl_at_rest_Tm", "usable_stroke_mm", "resonance_Hz", *offered()]
    )
    found = {}
    for key in order:
        if key not in study.table.columns or not np.isfinite(study.table.array(key)).any():
            continue
        try:
            scatter = read_scatter(study.table, study.asked.production, key)
        except InvalidInput:
            continue
        if scatter.deviation > 0 or key in limits:
            found[key] = scatter
    return found


def produced_of(study: Studied) -> Produced | None:
    """Return what a tolerance study says, by derivatives too; None without tolerances."""
    if study.asked.production is None:
        return None
    return produced(study.asked, study.table, list(scatters_of(study).values()))


def spread_data(study: Studied, found: Produced | None) -> dict[str, Any] | None:
    """Return counts, percentiles, limits and causes by result; None without tolerances."""
    if study.asked.production is None or found is None:
        return None
    limits, stations = study.asked.limits, study.asked.stations
    linear = found.beside.scatters if found.beside is not None else {}
    figures = {}
    for scatter in found.sampled:
        key, beside = scatter.name, linear.get(scatter.name)
        values = study.table.array(key)
        good = values[np.isfinite(values)]
        counts, edges = np.histogram(good, bins=max(8, round(1.5 * len(good) ** 0.5)))
        low, high = limits.get(key, (None, None))
        figures[key] = {
            **dataclasses.asdict(scatter),
            "shares": sorted(scatter.shares.items(), key=lambda item: -item[1]),
            "counts": counts.tolist(),
            "edges": edges.tolist(),
            "percentiles": [[p, float(np.percentile(good, p))] for p in PERCENTILES],
            "limits": [low, high],
            "tested": stations[key].limits(low, high) if key in stations else None,
            "inside": share_inside(study.table, {key: (low, high)}) if key in limits else None,
            "beside": None if beside is None else dataclasses.asdict(beside),
            "apart": found.apart.get(key, ""),
        }
    words = parameter_words(study)
    names = {cause: cause_words(cause, words) for cause in study.asked.production.causes}
    return {
        "figures": figures,
        "names": list(names.items()),
        "inside": share_inside(study.table, limits) if limits else None,
    }
