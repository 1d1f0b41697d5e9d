"""Tests of ``geometries``."""
