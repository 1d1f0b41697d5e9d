"""Tests of ``motor/field``."""
