"""Magnet systems of loudspeakers: from drawing dimensions to Bl(x) and usable linear stroke.

::

    import motor

    design = motor.read_design("studies/designs/door_woofer_ferrite.toml")
    result = motor.solve(design)
    print(result.report())
    result.bl_curve.plot()
"""

from __future__ import annotations

from typing import Any

import lazy_loader

_named, _, __all__ = lazy_loader.attach_stub(__name__, __file__)


def __getattr__(name: str) -> Any:
    if name == "__version__":
        from motor.base.program import version  # here for start-up time

        return version()
    return _named(name)


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__, "__version__"})
