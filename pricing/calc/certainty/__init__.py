"""How sure a cost and a price are: low, likely and high, and the spares."""
