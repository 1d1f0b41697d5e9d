"""Plain arithmetic over named numbers, read as a syntax tree and never run as code."""

from __future__ import annotations

import ast
import functools
import math
import operator
from collections.abc import Callable, Mapping

from geometries.errors import InvalidInput

__all__ = ["FUNCTIONS", "Formula", "evaluate"]

Formula = str | float
"""A number, or arithmetic as text such as "pole_diameter / 2 + 0.5"."""

LONGEST = 200
DEEPEST = 30
"""Limits of one formula: characters, and operations inside operations."""


def _degrees(function: Callable[[float], float]) -> Callable[[float], float]:
    return lambda angle: function(math.radians(angle))


FUNCTIONS: dict[str, Callable[..., float]] = {
    "sqrt": math.sqrt,
    "abs": abs,
    "min": min,
    "max": max,
    "sin": _degrees(math.sin),
    "cos": _degrees(math.cos),
    "tan": _degrees(math.tan),
}
"""What a formula may call; angles are degrees."""
_BINARY: dict[type[ast.operator], Callable[[float, float], float]] = {
    ast.Add: operator.add,
    ast.Sub: operator.sub,
    ast.Mult: operator.mul,
    ast.Div: operator.truediv,
    ast.Pow: operator.pow,
}
_SIGNS: dict[type[ast.unaryop], Callable[[float], float]] = {
    ast.UAdd: operator.pos,
    ast.USub: operator.neg,
}


def evaluate(formula: Formula, names: Mapping[str, float], field: str) -> float:
    """Return a formula's value.

    Parameters
    ----------
    formula : str or float
        A number, or arithmetic with ``+ - * / **``, brackets, names and :data:`FUNCTIONS`.
    names : mapping of name to float
    field : str
        Where the formula stands, for the error message.

    Raises
    ------
    InvalidInput
        If it is no such arithmetic, uses an unknown name, or has no finite value.
    """
    if not isinstance(formula, str):
        value: object = formula
    elif formula in names:
        return names[formula]
    else:
        where = f"formula {formula[:LONGEST]!r} of {field}"
        tree = _parsed(formula)
        if isinstance(tree, str):
            raise InvalidInput(where, "be plain arithmetic", tree)
        try:
            value = _value(tree, names, where)
        except ZeroDivisionError:
            raise InvalidInput(where, "not divide by zero", "a division by zero") from None
        except (OverflowError, ValueError, TypeError) as cause:
            raise InvalidInput(where, "have a value", str(cause)) from None
    if isinstance(value, complex) or not math.isfinite(value):  # type: ignore[arg-type]
        raise InvalidInput(f"formula {formula!r} of {field}", "have a finite value", value)
    return float(value)  # type: ignore[arg-type]


@functools.lru_cache(maxsize=20_000)
def _parsed(text: str) -> ast.expr | str:
    """Return the tree of a formula, or what is wrong with it."""
    if len(text) > LONGEST:
        return f"{len(text)} characters, more than {LONGEST}"
    try:
        tree = ast.parse(text.strip(), mode="eval").body
    except (SyntaxError, ValueError, MemoryError, RecursionError) as cause:
        return str(getattr(cause, "msg", None) or cause or "brackets too deep")
    if len(text) < DEEPEST - 1:  # each level takes a character
        return tree
    waiting: list[tuple[ast.AST, int]] = [(tree, 1)]
    while waiting:
        node, depth = waiting.pop()
        if depth > DEEPEST:
            return f"operations nested more than {DEEPEST} deep"
        waiting += [(child, depth + 1) for child in ast.iter_child_nodes(node)]
    return tree


def _value(node: ast.expr, names: Mapping[str, float], where: str) -> float:
    if isinstance(node, ast.Constant) and type(node.value) in (int, float):
        return float(node.value)  # type: ignore[arg-type]
    if isinstance(node, ast.Name):
        if node.id not in names:
            near = ", ".join([*names][:20]) or "none"
            raise InvalidInput(where, f"use only names defined above it ({near})", repr(node.id))
        return names[node.id]
    if isinstance(node, ast.BinOp) and type(node.op) in _BINARY:
        left, right = _value(node.left, names, where), _value(node.right, names, where)
        return _BINARY[type(node.op)](left, right)
    if isinstance(node, ast.UnaryOp) and type(node.op) in _SIGNS:
        return _SIGNS[type(node.op)](_value(node.operand, names, where))
    if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and not node.keywords:
        if node.func.id in FUNCTIONS:
            return FUNCTIONS[node.func.id](*(_value(a, names, where) for a in node.args))
        known = ", ".join(FUNCTIONS)
        raise InvalidInput(where, f"call only {known}", repr(node.func.id))
    raise InvalidInput(where, "be plain arithmetic", f"{type(node).__name__.lower()} in it")
