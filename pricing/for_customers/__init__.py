"""What a price is made of, told to a customer."""
