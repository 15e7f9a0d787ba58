"""How sure a price is: its range, the chance that it pays her wage, and what to time first."""
