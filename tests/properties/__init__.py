"""Tests on random input."""
