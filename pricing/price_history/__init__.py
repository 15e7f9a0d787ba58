"""How one price became another, step by step."""
