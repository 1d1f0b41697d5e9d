"""Tests of the driver."""
