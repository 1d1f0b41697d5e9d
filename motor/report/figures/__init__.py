"""Figures: records as pictures."""
