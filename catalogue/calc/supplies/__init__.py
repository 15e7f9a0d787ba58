"""What supplies cost, what stock is worth, and which packs to buy."""
