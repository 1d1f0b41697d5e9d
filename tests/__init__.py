"""Tests of the magnet motor study."""
