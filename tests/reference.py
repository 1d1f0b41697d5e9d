"""The reference of all modules as HTML: ``python -m tests.reference [FOLDER]``, out/reference.

A warning, such as an annotation or a public name that does not resolve, is an error.
"""

from __future__ import annotations

import importlib
import pkgutil
import sys
import warnings
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import pdoc
import pdoc.doc
import pdoc.render

import geometries
import motor

__all__ = ["described", "modules", "write_reference"]

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


def described(names: Iterable[str]) -> dict[str, pdoc.doc.Module]:
    """Return what the reference says of each module; a doubtful annotation or name is an error."""
    found = {}
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        for name in names:
            module = importlib.import_module(name)
            for public in getattr(module, "__all__", ()):  # some are imported when first used only
                setattr(module, public, getattr(module, public))
            found[name] = pdoc.doc.Module(module)
            resolve(found[name])
    return found


def resolve(space: pdoc.doc.Namespace[Any]) -> None:
    """Look up every annotation of the members of a module or class, as their page does."""
    for member in space.members.values():
        if isinstance(member, pdoc.doc.Class):
            resolve(member)
        elif isinstance(member, pdoc.doc.Function):
            _ = member.signature
        elif isinstance(member, pdoc.doc.Variable):
            _ = member.annotation_str


def write_reference(folder: Path) -> int:
    """Write a page of each module and an index, and return how many modules they describe."""
    pages = described(modules())
    pdoc.render.configure(docformat="numpy", search=True)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        for name, module in pages.items():
            path = folder / f"{name.replace('.', '/')}.html"
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(pdoc.render.html_module(module, pages), encoding="utf-8")
        (folder / "index.html").write_text(pdoc.render.html_index(pages), encoding="utf-8")
        (folder / "search.js").write_text(pdoc.render.search_index(pages), encoding="utf-8")
    return len(pages)


if __name__ == "__main__":
    target = Path(sys.argv[1] if len(sys.argv) > 1 else "out/reference")
    print(f"{write_reference(target)} modules: {target / 'index.html'}")
