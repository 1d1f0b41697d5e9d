"""Which program wrote a file."""

from __future__ import annotations

from importlib import metadata

__all__ = ["NAME", "origin", "stamp", "version"]

NAME = "magnet-motor-study"


def version() -> str:
    """Return the version of the installed program."""
    return metadata.version(NAME)


def stamp() -> str:
    """Return name and version in one line."""
    return f"{NAME} {version()}"


def origin() -> dict[str, str]:
    """Return the two keys that open every JSON file."""
    return {"program": NAME, "version": version()}
