"""What a customer asks before there is a quote: quantities, contents, budget, who gets it."""
