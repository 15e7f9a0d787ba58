"""Review prices: what is off, why, and what was decided."""
