"""A study in words: its kind, its key figures, its answer."""

from __future__ import annotations

from typing import Any

import numpy as np

from motor.base.quantity import Quantity
from motor.report.labels import named
from motor.report.page.design.result_grids import number
from motor.report.page.study.collect import MARGIN, OBJECTIVE, Studied
from motor.report.page.study.columns import objective_words, parameter_words, spread_of
from motor.report.page.study.grids import listed, percent
from motor.report.page.study.shortlist import ALIKE, goals_of
from motor.report.page.study.spread import scatters_of
from motor.report.tables.design import Row
from motor.report.tables.production import cause_words, tests_lines, yield_lines
from motor.results.quantities import motor_quantities
from motor.results.usable_stroke import LIMIT_NAMES
from motor.study.produced import Produced
from motor.study.target import price_caution
from motor.study.tolerance import share_inside

__all__ = [
    "answer_lines",
    "beside_lines",
    "key_figures",
    "kind_of",
    "spread_words",
]


def kind_of(study: Studied) -> str:
    """Return the kind of study in words."""
    if study.asked.problem is not None:
        return "target search"
    return "tolerances" if study.asked.production else "sweep"


def key_figures(study: Studied) -> list[Row]:
    """Return the figures of the page's head."""
    total, errors = len(study.table), study.table.column("error")
    noun = "motors drawn" if study.asked.production else "designs"
    failed = sum(1 for e in errors if e)
    lost = f"{failed} without a result" if failed else "all with a result"
    found = [Row(noun, str(total), "", "", lost)]
    if study.answer is not None:
        best = study.answer.best
        reached = "met" if study.answer.feasible else "not met"
        found.append(Row("target", reached, "", "", f"least margin {percent(best.worst)}"))
    if study.asked.production:
        if study.asked.limits:
            share = f"{100 * share_inside(study.table, study.asked.limits):.1f}"
            found.append(Row("inside all limits", share, "", "%", "failed ones count as outside"))
        for key, scatter in list(scatters_of(study).items())[:4]:
            what, unit = named(key)
            band = f"95 % between {number(scatter.low)} and {number(scatter.high)}"
            found.append(Row(f"mean {what}", number(scatter.mean), "", unit, band))
        return found
    if study.answer is not None:
        results, met = study.answer.best.results or {}, study.answer.feasible
        where = "the answer" if met else "the nearest"
        what, unit = objective_words(study)
        value = number(study.answer.best.objective)
        found.append(Row(what, value, "", unit, "minimised" if met else where))
        for quantity in motor_quantities():
            if quantity.best and quantity.better == "more":
                what, unit = named(quantity.key)
                found.append(Row(what, number(results.get(quantity.key)), "", unit, where))
        return found
    for goal, best_number in goals_of(study):
        what, unit = named(goal.key)
        value = study.table.column(goal.key)[best_number]
        found.append(Row(goal.best, number(value), "", unit, f"design {best_number}"))
    return found


def answer_lines(study: Studied) -> list[str]:
    """Return the answer of a study in sentences."""
    lines = _lines(study)
    for side in ("cold", "hot"):
        key = f"demag_margin_{side}_kA_per_m"
        if key in study.table.columns:
            past = int((study.table.array(key) < 0).sum())
            if past:
                noun = "motors" if study.asked.production else "designs"
                lines.append(
                    f"Past the magnet's knee at the {side}est temperature: {past} of "
                    f"{len(study.table)} {noun}. They lose remanence for good there."
                )
    return lines


def _lines(study: Studied) -> list[str]:
    if study.answer is not None:
        return _target_lines(study)
    if study.asked.production:
        return _spread_lines(study)
    found = [_goal_line(study, goal, best) for goal, best in goals_of(study)]
    front = study.front
    if len(front) > 1:
        found.append(
            f"No other design beats these {len(front)} in usable stroke and Bl²/Re at once: "
            f"numbers {listed(front)}."
        )
    if not found:
        found = ["No result differs between the designs."]
    return found


def _place(study: Studied, best: int) -> str:
    parts = []
    for parameter in study.parameters:
        what, unit = named(parameter.column)
        value = study.table.column(parameter.column)[best]
        value = value if isinstance(value, str) else f"{value:.4g}"
        parts.append(f"{what} {value} {unit}".rstrip())
    return ", ".join(parts)


