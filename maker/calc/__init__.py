"""Plain sums about money, units and refusals."""
