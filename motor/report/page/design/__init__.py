"""The page of one design."""
