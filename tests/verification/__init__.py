"""Computed numbers beside the same numbers from independent sources."""
