"""Minutes timed at the bench, and what they say about the steps of a design."""
