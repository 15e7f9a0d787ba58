"""Review prices: what is off by now, why, and what was decided."""
