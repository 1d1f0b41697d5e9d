"""Run the command line with ``python -m motor``."""

from motor.cli import main

main(prog_name="motor")
