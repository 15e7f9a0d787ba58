"""What an item is made of and how, as plain values, and what a quantity of it takes."""
