"""Tests of ``studies``."""
