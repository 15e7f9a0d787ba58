"""A year of supplies: what came in, what it cost, what is left, what to order."""
