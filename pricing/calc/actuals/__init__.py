"""What an order really took beside what was planned."""
