"""What to buy: one shopping list over all suppliers, and stock that only lies there."""
