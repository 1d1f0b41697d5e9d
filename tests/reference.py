"""The reference of all modules as HTML: ``python -m tests.reference [FOLDER]``, out/reference.

A warning, such as an annotation or a public name that does not resolve, is an error.
"""

from __future__ import annotations

import importlib
import pkgutil
import sys
import warnings
from pathlib import Path

import geometries
import motor

__all__ = ["modules", "write_reference"]

PACKAGES = (geometries, motor)
LEFT_OUT = "__main__"


def modules() -> list[str]:
    """Return the names of all modules of the two lower floors."""
    found = []
    for package in PACKAGES:
        found.append(package.__name__)
        inside = pkgutil.walk_packages(package.__path__, f"{package.__name__}.")
        found += [m.name for m in inside if not m.name.endswith(LEFT_OUT)]
    return found


def write_reference(folder: Path) -> int:
    """Write the pages and return how many modules they describe."""
    import pdoc
    import pdoc.extract
    import pdoc.render

    names = modules()
    for name in names:
        module = importlib.import_module(name)
        for public in getattr(module, "__all__", ()):  # some are imported when first used only
            setattr(module, public, getattr(module, public))
    pdoc.render.configure(docformat="numpy", search=True)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        asked: list[str] = []
        covered: set[str] = set()
        for name in names:  # a package without __all__ covers its modules
            if name not in covered:
                asked.append(name)
                covered |= set(pdoc.extract.walk_specs([name]))
        pdoc.pdoc(*asked, output_directory=folder)
    return len(names)


if __name__ == "__main__":
    target = Path(sys.argv[1] if len(sys.argv) > 1 else "out/reference")
    print(f"{write_reference(target)} modules: {target / 'index.html'}")
