"""Tests of ``motor/results``."""
