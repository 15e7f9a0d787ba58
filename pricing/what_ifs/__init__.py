"""What would happen to a price: other minutes, wages, materials, margins, quantities."""
