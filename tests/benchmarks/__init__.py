"""Timings as ratios in one run; ``python -m tests.benchmarks``.  Nothing here is a test."""
