"""Plain sums about minutes, cost, price, fees and tax."""
