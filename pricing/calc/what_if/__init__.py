"""What would happen with other minutes, wages, materials or margins, and what to change first."""
