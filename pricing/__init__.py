"""What it costs and what she asks."""
