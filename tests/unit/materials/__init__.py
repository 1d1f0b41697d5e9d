"""Tests of ``motor/materials``."""
