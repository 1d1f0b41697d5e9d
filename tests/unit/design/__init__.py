"""Tests of ``motor/design``."""
