"""What she buys and what she makes."""
