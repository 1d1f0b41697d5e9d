"""Tests of ``motor/base``."""
