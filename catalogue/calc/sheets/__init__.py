"""Sheets of card: how many a quantity takes, and which of them takes a blank."""
