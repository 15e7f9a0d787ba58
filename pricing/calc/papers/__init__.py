"""What customers read: labels on a sheet, and what a price is made of."""
