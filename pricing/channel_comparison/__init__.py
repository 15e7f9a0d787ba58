"""One design over several channels, and what is left in each."""
