"""Where the month's money went."""
