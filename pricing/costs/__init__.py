"""What a quantity of a design costs, line by line."""
