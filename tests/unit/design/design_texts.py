"""Design files to spoil: a starter's text, one line changed, and what it is told."""

from __future__ import annotations

import re

import pytest

from geometries import InvalidInput, UnknownKey, registered
from motor.design.reading import design_from_toml, design_to_toml
from motor.design.starters import starter

KINDS = sorted(registered())
OUTSIDE = design_to_toml(starter("outside-magnet"))


def edited(key: str, value: str, text: str = OUTSIDE) -> str:
    """Return a design file with the value of one key replaced; the key must be there."""
    changed, count = re.subn(rf"(?m)^{key} = .*$", f"{key} = {value}", text)
    assert count == 1, key
    return changed


def added(line: str, section: str, text: str = OUTSIDE) -> str:
    """Return a design file with a line added at the start of a section."""
    head = f"[{section}]\n"
    assert text.count(head) == 1
    return text.replace(head, f"{head}{line}\n")


def without(key: str, text: str = OUTSIDE) -> str:
    """Return a design file without the line of one key."""
    changed, count = re.subn(rf"(?m)^{key} = .*\n", "", text)
    assert count == 1, key
    return changed


def refusal(text: str) -> str:
    """Return the message with which a design file is refused; it has the usual form."""
    with pytest.raises(InvalidInput) as caught:
        design_from_toml(text)
    error = caught.value
    message = str(error)
    assert error.field in message
    if isinstance(error, UnknownKey):
        assert f"unknown key {error.field} ({error.must})" in message
    else:
        assert f"{error.field} must {error.must}; received {error.received}" in message
    return message
