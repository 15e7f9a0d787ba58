"""What went into supplies by month and year, against a budget."""
