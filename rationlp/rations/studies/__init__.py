"""More that is asked of the same formulas: frontier, concentrates, farm totals, review."""
