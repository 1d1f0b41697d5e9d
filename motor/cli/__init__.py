"""The command line.  Heavy libraries are imported inside the commands."""

from motor.cli.root import main

__all__ = ["main"]
