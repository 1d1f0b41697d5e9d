"""The solved field: partition of the half plane, mesh, weak form, Newton, evaluation."""