def _goal_line(study: Studied, goal: Quantity[Any], best: int) -> str:
    """Return who is best in one respect, and by which margin."""
    values, (_, unit) = study.table.array(goal.key), named(goal.key)
    unit = f" {unit}" if unit else ""
    text = f"{goal.best[:1].upper()}{goal.best[1:]}: {number(values[best])}{unit}, design {best}"
    text += f" ({_place(study, best)})"
    base = None if study.base is None else study.base.get(goal.key)
    if base is not None:
        way = values[best] - base
        text += (
            f"; {number(abs(way), 3)}{unit} {'more' if way >= 0 else 'less'} than the base design"
        )
    if study.table.column("usable_stroke_limited_by")[best] and goal.key == "usable_stroke_mm":
        limit = study.table.column("usable_stroke_limited_by")[best]
        text += f", limited by {LIMIT_NAMES[limit]}"
    others = np.delete(values, best)
    if np.isfinite(others).any():
        second = np.nanmax(others) if goal.better == "more" else np.nanmin(others)
        lead = abs(values[best] - second)
        apart = lead > ALIKE * abs(values[best])
        behind = f"the next design is {number(lead, 3)}{unit} behind"
        text += f"; {behind if apart else 'tied with others'}"
        spread = spread_of(goal.key, study.table.columns)
        if spread:
            known = study.table.array(spread)[best]
            if np.isfinite(known) and apart and lead < known:
                text += f", which is within the numerical uncertainty of ± {number(known, 2)}{unit}"
    return text + "."


def _target_lines(study: Studied) -> list[str]:
    assert study.answer is not None
    answer = study.answer
    best = answer.tried.index(answer.best)
    first = (
        "The target can be met."
        if answer.feasible
        else "No motor within the free ranges meets the target; the nearest one misses as little "
        "as possible."
    )
    lines = [f"{first} Design {best} of {answer.trials} looked at: {_place(study, best)}."]
    what, unit = objective_words(study)
    text = f"{what} {number(answer.best.objective)} {unit}".rstrip()
    text = f"Minimised: {text}" if answer.feasible else f"{text[:1].upper()}{text[1:]}"
    if study.base is not None:
        worst = study.base[MARGIN]
        text += f"; the base design has {number(study.base[OBJECTIVE])} {unit}".rstrip()
        text += " and meets the target" if worst >= 0 else f" and misses by {-worst:.1f} %"
    binds = "; ".join(answer.binding) or "nothing"
    assert study.asked.problem is not None
    caution = price_caution(study.asked.problem.target, study.asked.design)
    warned = [f"{caution[:1].upper()}{caution[1:]}."] if caution else []
    return [*lines, f"{text}.", f"What holds it there: {binds}.", *warned]


def _spread_lines(study: Studied) -> list[str]:
    lines, limits = [], study.asked.limits
    if limits:
        share = 100 * share_inside(study.table, limits)
        lines.append(f"{share:.1f} % of {len(study.table)} drawn motors are inside all limits.")
    found = scatters_of(study)
    if not found:
        lines.append("Too few motors have results to tell causes apart; draw more.")
    for key in [k for k in found if k in limits] or list(found)[:3]:
        scatter, (what, unit) = found[key], named(key)
        unit = f" {unit}" if unit else ""
        if scatter.deviation == 0:
            lines.append(f"{what}: {number(scatter.mean)}{unit}, does not vary.")
            continue
        ranked = sorted(scatter.shares.items(), key=lambda item: -item[1])[:3]
        causes = ", ".join(
            f"{cause_words(name, parameter_words(study))} {100 * part:.0f}\N{NO-BREAK SPACE}%"
            for name, part in ranked
            if part >= 0.005
        )
        lines.append(
            f"{what[:1].upper()}{what[1:]}: 95 % of the motors between {number(scatter.low)} and "
            f"{number(scatter.high)}{unit}; its variance comes mostly from {causes}."
        )
    return lines


def beside_lines(found: Produced | None) -> list[str]:
    """Return tests, and what derivatives say of yield, lots and spread beside the motors drawn."""
    if found is None:
        return []
    lines = [f"{line[:1].upper()}{line[1:]}." for line in tests_lines(found.tests)]
    if found.beside is None:
        return [*lines, f"By derivatives: not possible, {found.refusal}."]
    lines += [f"By derivatives, from one solve: {line}." for line in yield_lines(found)]
    apart = [f"{named(key)[0]} ({words})" for key, words in found.apart.items()]
    return lines + (
        [f"Motors drawn and derivatives disagree in {'; '.join(apart)}."]
        if apart
        else ["Motors drawn and derivatives agree in every spread and its causes."]
    )


def spread_words(study: Studied) -> str:
    """Return what the distributions are of, and the share inside all limits."""
    if not study.asked.production:
        return ""
    text = f"{len(study.table)} motors drawn within the tolerances above."
    if study.asked.limits:
        share = 100 * share_inside(study.table, study.asked.limits)
        text += f" {share:.1f} % are inside all limits; motors without a result count as outside."
    return text
