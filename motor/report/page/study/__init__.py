"""The page of a study: many designs, their maps, their Pareto front, a few of them in full."""
