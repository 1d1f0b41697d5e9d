"""What a page of a study holds, read as its scripts read it."""

from __future__ import annotations

import base64
import json
import math
import re
from pathlib import Path
from typing import Any

import numpy as np


def values_of(column: dict[str, Any], count: int) -> list[Any]:
    """Return a column as the page's script reads it, the base design's value last."""
    if "same" in column:
        return [column["same"]] * (count + 1)
    raw = base64.b64decode(column["numbers"] if "numbers" in column else column["index"])
    if "numbers" in column:
        return [None if math.isnan(v) else v for v in np.frombuffer(raw, "<f8").tolist()]
    return [None if k < 0 else column["words"][k] for k in np.frombuffer(raw, "<i2").tolist()]


def column_of(data: Any, key: str) -> dict[str, Any]:
    found: dict[str, Any] = next(c for c in data["columns"] if c["key"] == key)
    return found


def held_in_page(path: Path) -> Any:
    """Return the data that a page's scripts read."""
    found = re.search(r'id="study-data">(.*?)</script>', path.read_text(encoding="utf-8"))
    assert found is not None
    return json.loads(found[1])
