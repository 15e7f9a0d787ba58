"""What it costs to make a quantity: materials, minutes, wage, wear and overhead."""
