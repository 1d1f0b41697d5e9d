"""Studies: plans, store, runs, searches, tolerances."""
