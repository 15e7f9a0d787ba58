"""How sure a price is: its band, the chance that it pays her wage, and what to time first."""
